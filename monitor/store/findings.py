"""Findings that stand, those that were withdrawn, and who has seen them."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import duckdb

from monitor.judging.difference import Difference
from monitor.store import codec
from monitor.store.times import from_store, to_store
from rules.findings import Breach, Finding


def standing(con: duckdb.DuckDBPyConnection, athlete: str | None = None, since: date = date.min) -> list[Finding]:
    """Findings that stand, newest first."""
    rows = con.execute(
        "SELECT fact FROM finding WHERE withdrawn_at IS NULL AND ($a IS NULL OR athlete = $a) AND date >= $d"
        " ORDER BY date DESC, subject_end DESC, id",
        {"a": athlete, "d": since},
    ).fetchall()
    return [codec.from_text(Finding, fact) for (fact,) in rows]


def apply(con: duckdb.DuckDBPyConnection, change: Difference, now: datetime) -> None:
    """Make the store stand as judged."""
    for finding in change.fresh:
        _drop(con, finding.id)
        _insert(con, finding, now)
    for old, new in (*change.worse, *change.changed):
        found = con.execute("SELECT found_at FROM finding WHERE id = ?", [old.id]).fetchone()
        found_at = from_store(found[0]) if found else now
        if old.id == new.id:
            _drop(con, old.id)
        else:
            con.execute(
                "UPDATE finding SET withdrawn_at = ?, renamed_to = ? WHERE id = ?", [to_store(now), new.id, old.id]
            )
            con.execute("UPDATE mark SET finding = ? WHERE finding = ?", [new.id, old.id])
            _drop(con, new.id)
        _insert(con, new, now, found_at)
    for finding in change.withdrawn:
        con.execute("UPDATE finding SET withdrawn_at = ? WHERE id = ?", [to_store(now), finding.id])


def _drop(con: duckdb.DuckDBPyConnection, finding_id: str) -> None:
    con.execute("DELETE FROM finding WHERE id = ?", [finding_id])


def _insert(con: duckdb.DuckDBPyConnection, finding: Finding, now: datetime, found_at: datetime | None = None) -> None:
    con.execute(
        "INSERT INTO finding VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, NULL, NULL)",
        [
            finding.id,
            finding.athlete,
            finding.rule,
            str(finding.severity),
            finding.date,
            to_store(finding.subject_end),
            codec.to_text(finding),
            to_store(found_at or now),
            to_store(now),
        ],
    )


def find(con: duckdb.DuckDBPyConnection, start_of_id: str) -> list[tuple[Finding, datetime | None]]:
    """Findings whose id begins so, with when they were withdrawn; a renamed one is followed to its new id."""
    rows = con.execute(
        "SELECT fact, withdrawn_at, renamed_to FROM finding WHERE starts_with(id, ?) ORDER BY id", [start_of_id.lower()]
    ).fetchall()
    found: list[tuple[Finding, datetime | None]] = []
    for fact, withdrawn_at, renamed_to in rows:
        if renamed_to:
            found.extend(find(con, renamed_to))
        else:
            found.append((codec.from_text(Finding, fact), from_store(withdrawn_at) if withdrawn_at else None))
    return found


def marks(con: duckdb.DuckDBPyConnection) -> dict[str, list[dict[str, Any]]]:
    """finding id -> marks, oldest first."""
    found: dict[str, list[dict[str, Any]]] = {}
    for finding, by, note, at in con.execute("SELECT * FROM mark ORDER BY marked_at").fetchall():
        found.setdefault(finding, []).append({"by": by, "note": note, "at": from_store(at)})
    return found


def made_at(con: duckdb.DuckDBPyConnection) -> dict[str, datetime]:
    """When each finding that stands was first made or told: a store that was made anew remembers what was told."""
    rows = con.execute(
        "SELECT f.id, least(f.found_at, coalesce(min(d.decided_at), f.found_at)) FROM finding f"
        " LEFT JOIN decision d ON d.finding = f.id WHERE f.withdrawn_at IS NULL GROUP BY f.id, f.found_at"
    ).fetchall()
    return {finding: from_store(at) for finding, at in rows}


def worse_at(con: duckdb.DuckDBPyConnection) -> dict[str, datetime]:
    """When findings were last told as worse than before."""
    rows = con.execute(
        "SELECT finding, max(decided_at) FROM decision WHERE reason = 'worse' GROUP BY finding"
    ).fetchall()
    return {finding: from_store(at) for finding, at in rows}


def mark(con: duckdb.DuckDBPyConnection, finding_id: str, by: str, note: str, now: datetime) -> None:
    con.execute("INSERT INTO mark VALUES (?, ?, ?, ?)", [finding_id, by, note, to_store(now)])


def verdicts(con: duckdb.DuckDBPyConnection, athlete: str) -> dict[tuple[str, str], str]:
    """(session key, context) -> what the samples of the session gave under that context, as `breaches_of` reads it."""
    rows = con.execute("SELECT key, context, breaches FROM verdict WHERE athlete = ?", [athlete]).fetchall()
    return {(key, context): breaches for key, context, breaches in rows}


def breaches_of(verdict: str) -> tuple[Breach, ...]:
    return codec.from_text(tuple[Breach, ...], verdict)


def keep_verdict(
    con: duckdb.DuckDBPyConnection, athlete: str, key: str, context: str, breaches: tuple[Breach, ...]
) -> None:
    """Keep the newest verdict on a session; older contexts of it are forgotten, which bounds the table."""
    con.execute("DELETE FROM verdict WHERE athlete = ? AND key = ?", [athlete, key])
    con.execute(
        "INSERT INTO verdict VALUES (?, ?, ?, ?)", [athlete, key, context, codec.to_text(breaches, tuple[Breach, ...])]
    )
