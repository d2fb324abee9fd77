"""What no file holds: holds and releases, and what is still to be judged."""

from __future__ import annotations

from datetime import date, datetime

import duckdb

from monitor.store.times import from_store, to_store
from rules.facts import Hold


def holds(con: duckdb.DuckDBPyConnection, athlete: str) -> list[Hold]:
    """All holds and releases of an athlete, oldest first."""
    rows = con.execute(
        "SELECT kind, on_date, held_at, days, why, held_by FROM hold WHERE athlete = ? ORDER BY held_at", [athlete]
    ).fetchall()
    return [Hold(kind, on, from_store(at), days, why, by) for kind, on, at, days, why, by in rows]


def add_hold(con: duckdb.DuckDBPyConnection, athlete: str, hold: Hold) -> None:
    """Add one; the very same one is not added twice (a rebuild replays the journal)."""
    row = [athlete, hold.kind, hold.on, hold.days, hold.why, hold.by, to_store(hold.at)]
    same = "athlete = ? AND kind = ? AND on_date = ? AND days IS NOT DISTINCT FROM ? AND why = ? AND held_by = ?"
    if con.execute(f"SELECT 1 FROM hold WHERE {same} AND held_at = ?", row).fetchone() is None:
        con.execute("INSERT INTO hold VALUES (?, ?, ?, ?, ?, ?, ?)", row)


def to_judge(con: duckdb.DuckDBPyConnection) -> dict[str, date]:
    """athlete -> earliest day with facts that no judgement has seen."""
    return dict(con.execute("SELECT athlete, min(since) FROM unjudged GROUP BY athlete").fetchall())


def mark_to_judge(con: duckdb.DuckDBPyConnection, athlete: str, since: date) -> None:
    con.execute("INSERT INTO unjudged VALUES (?, ?)", [athlete, since])


def judged_under(con: duckdb.DuckDBPyConnection, athlete: str) -> str | None:
    row = con.execute("SELECT fingerprint FROM judged WHERE athlete = ?", [athlete]).fetchone()
    return str(row[0]) if row else None


def all_judged_under(con: duckdb.DuckDBPyConnection) -> dict[str, str]:
    """athlete -> under what the last judgement was made, of everybody at once."""
    return dict(con.execute("SELECT athlete, fingerprint FROM judged").fetchall())


def note_judged(con: duckdb.DuckDBPyConnection, athlete: str, fingerprint: str, now: datetime) -> None:
    con.execute("DELETE FROM unjudged WHERE athlete = ?", [athlete])
    con.execute("DELETE FROM judged WHERE athlete = ?", [athlete])
    con.execute("INSERT INTO judged VALUES (?, ?, ?)", [athlete, fingerprint, to_store(now)])
