"""A session in few points: no peak is lost, nothing is made up, and what was packed comes back."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.facts import SAMPLE_COLUMNS, Digest, Session
from rules.limits import default_limits
from rules.session.traces import (
    BPM,
    LINES,
    LONGEST_STEP,
    METRES,
    MOST_SPANS,
    MPS,
    SLICES,
    TABLES,
    Span,
    Traces,
    _over,
    _Parts,
    _worth,
    packed,
    part_edges,
    thinned,
    traces,
    unpacked,
)
from rules.session.track import Track
from rules.session_rules import cleaned

values = st.lists(st.one_of(st.floats(30, 220), st.just(float("nan"))), min_size=1, max_size=3000)


@settings(deadline=None, max_examples=60)
@given(values, st.integers(2, 60))
def test_no_peak_is_lost_however_few_points_are_kept(heights: list[float], slices: int) -> None:
    time, height = np.arange(len(heights), dtype=np.float64), np.array(heights)
    pieces = thinned(time, height, slices)
    known = height[np.isfinite(height)]
    kept = np.concatenate([piece[:, 1] for piece in pieces]) if pieces else np.zeros(0)
    assert len(kept) <= 2 * slices + 2
    if len(known):
        assert kept.max() == known.max()
        assert kept.min() == known.min()
        at = np.concatenate([piece[:, 0] for piece in pieces])
        assert (np.diff(at) > 0).all(), "in the order of time, none twice"
        assert all(height[int(second)] == value for second, value in zip(at, kept, strict=True)), "none is made up"


def test_each_slice_keeps_its_own_peak() -> None:
    time = np.arange(7200.0)
    height = 120 + 5 * np.sin(time / 50)
    spikes = np.arange(100, 7200, 300)
    height[spikes] = 185.0
    kept = thinned(time, height)[0]
    assert set(spikes.tolist()) <= set(kept[:, 0].astype(int).tolist())
    assert SLICES < len(kept) <= 2 * SLICES + 2


def test_a_short_session_is_kept_whole() -> None:
    time = np.arange(300.0)
    assert len(thinned(time, time)[0]) == 300


@pytest.mark.parametrize(("gap", "pieces"), [(LONGEST_STEP, 1), (LONGEST_STEP + 1, 2)])
def test_a_line_does_not_run_over_time_in_which_nothing_was_recorded(gap: float, pieces: int) -> None:
    time = np.concatenate((np.arange(1000.0), 999 + gap + np.arange(1000.0)))
    assert len(thinned(time, np.sin(time))) == pieces


def test_nothing_known_gives_no_line() -> None:
    assert thinned(np.arange(10.0), np.full(10, np.nan)) == []


START = datetime(2026, 10, 9, 16, tzinfo=UTC)
SECONDS = 3000


def hilly_run(seconds: int = SECONDS, **channels: object) -> tuple[Session, Track]:
    """With a sensor that drops to nought, a pause, and hills that the heart answers."""
    t = np.arange(float(seconds))
    told = {
        "t_s": t,
        "hr_bpm": np.where((t > 600) & (t < 640), 0.0, np.rint(140 + 12 * np.sin(t / 100))),
        "speed_mps": 2.6 + 0.2 * np.sin(t / 31),
        "distance_m": 2.6 * t,
        "altitude_m": 100 + 20 * (1 - np.cos(t / 95)),
        "cadence_spm": np.full_like(t, 165.0),
        **channels,
    }
    samples = {name: np.asarray(told.get(name, np.full_like(t, np.nan)), dtype=np.float64) for name in SAMPLE_COLUMNS}
    session = Session(
        "k", START, START + timedelta(seconds=seconds), "running", "generic", seconds, seconds, 2.6 * seconds, "a.fit",
        Digest("running", running_s=seconds, running_m=2.6 * seconds), pauses=((1200.0, 1320.0),),
    )  # fmt: skip
    return session, cleaned(session, samples, default_limits(), None)


def same(one: Traces, other: Traces) -> bool:
    lines = (
        len(getattr(one, name)) == len(getattr(other, name))
        and all(np.array_equal(a, b) for a, b in zip(getattr(one, name), getattr(other, name), strict=True))
        for name in LINES
    )
    tables = (np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True) for name in TABLES)
    return all(lines) and all(tables) and one.numbers == other.numbers


SPANS = (Span("intensity_ceiling", 100.0, 400.0), Span("no_speed_work", 5000.0, 5100.0))


def test_every_field_is_a_line_a_table_or_the_numbers() -> None:
    assert {field.name for field in fields(Traces)} == {*LINES, *TABLES, "numbers"}


@pytest.mark.parametrize("ceiling", [None, 140, 250])
def test_what_was_packed_comes_back(ceiling: int | None) -> None:
    session, track = hilly_run()
    made = traces(track, session, SPANS, ceiling)
    kept = packed(made)
    assert same(unpacked(kept), made)
    assert packed(unpacked(kept)) == kept
    assert len(kept) < 5000
    assert bool(made.over) == (ceiling == 140)


def test_a_session_without_a_sample_comes_back_too() -> None:
    session, track = hilly_run(0)
    made = traces(track, replace(session, elapsed_s=0.0), (), 140)
    assert same(unpacked(packed(made)), made)
    assert made.heart == ()
    assert np.isnan(made.heart_read).all()
    assert made.numbers.mean_bpm is None


@settings(deadline=None, max_examples=25)
@given(st.lists(st.one_of(st.floats(30, 230), st.just(float("nan"))), min_size=1, max_size=900), st.integers(60, 200))
def test_whatever_was_recorded_comes_back(beats: list[float], ceiling: int) -> None:
    session, track = hilly_run(len(beats), hr_bpm=np.rint(beats))
    made = traces(track, session, SPANS, ceiling)
    assert same(unpacked(packed(made)), made)


@pytest.mark.parametrize(
    ("table", "digits"),
    [
        ("heart_read", 2), ("speed_read", 4), ("ground_read", 2), ("rows_heart", 2), ("rows_highest", 2),
        ("rows_speed", 4), ("rows_worth", 4), ("rows_ground", 2), ("span_heart", 2), ("span_speed", 4),
    ],
)  # fmt: skip
def test_a_table_is_kept_to_so_many_digits(table: str, digits: int) -> None:
    session, track = hilly_run()
    kept = getattr(traces(track, session, SPANS, 140), table)
    known = kept[np.isfinite(kept)]
    assert np.array_equal(known, np.round(known, digits))
    assert not np.array_equal(known, np.round(known, digits - 1)) or table in ("rows_highest", "rows_worth")


@pytest.mark.parametrize(
    ("line", "channel", "steps"),
    [("heart", "heart", BPM), ("speed", "speed", MPS), ("ground", "ground", METRES)],
)
def test_a_point_of_a_line_is_what_was_believed_then(line: str, channel: str, steps: int) -> None:
    session, track = hilly_run()
    rows = {"heart": track.heart.rows_bpm, "speed": track.pace.speed_mps, "ground": track.ground.altitude_m}[channel]
    at = dict(zip(track.clock.rows_s.tolist(), rows.tolist(), strict=True))
    points = np.concatenate(getattr(traces(track, session, (), None), line))
    assert len(points) > SLICES
    assert max(abs(at[second] - value) for second, value in points.tolist()) <= 0.5 / steps + 1e-9


def test_a_line_above_the_ceiling_begins_one_beat_above_it() -> None:
    even = {"hr_bpm": np.full(SECONDS, 146.0), "altitude_m": np.full(SECONDS, 100.0)}
    session, track = hilly_run(**even)
    assert traces(track, session, (), 146).over == ()
    over = traces(track, session, (), 145)
    assert {float(value) for piece in over.over for value in piece[:, 1]} == {146.0}
    assert over.numbers.above_s > 0


def test_spans_have_a_row_each_and_nan_where_nothing_was_recorded() -> None:
    session, track = hilly_run()
    made = traces(track, session, SPANS, None)
    assert np.isfinite(made.span_heart).tolist() == [True, False]
    many = tuple(Span("steep_ground", float(second), second + 5.0) for second in range(100))
    assert len(traces(track, session, many, None).span_speed) == MOST_SPANS


@pytest.mark.parametrize(
    ("seconds", "step_s", "rows"),
    [
        (1, 60, 1), (60, 60, 1), (61, 60, 2), (840, 60, 14), (841, 120, 8), (1680, 120, 14), (1681, 300, 6),
        (4200, 300, 14), (4201, 600, 8), (8401, 900, 10), (12600, 900, 14), (12601, 1800, 8), (25201, 3600, 8),
        (50400, 3600, 14), (50401, 7200, 8),
    ],
)  # fmt: skip
def test_a_table_has_fourteen_rows_of_whole_minutes_at_most(seconds: float, step_s: float, rows: int) -> None:
    assert part_edges(seconds).tolist() == [step_s * at for at in range(rows + 1)]


def climbing(seconds: int, speed: float, worth: float) -> Any:
    """So many seconds at a speed that is worth another on the level, in ten minutes at 2 m/s."""
    speeds, efforts = np.full(600, 2.0), np.full(600, 2.0)
    speeds[100 : 100 + seconds], efforts[100 : 100 + seconds] = speed, worth
    return SimpleNamespace(pace=SimpleNamespace(speed_mps=speeds), effort_mps=efforts)


@pytest.mark.parametrize(
    ("seconds", "speed", "worth", "drawn"),
    [
        (60, 2.0, 2.11, 60), (59, 2.0, 2.11, 0), (60, 2.0, 2.1, 0), (60, 2.0, 2.09, 0), (60, 0.31, 1.0, 60),
        (60, 0.3, 1.0, 0), (60, np.nan, 2.5, 0), (60, 2.0, np.nan, 0),
    ],
)  # fmt: skip
def test_what_climbing_is_worth_is_drawn_where_it_is_a_twentieth_more_for_a_minute(
    seconds: int, speed: float, worth: float, drawn: int
) -> None:
    found = _worth(climbing(seconds, speed, worth))
    assert np.isfinite(found).sum() == drawn
    assert set(found[np.isfinite(found)]) <= {worth}


def test_a_row_of_a_table_holds_the_known_of_its_part_alone() -> None:
    """Ten seconds in parts of four: the last part is short, what comes after it and what was not recorded is left."""
    time = np.arange(10.0)
    real = time != 1
    parts = _Parts.between(np.array((0.0, 4.0, 8.0)), time, real)
    values = np.array((1.0, 90.0, 3.0, np.nan, 10.0, 30.0, 20.0, 20.0, 99.0, 99.0))
    assert parts.means(values).tolist() == [2.0, 20.0]
    assert parts.highest(values).tolist() == [3.0, 30.0]
    assert np.isnan(parts.means(np.full(10, np.nan))).all()
    assert np.isnan(parts.highest(np.full(10, np.nan))).all()


@pytest.mark.parametrize(("apart", "pieces"), [(4, 1), (5, 1), (6, 2)])
def test_a_line_above_the_ceiling_runs_over_five_seconds_under_it(apart: int, pieces: int) -> None:
    heart = np.full(200, 150.0)
    heart[100 : 100 + apart] = 140.0
    over = _over(np.arange(200.0), heart, 145, 200.0)
    assert len(over) == pieces
    assert min(float(piece[:, 1].min()) for piece in over) == (145.0 if pieces == 1 else 150.0)


@pytest.mark.parametrize(("long", "points"), [(3, 3), (4, 4), (5, 4), (1000, 4), (6000, 16)])
def test_a_stretch_above_the_ceiling_has_two_points_for_each_of_its_slices(long: int, points: int) -> None:
    """Of 180 000 s in 240 slices one is 750 s; two slices at the least."""
    heart = np.where(np.arange(7000) < long, 150.0 + np.arange(7000) % 7, 100.0)
    (piece,) = _over(np.arange(7000.0), heart, 145, 180_000.0)
    assert points - 1 <= len(piece) <= points + 2


@pytest.mark.parametrize(("size", "kept"), [(6, 6), (7, 6)])
def test_what_has_no_more_points_than_two_a_slice_is_kept_whole(size: int, kept: int) -> None:
    rising = np.arange(float(size))
    assert len(thinned(rising, rising, 3)[0]) == kept


def test_numbers_beside_the_lines_are_of_what_moved_was_believed_and_was_recorded() -> None:
    """Ten minutes at 3 m/s, of which a quarter stands still and six seconds are 5 m/s."""
    heart = np.where(np.arange(600) < 300, 140.0, 150.0)
    session, track = hilly_run(600, hr_bpm=heart, altitude_m=np.full(600, 100.0))
    speed = np.full(track.size, np.nan)
    speed[:600], speed[:150], speed[300:306] = 3.0, 0.3, 5.0
    seen = replace(track, pace=replace(track.pace, speed_mps=speed))
    told = traces(seen, replace(session, pauses=()), (), 149).numbers
    assert told.moving_mps == pytest.approx((444 * 3 + 6 * 5) / 450)
    assert told.fastest_mps == pytest.approx(np.percentile(speed[:600], 99))
    assert (told.lowest_bpm, told.highest_bpm) == (140.0, 150.0)
    assert told.above_s == pytest.approx(float(track.heart.weight_s[track.heart.bpm > 149].sum()))
    assert traces(seen, session, (), 150).numbers.above_s == 0
