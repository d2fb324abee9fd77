"""Which recordings are one session, for any order in which they come and however long it lasted."""

from __future__ import annotations

import functools
import itertools
import random
from datetime import UTC, datetime, timedelta

import duckdb
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.intake import sessions
from monitor.store import recordings
from monitor.store.migrations import migrate
from monitor.store.recordings import FileRecording
from monitor.values import Recording
from rules.limits import default_limits

START = datetime(2026, 9, 20, 8, tzinfo=UTC)
DAY = timedelta(days=1)
HOUR = timedelta(hours=1)
GAP = timedelta(minutes=1)


def recorded(
    start: datetime, length: timedelta, quality: float = 1.0, number: int = 0, sport: str = "running"
) -> FileRecording:
    seconds = length.total_seconds()
    run = Recording(start, start + length, sport, "generic", seconds, seconds, 1.0, {"t_s": np.arange(3.0)})
    return FileRecording(f"{number:016x}" * 4, f"{number}.fit", 0, run, quality)


NUMBERS = itertools.count()


@functools.cache
def store() -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    migrate(con)
    return con


def settled(*passes: list[FileRecording]) -> list[tuple[datetime, datetime, str]]:
    """What stands of an athlete after recordings came in several passes."""
    con, athlete = store(), f"athlete{next(NUMBERS)}"
    for told in passes:
        recordings.insert(con, athlete, told)
        spans = [(one.recording.start, one.recording.end) for one in told]
        sessions.merge_recordings(con, athlete, spans, default_limits())
    return [(one.start, one.end, one.version) for one in recordings.sessions(con, athlete)]


@pytest.mark.parametrize("backwards", [False, True])
def test_a_race_of_days_in_a_file_a_day_is_one_session_in_whatever_steps_it_comes(backwards: bool) -> None:
    days = [recorded(START + (DAY + GAP) * day, DAY, number=day) for day in range(9)]
    (whole,) = settled(days)
    assert whole[:2] == (START, START + 9 * DAY + 8 * GAP)
    assert settled(*([one] for one in (days[::-1] if backwards else days))) == [whole]


def test_a_better_recording_of_the_last_hours_of_days_takes_the_place_of_a_poor_one() -> None:
    """Half of the shorter one lies within the other, so both tell of the same outing."""
    poor = recorded(START, 8 * DAY)
    better = recorded(START + 7 * DAY, DAY / 2, quality=2.0, number=1)
    found = {tuple(settled(*passes)) for passes in ([[poor, better]], [[poor], [better]], [[better], [poor]])}
    assert len(found) == 1
    assert [start for start, _, _ in found.pop()] == [START + 7 * DAY]


def test_a_ride_whose_end_a_run_overlaps_stays_when_the_next_day_comes() -> None:
    """The watch was begun on the last minutes of the ride; what comes a day later touches the run alone."""
    ride = recorded(START, 1.1 * HOUR, sport="cycling")
    run = recorded(START + HOUR, HOUR, number=1)
    for minutes in (59, 61, 65, 67, 90, 119, 121):
        later = START + DAY + minutes * HOUR / 60
        found = settled([ride, run], [recorded(later, HOUR, number=2)])
        assert [start for start, _, _ in found] == [START, START + HOUR, later]


OUTINGS = st.lists(
    st.tuples(
        st.integers(0, 200),
        st.sampled_from([0.1, 0.5, 1.0, 1.1, 4.0, 30.0, 100.0]),
        st.sampled_from([1.0, 2.0, 3.0]),
        st.sampled_from(["running", "cycling"]),
    ),
    min_size=2,
    max_size=8,
)


@settings(max_examples=12, deadline=None)
@given(OUTINGS, st.randoms(use_true_random=False))
def test_in_whatever_order_recordings_come_the_same_sessions_stand(
    outings: list[tuple[int, float, float, str]], chance: random.Random
) -> None:
    told = [
        recorded(START + at * HOUR, length * HOUR, quality, number, sport)
        for number, (at, length, quality, sport) in enumerate(outings)
    ]
    whole = settled(told)
    chance.shuffle(told)
    assert settled(*([one] for one in told)) == whole
