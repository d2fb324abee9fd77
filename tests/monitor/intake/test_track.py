from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.intake.plausible import MOST_REMARKS, Remarks
from monitor.intake.track import Points, RecordedPoints, in_steps, moving_seconds, steps_m, with_ground
from rules.facts import SAMPLE_COLUMNS

NOON = 1791115200.0


def track_of(*points: tuple[float, dict[str, float]]) -> RecordedPoints:
    track = RecordedPoints()
    for seconds, values in points:
        track.add(NOON + seconds, values)
    return track


def test_points_of_one_moment_fill_each_other_in() -> None:
    points = Points(
        track_of(
            (0, {"hr_bpm": 100}), (1, {"hr_bpm": 101}), (1, {"hr_bpm": 150, "power_w": 200}), (2, {"power_w": 210})
        ),
        Remarks(),
    )
    assert (points.seconds - NOON).tolist() == [0, 1, 2]
    np.testing.assert_array_equal(points.samples["hr_bpm"], [100, 101, np.nan])
    np.testing.assert_array_equal(points.samples["power_w"], [np.nan, 200, 210])


def test_columns_that_say_nothing_are_left_out() -> None:
    points = Points(track_of((0, {"hr_bpm": 100, "lat_deg": 0, "lon_deg": 0}), (1, {"hr_bpm": 999})), Remarks())
    assert set(points.samples) == {"t_s", "hr_bpm"}


def test_half_a_position_is_none() -> None:
    points = Points(track_of((0, {"lat_deg": 60.0}), (1, {"lat_deg": 60.0})), Remarks())
    assert set(points.samples) == {"t_s"}


def test_speed_over_an_uneven_clock_is_weighted_by_time() -> None:
    metres = 1 / 111_412.3
    points = Points(
        track_of(*((at, {"lat_deg": 60 + at * 3 * metres, "lon_deg": 10.0}) for at in (0, 1, 4, 5, 11, 12))), Remarks()
    )
    samples = with_ground(points, NOON, Remarks())
    np.testing.assert_allclose(samples["speed_mps"][1:], 3.0, rtol=1e-3)
    np.testing.assert_allclose(samples["distance_m"], np.array([0, 3, 12, 15, 33, 36]), rtol=1e-3)


def test_a_point_without_a_position_has_no_speed_and_loses_no_distance() -> None:
    metres = 1 / 111_412.3
    values = [{"lat_deg": 60 + at * 3 * metres, "lon_deg": 10.0} for at in range(10)]
    values[4] = {}
    samples = with_ground(Points(track_of(*enumerate(values)), Remarks()), NOON, Remarks())
    assert np.isnan(samples["speed_mps"][4])
    assert samples["speed_mps"][5] == pytest.approx(3.0, rel=1e-3)
    assert samples["distance_m"][-1] == pytest.approx(27.0, rel=1e-3)


def test_a_leap_no_sensor_can_make_is_no_speed() -> None:
    values = [{"lat_deg": 60.0 + 0.01 * (at == 5), "lon_deg": 10.0 + at * 1e-4} for at in range(10)]
    samples = with_ground(Points(track_of(*enumerate(values)), Remarks()), NOON, Remarks())
    assert np.isnan(samples["speed_mps"][5:7]).all()
    assert np.isfinite(samples["speed_mps"][7:]).all()


@pytest.mark.parametrize(
    ("sport", "speed", "cadence", "steps"),
    [
        ("running", 3.0, 84, 168),
        ("running", 3.0, 168, 168),
        ("running", 5.9, 98, 196),
        ("walking", 1.4, 56, 112),
        ("walking", 1.4, 112, 112),
        ("walking", 1.0, 88, 88),
        ("hiking", 0.9, 45, 90),
        ("generic", 3.0, 84, 168),
        ("generic", 1.4, 58, 116),
        ("generic", 8.0, 85, 85),
        ("cycling", 3.0, 60, 60),
        ("swimming", 1.0, 30, 30),
        ("running", None, 84, 168),
        ("running", None, 160, 160),
    ],
)
def test_cadence_of_one_leg_becomes_steps(sport: str, speed: float | None, cadence: float, steps: float) -> None:
    samples = {"t_s": np.arange(60.0), "cadence_spm": np.full(60, float(cadence))}
    if speed is not None:
        samples["speed_mps"] = np.full(60, speed)
    assert in_steps(samples, sport, Remarks())["cadence_spm"][0] == steps


def test_short_stands_are_part_of_moving() -> None:
    distance = np.concatenate((np.arange(0, 300, 3.0), np.full(20, 297.0), np.arange(300, 600, 3.0)))
    samples = {"t_s": np.arange(float(len(distance))), "distance_m": distance}
    assert moving_seconds(samples, 219.0) == 219.0


def test_a_room_where_positions_only_drift_counts_in_full() -> None:
    drift = np.cumsum(np.full(3600, 0.05))
    assert moving_seconds({"t_s": np.arange(3600.0), "distance_m": drift}, 3599.0) == 3599.0


def outing(rest_s: int, drift_m: float) -> float:
    """Seconds of moving in twenty minutes of a walk eastward that is broken by a rest, in which positions wander."""
    metres = np.full(1200 + rest_s, 1.4)
    metres[600 : 600 + rest_s] = 0.0
    east = np.cumsum(metres)
    turn = 2 * np.pi * np.arange(rest_s) / 20
    north = np.zeros(len(east))
    north[600 : 600 + rest_s] = drift_m * np.sin(turn)
    east[600 : 600 + rest_s] += drift_m * (np.cos(turn) - 1)
    lat, lon = 60 + north / 111_195, 10 + east / 111_195 / np.cos(np.radians(60))
    distance = np.concatenate(([0.0], np.cumsum(steps_m(lat, lon))))
    samples = {"t_s": np.arange(float(len(east))), "lat_deg": lat, "lon_deg": lon, "distance_m": distance}
    return moving_seconds(samples, float(len(east)))


@pytest.mark.parametrize(("rest_s", "moving_s"), [(145, 1345), (150, 1185), (900, 1185)])
def test_positions_that_wander_about_one_place_for_three_minutes_are_a_rest(rest_s: int, moving_s: float) -> None:
    """With the last and the first metres of the way, which are as near; of those a quarter of the box counts."""
    assert outing(rest_s, 8.0) == moving_s


def test_across_the_date_line_is_a_short_way() -> None:
    assert steps_m(np.array([0.0, 0.0]), np.array([179.9999, -179.9999]))[0] == pytest.approx(22.26, abs=0.01)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(allow_nan=True, allow_infinity=True),
            st.fixed_dictionaries({}, optional={name: st.floats() for name in SAMPLE_COLUMNS[1:]}),
        ),
        max_size=25,
    )
)
def test_any_points_give_a_clock_that_never_falls_and_nothing_impossible(
    raw: list[tuple[float, dict[str, float]]],
) -> None:
    track = RecordedPoints()
    for at, (offset, values) in enumerate(raw):
        track.add(NOON + (offset if abs(offset) < 1e5 else at), values)
    points = Points(track, Remarks())
    if len(points) < 2:
        return
    samples = with_ground(points, float(points.seconds[0]), Remarks())
    assert (np.diff(samples["t_s"]) >= 0).all()
    assert len({len(column) for column in samples.values()}) == 1
    assert not any(np.isinf(column).any() for column in samples.values())
    if "distance_m" in samples:
        known = samples["distance_m"][np.isfinite(samples["distance_m"])]
        assert (np.diff(known) >= 0).all()


def test_remarks_are_told_once_and_counted_when_there_are_too_many() -> None:
    remarks = Remarks()
    for number in range(MOST_REMARKS + 7):
        remarks.add(f"line {number}")
        remarks.add("line 0")
    assert len(remarks.all()) == MOST_REMARKS + 1
    assert remarks.all()[-1] == "and 7 more like these"
