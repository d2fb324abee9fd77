"""Points, cadence, stops and beats as a file is read: each step just below, at and just above its limit."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from monitor.intake import beats, plausible, track
from monitor.intake import track as tracks
from monitor.intake.plausible import Remarks
from monitor.intake.track import METRES_A_DEGREE, Floats, Points, RecordedPoints, with_ground
from monitor.values import FileFacts, Samples
from rules.facts import Morning

NAN = float("nan")
BEGAN = 1_790_000_000.0


def points(seconds: Floats, pieces: Floats | None = None, **columns: Floats) -> Points:
    recorded = RecordedPoints()
    for number, second in enumerate(seconds.tolist()):
        if pieces is not None and number and pieces[number] != pieces[number - 1]:
            recorded.begin_piece()
        recorded.add(BEGAN + second, {name: float(column[number]) for name, column in columns.items()})
    return Points(recorded, Remarks())


def north(metres: Floats) -> dict[str, Floats]:
    return {"lat_deg": metres / METRES_A_DEGREE, "lon_deg": np.full(len(metres), 10.0)}


def grounded(found: Points) -> Samples:
    return with_ground(found, BEGAN, Remarks())


# Cadence of one leg.


@pytest.mark.parametrize(
    ("sport", "speed", "median", "one_leg"),
    [
        ("running", None, 109.9, True),
        ("running", None, 110, False),
        ("walking", None, 77.9, True),
        ("walking", None, 78, False),
        ("running", 2.0, 109.9, True),
        ("running", 1.99, 109.9, False),
        ("running", 1.99, 77.9, True),
        ("running", 0.4, 109.9, True),  # who stands has no pace
        ("generic", 5.5, 90, True),
        ("generic", 5.51, 90, False),
        ("running", 5.51, 90, True),
    ],
)
def test_one_leg_makes_fewer_steps_than_anyone_at_its_pace(
    sport: str, speed: float | None, median: float, *, one_leg: bool
) -> None:
    samples = {"t_s": np.arange(5.0), "cadence_spm": np.array([0.0, median, median, 0.0, median])}
    if speed is not None:
        samples["speed_mps"] = np.full(5, speed)
    assert track.counts_one_leg(samples, sport) == one_leg


def test_a_cadence_that_never_turned_is_of_no_leg() -> None:
    assert not track.counts_one_leg({"t_s": np.arange(3.0), "cadence_spm": np.zeros(3)}, "running")
    assert not track.counts_one_leg({"t_s": np.arange(3.0)}, "running")


# Moving time without a timer.


@pytest.mark.parametrize(("still", "moving"), [(29, 229), (30, 200), (31, 200)])
def test_half_a_minute_of_standing_is_a_stop(still: int, moving: float) -> None:
    distance = np.concatenate((3.0 * np.arange(101), np.full(still, 300.0)[: still - 1], 300 + 3.0 * np.arange(101)))
    samples = {"t_s": np.arange(float(len(distance))), "distance_m": distance}
    assert track.moving_seconds(samples, float(len(distance) - 1)) == pytest.approx(moving, abs=0.1)


@pytest.mark.parametrize(("speed", "moves"), [(0.39, False), (0.41, True)])
def test_four_decimetres_a_second_are_standing(speed: float, *, moves: bool) -> None:
    distance = np.concatenate((3.0 * np.arange(101), 300 + speed * np.arange(1, 61), 400 + 3.0 * np.arange(100)))
    samples = {"t_s": np.arange(float(len(distance))), "distance_m": distance}
    whole = float(len(distance) - 1)
    assert track.moving_seconds(samples, whole) == pytest.approx(whole if moves else whole - 60, abs=1.1)


@pytest.mark.parametrize(("moving", "left"), [(99, 1000.0), (100, 100.0)])
def test_less_than_a_tenth_of_moving_tells_nothing(moving: int, left: float) -> None:
    distance = np.concatenate((3.0 * np.arange(moving + 1), np.full(1000 - moving, 3.0 * moving)))
    assert track.moving_seconds({"t_s": np.arange(1001.0), "distance_m": distance}, 1000.0) == left
    assert track.moving_seconds({"t_s": np.arange(1001.0)}, 1000.0) == 1000


def drifting(seconds: int, box_m: float) -> int:
    """Seconds at rest of a way out, so long in a box of such a side, and a way back."""
    at = np.arange(seconds)
    metres = np.concatenate((3.0 * np.arange(-200, 0), box_m * (at // 5 % 2), 3.0 * np.arange(200)))
    samples = {"t_s": np.arange(float(len(metres)))} | north(metres)
    return int(track._at_one_place(samples).sum())


@pytest.mark.parametrize(("seconds", "rests"), [(150, False), (240, True)])
def test_three_minutes_at_one_place_are_rest(seconds: int, *, rests: bool) -> None:
    found = drifting(seconds, 12.0)
    assert (found > 0) == rests
    assert found == 0 or found == pytest.approx(seconds, abs=25)


@pytest.mark.parametrize(("box_m", "rests"), [(39.0, True), (41.0, False)])
def test_a_place_is_forty_metres_wide(box_m: float, *, rests: bool) -> None:
    assert (drifting(400, box_m) > 0) == rests


# Distance and speed.


def test_positions_give_the_way_between_them_over_its_time() -> None:
    found = grounded(points(np.arange(20.0), **north(3.0 * np.arange(20))))
    way = found["distance_m"]
    assert way[0] == 0
    assert way[-1] == pytest.approx(57, rel=0.006)  # the ellipsoid against the sphere
    assert np.isnan(found["speed_mps"][0])
    np.testing.assert_allclose(found["speed_mps"][1:], np.diff(way))
    assert found["t_s"].tolist() == list(range(20))


@pytest.mark.parametrize(("speed", "counts"), [(12.3, True), (12.8, False)])
def test_over_a_break_only_what_a_runner_could_have_done_counts(speed: float, *, counts: bool) -> None:
    metres = np.concatenate((3.0 * np.arange(10), 27 + speed * 100 + 3.0 * np.arange(10)))
    seconds = np.concatenate((np.arange(10.0), 109 + np.arange(10.0)))
    found = grounded(points(seconds, np.repeat([0.0, 1.0], 10), **north(metres)))
    assert found["distance_m"][-1] == pytest.approx(54 + (speed * 100 if counts else 0), rel=0.007)
    assert np.isnan(found["speed_mps"][10])


@pytest.mark.parametrize(("speed", "known"), [(59.0, True), (61.0, False)])
def test_a_speed_of_no_one_on_earth_is_not_known(speed: float, *, known: bool) -> None:
    found = grounded(points(np.arange(4.0), **north(speed * np.arange(4))))
    assert ("speed_mps" in found) == known


@pytest.mark.parametrize(
    ("counted", "fine"),
    [
        ([0.0, 1.5, 3.0, 4.5], True),
        ([0.0, 1.0, 3.0, 4.0], False),
        ([NAN, NAN, 1.5, 3.0], True),
        ([NAN, NAN, NAN, 3.5], False),
        ([1.5, 1.5, 1.5, 1.5], False),
    ],
)
def test_a_count_is_fine_that_is_there_for_half_moves_and_is_of_no_whole_metres(
    counted: list[float], *, fine: bool
) -> None:
    assert tracks._is_fine(np.array(counted)) == fine


def test_a_count_that_begins_again_goes_on() -> None:
    at, steps = tracks._counted_steps(np.array([0.0, 10.0, NAN, 15.0, 2.0, 6.0]))
    assert at.tolist() == [0, 1, 3, 4, 5]
    assert steps.tolist() == [10, 5, 0, 4]


@pytest.mark.parametrize(
    ("seconds", "side_m", "stayed"), [(179, 9.0, True), (179, 11.0, False), (181, 39.0, True), (181, 41.0, False)]
)
def test_ten_metres_or_over_minutes_forty_are_one_place(seconds: int, side_m: float, *, stayed: bool) -> None:
    at = np.arange(seconds + 1.0)
    found = points(at, **north(side_m * (at % 2)))
    assert tracks._stayed_put(found) == stayed
    east = {"lat_deg": np.full(len(at), 60.0), "lon_deg": 10 + side_m * 2 * (at % 2) / METRES_A_DEGREE}
    assert tracks._stayed_put(points(at, **east)) == stayed


def test_one_position_is_no_place_that_anybody_stayed_at() -> None:
    assert not tracks._stayed_put(points(np.arange(2.0), lat_deg=np.array([60.0, NAN]), lon_deg=np.array([10.0, NAN])))


def test_of_two_points_of_one_moment_the_first_stands_and_the_other_fills_in() -> None:
    seconds = np.array([0.0, 1.0, 1.0, 2.0])
    found = points(seconds, hr_bpm=np.array([100, NAN, 120, 130.0]), cadence_spm=np.array([80, 82, 84, NAN]))
    assert found.seconds.tolist() == [BEGAN, BEGAN + 1, BEGAN + 2]
    assert found.samples["hr_bpm"].tolist() == [100, 120, 130]
    np.testing.assert_equal(found.samples["cadence_spm"], [80, 82, NAN])


def test_a_position_of_naught_naught_is_no_fix() -> None:
    lat, lon = np.array([0.0, 0.0, 60.0, NAN]), np.array([0.0, 10.0, 0.0, 10.0])
    found = tracks._without_null_island({"t_s": np.arange(4.0), "lat_deg": lat, "lon_deg": lon})
    np.testing.assert_equal(found["lat_deg"], [NAN, 0.0, 60.0, NAN])
    np.testing.assert_equal(found["lon_deg"], [NAN, 10.0, 0.0, NAN])
    assert list(tracks._without_null_island({"t_s": np.zeros(1), "lat_deg": np.zeros(1), "lon_deg": np.zeros(1)})) == [
        "t_s"
    ]
    assert list(tracks._without_null_island({"t_s": np.zeros(1), "lat_deg": np.ones(1)})) == ["t_s"]


# What may be at all.


@pytest.mark.parametrize(("value", "is_one"), [(24.9, False), (25, True), (120, True), (120.1, False), (NAN, False)])
def test_both_bounds_are_allowed(value: float, *, is_one: bool) -> None:
    assert plausible.is_plausible((25, 120), value) == is_one


def test_a_clock_was_set_from_2000_to_2200() -> None:
    first, last = plausible.dated()
    assert abs((datetime.fromtimestamp(first, UTC).date() - date(2000, 1, 1)).days) <= 1
    assert last - first == pytest.approx(200 * 365.2425 * 86400)


@pytest.mark.parametrize(("ahead", "kept"), [(0, 1), (1, 1), (2, 0)])
def test_a_day_ahead_is_allowed(ahead: int, kept: int) -> None:
    today = date(2026, 10, 6)
    facts = FileFacts(kind="csv", mornings=(Morning(today + timedelta(days=ahead), 50.0),))
    found, later = plausible.without_days_ahead(facts, today)
    assert len(found.mornings) == kept
    assert later == (None if kept else today + timedelta(days=ahead))


@pytest.mark.parametrize(("year", "told"), [("0001", False), ("0002", True), ("9998", True), ("9999", False)])
def test_the_first_and_last_year_of_the_calendar_have_no_neighbours(year: str, *, told: bool) -> None:
    assert (plausible.parsed(f"{year}-06-01T12:00:00") is not None) == told


@pytest.mark.parametrize(("seconds", "microseconds"), [(1.0004, 0), (1.0006, 1000), (1.25, 250_000)])
def test_moments_of_a_recording_are_told_to_the_millisecond(seconds: float, microseconds: int) -> None:
    assert plausible.from_epoch(seconds) == datetime(1970, 1, 1, 0, 0, 1, microseconds, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "offset_s"),
    [("10:00:00+02:00", 7200), ("10:00:00-00:30", -1800), ("10:00:00Z", None), ("10:00:00+00:00", None),
     ("10:00:00", None)],
)  # fmt: skip
def test_the_clock_of_a_writer_is_known_where_it_was_not_utc(text: str, offset_s: int | None) -> None:
    told = plausible.epoch(f"2026-10-04T{text}")
    assert told is not None
    assert told[1] == offset_s
    assert plausible.stated_offset_s(datetime(2026, 10, 4)) is None  # noqa: DTZ001 - a clock that names no zone


# Beats.


def calm(count: int, level: float = 900.0) -> Floats:
    """Intervals that breathe by 20 ms to each side."""
    return level + 20 * np.sin(np.arange(count) * 2 * np.pi / 12)


@pytest.mark.parametrize(("count", "found"), [(29, False), (30, True)])
def test_thirty_beats_tell_what_is_usual(count: int, *, found: bool) -> None:
    intervals = calm(count)
    intervals[15] = 1900
    assert bool(beats.artefacts(intervals).any()) == found


@pytest.mark.parametrize(("share", "found"), [(1.59, False), (1.61, True)])
def test_an_interval_of_more_than_one_and_six_tenths_missed_a_beat(share: float, *, found: bool) -> None:
    intervals = np.full(60, 900.0)
    intervals[30] = share * 900
    assert beats._too_long_or_doubled(intervals, np.full(60, 900.0))[30] == found


@pytest.mark.parametrize(("share", "found"), [(1.29, True), (1.31, False)])
def test_two_intervals_that_make_hardly_more_than_one_are_one(share: float, *, found: bool) -> None:
    intervals = np.full(60, 900.0)
    intervals[30] = intervals[31] = share * 450
    marks = beats._too_long_or_doubled(intervals, np.full(60, 900.0))
    assert np.flatnonzero(marks).tolist() == ([30, 31] if found else [])


@pytest.mark.parametrize(("depth", "found"), [(10.0, []), (10.5, [30, 31])])
def test_a_notch_is_deeper_than_what_a_device_rounds(depth: float, found: list[int]) -> None:
    """Twice its depth is its second difference: 20 ms."""
    intervals = np.full(60, 900.0)
    intervals[30] -= depth
    assert np.flatnonzero(beats._notches(intervals, np.full(60, 900.0))).tolist() == found


def test_an_early_beat_takes_the_interval_before_it_along_where_that_is_off_too() -> None:
    for before, marks in ((35.0, [29, 30, 31]), (15.0, [30, 31])):
        intervals = np.full(60, 900.0)
        intervals[30] -= 60
        intervals[29] += before
        assert np.flatnonzero(beats._notches(intervals, np.full(60, 900.0))).tolist() == marks


@pytest.mark.parametrize(
    ("nn", "value"),
    [
        ([800.0, 810.0, 800.0], 10.0),
        ([800.0, 830.0], None),
        ([800.0, NAN, 810.0, 820.0], None),
        ([800.0, 830.0, 790.0], (2500 / 2) ** 0.5),
    ],
)
def test_rmssd_is_of_two_differences_at_least(nn: list[float], value: float | None) -> None:
    assert beats.rmssd(np.array(nn)) == (None if value is None else pytest.approx(value))


@pytest.mark.parametrize(("wrong", "told"), [(16, True), (18, False)])
def test_more_than_a_third_left_out_is_no_measure(wrong: int, *, told: bool) -> None:
    """Each lone wrong interval takes two differences along; of 99 a third are 33."""
    intervals = calm(100)
    intervals[2 : 2 + 5 * wrong : 5] = 2001 if wrong else 0
    assert (beats.rmssd_after_correction(intervals.tolist()) is not None) == told


@pytest.mark.parametrize(("interval", "counts"), [(299.0, False), (300.0, True), (2000.0, True), (2001.0, False)])
def test_a_beat_takes_three_tenths_of_a_second_to_two(interval: float, *, counts: bool) -> None:
    """Of too few to tell artefacts."""
    found = beats.rmssd_after_correction([interval] * 5)
    assert (found == 0.0) == counts


@pytest.mark.parametrize(
    ("lines", "is_one"),
    [
        (["800"], False),
        (["800", "810"], True),
        (["x", "800", "810"], True),
        (["x", "y", "800", "810"], False),
        (["2026-10-06", "# y", "800", "810"], True),
        (["RR", "a gap", *["800"] * 9], True),
        (["RR", "a gap", *["800"] * 8], False),
    ],
)
def test_intervals_are_a_number_a_line_but_for_one_and_a_tenth(lines: list[str], *, is_one: bool) -> None:
    assert beats.looks_like_rr("\n".join(lines)) == is_one
