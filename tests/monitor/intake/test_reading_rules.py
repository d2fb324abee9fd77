"""Small rules of reading, each through its own function: units, days, nights, points, shares, remarks."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import Unreadable
from monitor.intake import beats, fit, mhealth_json, nights_csv, plausible, sessions, tcx, track
from monitor.intake.plausible import Remarks, without_days_ahead
from monitor.values import FileFacts, IntakeOptions
from rules.facts import Morning, Night

NAN = float("nan")
EPOCH = datetime(2026, 10, 7, 6, tzinfo=UTC)


# Units and moments.


@pytest.mark.parametrize(
    ("unit", "seconds"),
    [
        ("ps", 2e-12), ("ns", 2e-9), ("us", 2e-6), ("ms", 0.002), ("sec", 2), ("min", 120), ("h", 7200), ("d", 172800),
        ("wk", 1209600),
    ],
)  # fmt: skip
def test_a_duration_is_in_the_units_of_the_schema(unit: str, seconds: float) -> None:
    """Open mHealth, duration-unit-value 1.0."""
    assert mhealth_json._seconds({"value": 2, "unit": unit}) == pytest.approx(seconds)


@pytest.mark.parametrize(
    "value", [None, 3, {"value": 2}, {"value": 2, "unit": "fortnight"}, {"value": 2, "unit": ["h"]},
     {"value": True, "unit": "h"}, {"unit": "h"},
              {"value": "2", "unit": "h"}, {"value": 1.1e12, "unit": "h"}, {"value": -1.1e12, "unit": "h"}]
)  # fmt: skip
def test_what_is_no_duration_is_said_to_be_none(value: object) -> None:
    with pytest.raises(ValueError, match=r"."):
        mhealth_json._seconds(value)


@pytest.mark.parametrize(
    ("name", "day"),
    [
        ("2026-10-07.txt", date(2026, 10, 7)),
        ("night 20261007.txt", date(2026, 10, 7)),
        ("1999-12-31.txt", None),
        ("2000-01-01.txt", date(2000, 1, 1)),
        ("2200-12-31.txt", date(2200, 12, 31)),
        ("2201-01-01.txt", None),
        ("2026-13-40.txt", None),
        ("2026-13-40 2026-10-07.txt", date(2026, 10, 7)),
        ("2026-10-01/rr.txt", None),  # of a folder it is no date of the file
    ],
)
def test_the_date_in_a_name_is_one_of_the_calendar_and_of_these_two_centuries(name: str, day: date | None) -> None:
    assert beats._named_day(name) == day


@given(
    st.lists(st.lists(st.one_of(st.floats(-100, 100), st.just(NAN)), min_size=5, max_size=5), min_size=1, max_size=6),
    st.sampled_from([0.0, 0.25, 0.5, 0.75, 1.0]),
)
def test_quantiles_of_windows_are_those_of_numpy(windows: list[list[float]], quantile: float) -> None:
    table = np.array(windows)
    expected = [np.quantile(row[np.isfinite(row)], quantile) if np.isfinite(row).any() else NAN for row in table]
    np.testing.assert_allclose(beats._quantiles(table, quantile), expected, atol=1e-9)


# Nights of a watch.

HOUR = 3600.0


@pytest.mark.parametrize(("gap_h", "sleeps"), [(3.99, 1), (4.0, 1), (4.01, 2)])
def test_four_hours_without_a_stage_part_two_sleeps(gap_h: float, sleeps: int) -> None:
    stages = [(0.0, "light"), (HOUR, "deep"), (2 * HOUR, "awake")]
    stages += [((2 + gap_h) * HOUR, "light"), ((3 + gap_h) * HOUR, "deep"), ((4 + gap_h) * HOUR, "awake")]
    assert len(fit._sleeps(stages, [])) == sleeps


def test_without_an_event_a_row_tells_the_stage_from_its_moment_on() -> None:
    [sleep] = fit._sleeps([(0.0, "awake"), (HOUR, "light"), (4 * HOUR, "deep"), (5 * HOUR, "awake")], [])
    assert (sleep.bedtime, sleep.wake, sleep.asleep_s) == (HOUR, 5 * HOUR, 4 * HOUR)


@pytest.mark.parametrize(("begun", "asleep_h"), [(-4 * HOUR, 9), (-4 * HOUR - 1, 5), (-1.0, 5 + 1 / 3600), (0.0, 5)])
def test_after_an_event_of_the_hours_before_it_a_row_tells_the_stage_up_to_its_moment(
    begun: float, asleep_h: float
) -> None:
    stages = [(0.0, "light"), (HOUR, "light"), (4 * HOUR, "deep"), (5 * HOUR, "light")]
    [sleep] = fit._sleeps(stages, [begun])
    assert sleep.asleep_s == pytest.approx(asleep_h * HOUR)


def test_a_night_that_was_only_lain_awake_is_none() -> None:
    assert fit._sleeps([(0.0, "awake"), (HOUR, "awake")], []) == []


# Points of a track.


def test_points_are_taken_up_to_their_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(track, "MOST", SimpleNamespace(points=2))
    points = track.RecordedPoints()
    points.add(1.0, {})
    points.add(2.0, {})
    assert len(points) == 2
    with pytest.raises(Unreadable):
        points.add(3.0, {})


def recorded(*rows: tuple[float, dict[str, float]]) -> tuple[track.Points, Remarks]:
    points, remarks = track.RecordedPoints(), Remarks()
    for seconds, values in rows:
        points.add(seconds, values)
    return track.Points(points, remarks), remarks


def test_points_of_one_moment_are_one_that_the_first_begins_and_the_others_complete() -> None:
    at = EPOCH.timestamp()
    points, remarks = recorded(
        (at + 1, {"hr_bpm": 120.0}), (at, {"hr_bpm": 100.0}), (at + 1, {"hr_bpm": 130.0, "altitude_m": 9.0})
    )
    assert points.seconds.tolist() == [at, at + 1]
    assert points.samples["hr_bpm"].tolist() == [100.0, 120.0]
    assert points.samples["altitude_m"].tolist()[1] == 9.0
    assert len(remarks.all()) == 1, "they are put in order"


@pytest.mark.parametrize(
    ("years", "kept", "unset"),
    [((2026, 2026), 2, False), ((1989, 2026), 1, True), ((1989, 1989), 0, True), ((2026,), 1, False)],
)
def test_a_clock_that_was_never_set_is_told_where_at_most_one_point_is_left(
    years: tuple[int, ...], kept: int, *, unset: bool
) -> None:
    moments = [datetime(year, 6, 1, 0, 0, second, tzinfo=UTC).timestamp() for second, year in enumerate(years)]
    points, _ = recorded(*((moment, {"hr_bpm": 120.0}) for moment in moments))
    assert (len(points), points.unset_clock) == (kept, unset)


@pytest.mark.parametrize(
    ("lat", "lon", "known"),
    [((0.0, 60.0), (0.0, 10.0), [False, True]), ((0.0, 60.0), (10.0, 10.0), [True, True]),
     ((60.0, NAN), (10.0, 10.0), [True, False]), ((60.0, 60.0), (10.0, NAN), [True, False]),
     ((0.0, NAN), (0.0, 1.0), None)],
)  # fmt: skip
def test_no_latitude_and_no_longitude_is_no_place(
    lat: tuple[float, ...], lon: tuple[float, ...], known: list[bool] | None
) -> None:
    found = track._without_null_island({"t_s": np.arange(2.0), "lat_deg": np.array(lat), "lon_deg": np.array(lon)})
    assert (None if "lat_deg" not in found else np.isfinite(found["lat_deg"]).tolist()) == known


@pytest.mark.parametrize(("first", "begins"), [(-1, -1), (0, 0), (1, 0), (600, 0), (600.5, 600.5), (100000, 100000)])
def test_a_recording_begins_where_its_first_lap_does_unless_that_is_far_off(first: float, begins: float) -> None:
    lap: Any = SimpleNamespace(start=0.0)
    points: Any = SimpleNamespace(seconds=np.array([float(first)]))
    assert tcx._start(points, [lap]) == begins
    assert tcx._start(points, []) == first


# Nights of a table, sessions of several recordings, remarks.


@pytest.mark.parametrize(
    ("night", "minutes"),
    [
        (Night(date(2026, 10, 7), EPOCH, EPOCH + timedelta(hours=7), 400.0), 400.0),
        (Night(date(2026, 10, 7), EPOCH, EPOCH + timedelta(hours=7)), 420.0),
        (Night(date(2026, 10, 7), EPOCH), 0.0),
        (Night(date(2026, 10, 7), None, EPOCH), 0.0),
    ],
)
def test_the_length_of_a_night_is_the_sleep_or_else_the_time_in_bed(night: Night, minutes: float) -> None:
    assert nights_csv._length(night) == minutes


@pytest.mark.parametrize(("rows", "most", "mornings", "cut"), [(2, 3, 2, False), (3, 3, 3, False), (4, 3, 3, True)])
def test_a_table_is_read_up_to_its_limit_of_rows(
    monkeypatch: pytest.MonkeyPatch, rows: int, most: int, mornings: int, *, cut: bool
) -> None:
    monkeypatch.setattr(nights_csv, "MOST", SimpleNamespace(rows=most))
    lines = ["date,resting_hr", *(f"2026-10-{day:02d},50" for day in range(1, rows + 1))]
    facts = nights_csv.read_csv("\n".join(lines).encode(), IntakeOptions("UTC"))
    assert (len(facts.mornings), bool(facts.remarks)) == (mornings, cut)


@pytest.mark.parametrize(("since_min", "share"), [(-10, 1.1666667), (0, 1.0), (45, 0.25), (60, 0.0), (90, 0.0)])
def test_a_recording_counts_by_the_share_that_no_earlier_one_tells_of(since_min: int, share: float) -> None:
    hour: Any = SimpleNamespace(span=SimpleNamespace(end=EPOCH + timedelta(hours=1), seconds=3600.0))
    assert sessions._own_share(hour, EPOCH + timedelta(minutes=since_min)) == pytest.approx(share)
    moment: Any = SimpleNamespace(span=SimpleNamespace(end=EPOCH, seconds=0.0))
    assert sessions._own_share(moment, EPOCH) == 1.0


@pytest.mark.parametrize(("count", "told"), [(19, 19), (20, 20), (21, 21), (25, 21)])
def test_twenty_remarks_are_told_and_the_rest_counted(count: int, told: int) -> None:
    remarks = Remarks()
    assert not remarks
    for number in [*range(count), 0]:
        remarks.add(f"{number}")
    assert remarks
    assert len(remarks.all()) == told
    if count > 20:
        assert str(count - 20) in remarks.all()[-1]
    assert remarks.first() == "0"


@pytest.mark.parametrize(("days", "kept"), [(0, True), (1, True), (2, False)])
def test_a_day_past_tomorrow_is_left_out_until_it_comes(days: int, kept: bool) -> None:
    day = date(2026, 10, 7) + timedelta(days=days)
    facts, again = without_days_ahead(FileFacts("x", mornings=(Morning(day, 50.0),)), date(2026, 10, 7))
    assert (len(facts.mornings) == 1) is kept
    assert again == (None if kept else day)
    assert ("1 entry" in "".join(map(str, facts.remarks))) is not kept


@pytest.mark.parametrize(
    ("value", "known"), [(24.9, False), (25, True), (120, True), (120.1, False), (NAN, False), (float("inf"), False)]
)
def test_a_pulse_at_rest_lies_from_25_to_120(value: float, *, known: bool) -> None:
    assert plausible.is_plausible(plausible.BOUNDS.resting_hr, value) is known


@pytest.mark.parametrize(
    ("name", "inside", "outside"),
    [
        ("hr_bpm", (1, 255), (0, 256)), ("speed_mps", (0, 60), (-0.1, 60.1)), ("cadence_spm", (0, 300), (-1, 301)),
        ("distance_m", (0, 2_000_000), (-1, 2_000_001)), ("altitude_m", (-500, 9000), (-501, 9001)),
        ("lat_deg", (-90, 90), (-90.1, 90.1)), ("lon_deg", (-180, 180), (-180.1, 180.1)),
        ("power_w", (0, 3000), (-1, 3001)), ("temperature_c", (-50, 60), (-51, 61)),
    ],
)  # fmt: skip
def test_samples_that_no_device_means_are_missing(
    name: str, inside: tuple[float, float], outside: tuple[float, float]
) -> None:
    """plausible.samples"""
    column = np.array([*inside, *outside], dtype=np.float64)
    found = plausible.mask_samples({"t_s": np.arange(4.0), name: column})
    assert np.isfinite(found[name]).tolist() == [True, True, False, False]
