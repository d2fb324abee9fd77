"""Sessions go into the store and come out as they were, with pauses and laps, in their place and by their time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import duckdb
import pytest

from monitor.store import recordings
from monitor.store.database import Store
from monitor.store.recordings import FileRecording
from monitor.values import Recording
from rules.facts import Digest
from tests.rules.people import athlete, session

RUNA = athlete().id
TOLD = {"hr_seconds": {140: 1200.0, 141: 0.5}, "ascent_m": 12.5, "notes": {"why": ["x"]}}
WHOLE = replace(
    session(3, minutes=40, km=7.1, digest=TOLD),
    sub_sport="trail",
    version="v2",
    utc_offset_s=-12600,
    pauses=((100.0, 160.5), (900.0, 1000.0)),
    lap_marks_s=(300.0, 612.5),
    barometer=True,
)
PLAIN = session(5, "walking", 30)


@pytest.fixture
def con(tmp_path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    with Store(tmp_path / "fallow.duckdb").writing() as opened:
        yield opened


def test_a_session_comes_out_as_it_went_in(con: duckdb.DuckDBPyConnection) -> None:
    recordings.replace_sessions(con, RUNA, (), [(WHOLE, (1, 2), "now"), (PLAIN, (3,), None)])
    assert recordings.sessions(con, RUNA) == [WHOLE, PLAIN]
    assert recordings.sessions(con, "odd") == []
    whole, plain = recordings.stored_sessions(con, RUNA, WHOLE.start, PLAIN.start)
    assert (whole.start, whole.end, whole.version) == (WHOLE.start, WHOLE.end, WHOLE.version)
    assert (whole.digest_by, plain.digest_by) == ("now", None)


def test_sessions_are_found_by_their_beginning_up_to_both_ends(con: duckdb.DuckDBPyConnection) -> None:
    recordings.replace_sessions(con, RUNA, (), [(PLAIN, (3,), None), (WHOLE, (1,), None)])
    second = timedelta(seconds=1)
    for start, found in ((WHOLE.start, [WHOLE]), (WHOLE.start + second, [])):
        assert recordings.sessions(con, RUNA, start, PLAIN.start - second) == found
    assert recordings.sessions(con, RUNA, WHOLE.start + second, PLAIN.start) == [PLAIN]


def test_a_session_that_takes_anothers_place_leaves_the_others(con: duckdb.DuckDBPyConnection) -> None:
    recordings.replace_sessions(con, RUNA, (), [(WHOLE, (1,), None), (PLAIN, (3,), None)])
    longer = replace(PLAIN, timer_s=PLAIN.timer_s + 60)
    recordings.replace_sessions(con, RUNA, [WHOLE.key, PLAIN.key], [(longer, (3, 4), None)])
    assert recordings.sessions(con, RUNA) == [longer]


def test_recordings_are_found_that_touch_a_time(con: duckdb.DuckDBPyConnection) -> None:
    day, second = timedelta(days=1), timedelta(seconds=1)
    told = Recording(
        WHOLE.start, WHOLE.end, "running", "trail", 60.0, 60.0, None, {}, digest=WHOLE.digest, digest_by="now"
    )
    recordings.insert(con, RUNA, [FileRecording("aa", "a.fit", 0, told, 1.0)])
    for start, end, found in (
        (told.end, told.end + day, 1),
        (told.end + second, told.end + day, 0),
        (told.start - day, told.start, 1),
        (told.start - day, told.start - second, 0),
    ):
        assert len(recordings.around(con, RUNA, start, end)) == found
    [one] = recordings.all_of(con, RUNA)
    assert (one.digest, one.digest_by) == (WHOLE.digest, "now")
    recordings.insert(con, RUNA, [FileRecording("bb", "b.fit", 0, replace(told, digest=None, digest_by=""), 1.0)])
    bare = recordings.all_of(con, RUNA)[1]
    assert (bare.digest, bare.digest_by) == (Digest("unknown"), None)
    assert recordings.digested_by_other_code(con, "now") == {RUNA: 1}
    assert recordings.first_start(con, RUNA) == told.start
    assert recordings.first_start(con, "odd") is None


def test_of_a_session_that_is_not_there_no_sample_is(con: duckdb.DuckDBPyConnection) -> None:
    assert {len(values) for values in recordings.samples_of(con, RUNA, "k").values()} == {0}


@pytest.mark.parametrize("order", [(1, 2), (2, 1)])
def test_of_recordings_that_begin_together_the_first_stored_has_the_time(order: tuple[int, ...]) -> None:
    ends = {1: PLAIN.end, 2: PLAIN.end + timedelta(hours=1)}
    told = [(number, PLAIN.start, ends[number]) for number in order]
    assert recordings.own_since(told) == {1: PLAIN.start, 2: PLAIN.end}
