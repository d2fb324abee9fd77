"""The stored history judged again, compared with what stands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

import duckdb

from monitor.judging.difference import Difference, difference
from monitor.judging.judge import view
from monitor.roster import Roster, RosterAthlete
from monitor.store import findings
from monitor.views.measured_anew import measured_anew
from rules.findings import Finding
from rules.limits import Limits

CHANGES = ("new", "gone", "worse", "milder", "reworded")


def replay_view(
    con: duckdb.DuckDBPyConnection, roster: Roster, athletes: Sequence[RosterAthlete], now: datetime, limits: Limits
) -> dict[str, Any]:
    """What would be new, gone, worse, milder or told with other numbers, over all seasons; nothing is stored."""
    changes: list[dict[str, Any]] = []
    stand = judged = 0
    for athlete in athletes:
        standing = findings.standing(con, athlete.id)
        measured = measured_anew(con, athlete.id, limits)
        made = view(con, roster, athlete, now, limits, touched=date.min, measured=measured).judgement.findings
        stand += len(standing)
        judged += len(made)
        changes += _changes(difference(athlete.id, standing, made))
    changes.sort(key=lambda one: (one["date"], one["id"]), reverse=True)
    counted = Counter(one["change"] for one in changes)
    counts = {"standing": stand, "judged": judged, **{change: counted[change] for change in CHANGES}}
    return {"counts": counts, "changes": changes}


def _changes(found: Difference) -> list[dict[str, Any]]:
    rows = [_row("new", None, one) for one in found.fresh]
    rows += [_row("gone", one, None) for one in found.withdrawn]
    rows += [_row("worse", old, new) for old, new in found.worse]
    rows += [_row("milder" if new.severity < old.severity else "reworded", old, new) for old, new in found.changed]
    return rows


def _row(change: str, old: Finding | None, new: Finding | None) -> dict[str, Any]:
    one = new or old
    assert one is not None
    return {
        "change": change,
        "id": one.id,
        "athlete": one.athlete,
        "rule": one.rule,
        "date": one.date.isoformat(),
        "stage": one.stage,
        "before": str(old.severity) if old else None,
        "after": str(new.severity) if new else None,
        "summary": one.summary,
    }
