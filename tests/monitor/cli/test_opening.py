"""What commands open: a finding by the beginning of its id, the moment of judging."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from monitor.cli import context
from monitor.errors import WrongUse
from monitor.store import findings
from monitor.store.database import Store
from monitor.values import Difference
from rules.findings import Finding, Severity

NOON = datetime(2026, 10, 9, 12, tzinfo=UTC)
FINDING = Finding(
    "aa11111111", "runa", "no_running", Severity.STOP, "days_off", 5, date(2026, 10, 9), "session", "k", NOON, NOON,
    NOON, NOON, "running", "a.fit", 25.0, 0.0, "min", "A run", {},
)  # fmt: skip


def test_a_finding_is_found_by_the_beginning_of_its_id_and_an_ambiguous_one_lists_them(tmp_path: Path) -> None:
    other = replace(FINDING, id="aa22222222", rule="duration_cap")
    with Store(tmp_path / "fallow.duckdb").writing() as con:
        findings.apply(con, Difference("runa", fresh=(FINDING, other)), NOON)
        assert context.finding_of(con, "AA1") == (FINDING, None)
        with pytest.raises(
            WrongUse, match=r"'aa' begins 2 findings: aa11111111 .*, aa22222222 .*; give more of the id"
        ):
            context.finding_of(con, "aa")
        with pytest.raises(WrongUse, match="did you mean aa11111111"):
            context.finding_of(con, "ab11111111")


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("2026-10-13", "2026-10-13T12:00:00+02:00"),
        ("2026-10-13T18:30", "2026-10-13T18:30:00+02:00"),
        ("2026-10-13 18:30:15", "2026-10-13T18:30:15+02:00"),
        ("2026-10-13T18:30Z", "2026-10-13T18:30:00+00:00"),
        ("2026-10-13T18:30-05:00", "2026-10-13T18:30:00-05:00"),
        ("2026-10-13T00:00", "2026-10-13T00:00:00+02:00"),
    ],
)
def test_a_moment_is_local_unless_it_carries_an_offset(text: str, moment: str) -> None:
    assert context.moment_of(text, ZoneInfo("Europe/Oslo")).isoformat() == moment


@pytest.mark.parametrize("text", ["", "soon", "2026-02-30", "3/10/2026"])
def test_a_moment_that_is_none_is_told(text: str) -> None:
    with pytest.raises(WrongUse, match="must be a date"):
        context.moment_of(text, None)
