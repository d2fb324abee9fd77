"""A session in few points: no peak is lost, nothing is made up, and what was packed comes back."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta

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
    packed,
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
