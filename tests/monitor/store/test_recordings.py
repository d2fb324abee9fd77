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
