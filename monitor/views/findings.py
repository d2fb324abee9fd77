"""Findings in the shape of `findings --json`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from zoneinfo import ZoneInfo

import duckdb

from monitor.roster import RosterAthlete
from monitor.store import findings
from monitor.views.moments import local
from rules.findings import Finding

COLUMNS = (
    "id", "athlete", "name", "rule", "severity", "stage", "day", "date", "session_start", "session_end", "sport",
    "source", "observed", "limit", "unit", "summary", "advice", "seen_by",
)  # fmt: skip
"""What a table for a spreadsheet holds; the evidence is left to JSON."""


def finding_view(finding: Finding, zone: ZoneInfo, marks: Sequence[dict[str, Any]] = ()) -> dict[str, Any]:
    """One finding, times on the athlete's clock."""
    return {
        "id": finding.id,
        "athlete": finding.athlete,
        "rule": finding.rule,
        "severity": str(finding.severity),
        "stage": finding.stage,
        "day": finding.day,
        "date": finding.date.isoformat(),
        "session_start": local(finding.session_start, zone),
        "session_end": local(finding.session_end, zone),
        "sport": finding.sport,
        "source": finding.source,
        "observed": finding.observed,
        "limit": finding.limit,
        "unit": finding.unit,
        "summary": finding.summary,
        "evidence": finding.evidence,
        "advice": list(finding.advice),
        "about": finding.subject_kind,
        "seen": [{**mark, "at": local(mark["at"], zone)} for mark in marks],
        "seen_by": [mark["by"] for mark in marks],
    }


def findings_view(con: duckdb.DuckDBPyConnection, athletes: Sequence[RosterAthlete]) -> list[dict[str, Any]]:
    """Findings that stand, of the athletes named, newest first."""
    named = {one.id: one.athlete for one in athletes}
    marks = findings.marks(con)
    standing = [finding for finding in findings.standing(con) if finding.athlete in named]
    return [
        {
            **finding_view(finding, named[finding.athlete].zone, marks.get(finding.id, ())),
            "name": named[finding.athlete].name or finding.athlete,
        }
        for finding in standing
    ]
