"""When a finding was made, as answers to it are held against: also in a store that was made anew."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import duckdb
import pytest

from monitor.reasons import Why
from monitor.store import decisions, findings
from monitor.store.database import Store
from monitor.store.findings import Numbered
from monitor.values import Difference
from rules.findings import Finding, Severity

START = datetime(2026, 10, 9, 16, tzinfo=UTC)
RUN = Finding(
    "aa11111111", "runa", "no_running", Severity.STOP, "days_off", 5, date(2026, 10, 9), "session", "k", START, START,
    START, START, "running", "a.fit", 25.0, 0.0, "min", "A run of 25 min", {},
)  # fmt: skip


@pytest.fixture
def con(tmp_path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    with Store(tmp_path / "fallow.duckdb").writing() as con:
        yield con


def test_a_finding_is_as_old_as_its_first_telling_or_its_first_storing(con: duckdb.DuckDBPyConnection) -> None:
    stored, told = START + timedelta(hours=30), START + timedelta(hours=1)
    findings.apply(con, Difference("runa", fresh=(RUN,)), stored)
    assert findings.made_at(con) == {RUN.id: stored}
    decisions.record(con, [decisions.decision(RUN, "coach", 3, Why.SENT_BEFORE)], told)
    assert findings.made_at(con) == {RUN.id: told}, "as the journal remembers"


def test_a_finding_that_grew_worse_is_known_by_what_was_decided(con: duckdb.DuckDBPyConnection) -> None:
    caution = replace(RUN, severity=Severity.CAUTION)
    findings.apply(con, Difference("runa", fresh=(caution,)), START)
    decisions.record(con, [decisions.decision(caution, "coach", 2, "first")], START)
    assert findings.worse_at(con) == {}
    later = START + timedelta(hours=2)
    findings.apply(con, Difference("runa", worse=((caution, RUN),)), later)
    decisions.record(con, [decisions.decision(RUN, "coach", 3, "worse")], later)
    assert findings.worse_at(con) == {RUN.id: later}
    assert findings.made_at(con) == {RUN.id: START}


def test_a_sequence_of_a_calendar_never_falls_and_what_is_said_last_of_it_stands(
    con: duckdb.DuckDBPyConnection,
) -> None:
    for sequence, mark, stands in ((3, "a", "a"), (2, "b", "a"), (3, "c", "c"), (4, "d", "d")):
        findings.number_entries(con, "runa", {"u": Numbered(sequence, mark, START)})
        assert findings.calendar_numbers(con, "runa")["u"].mark == stands
    assert findings.calendar_numbers(con, "runa") == {"u": Numbered(4, "d", START)}


def test_a_picture_takes_the_place_of_the_one_made_from_other_facts(con: duckdb.DuckDBPyConnection) -> None:
    findings.keep_traces(con, "runa", [("k", "before", b"1"), ("l", "before", b"2")])
    findings.keep_traces(con, "runa", [("k", "now", b"3")])
    wanted = [("runa", "k", "before"), ("runa", "k", "now"), ("runa", "l", "before"), ("odd", "k", "now")]
    assert findings.traces_kept(con, wanted) == [None, b"3", b"2", None]


def test_a_finding_that_changed_is_as_old_as_it_was(con: duckdb.DuckDBPyConnection) -> None:
    later, other = START + timedelta(hours=2), replace(RUN, id="bb22222222")
    findings.apply(con, Difference("runa", fresh=(RUN,)), START)
    findings.apply(con, Difference("runa", changed=((RUN, replace(RUN, observed=26.0)),)), later)
    assert findings.made_at(con) == {RUN.id: START}
    findings.apply(con, Difference("runa", changed=((RUN, other),)), later)
    assert findings.made_at(con) == {other.id: START}
    findings.apply(con, Difference("runa"), later)
    assert findings.made_at(con) == {other.id: START}
