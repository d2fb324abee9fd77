"""What no file holds: holds and releases, how often calendar entries have changed, and what is still to be judged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

import duckdb

from monitor.store import bulk
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


@dataclass(frozen=True, slots=True)
class Numbered:
    """What became of one entry of a calendar: how often it has changed, what it last was (a mark of it), and when."""

    sequence: int
    mark: str
    changed_at: datetime


def calendar_numbers(con: duckdb.DuckDBPyConnection, athlete: str) -> dict[str, Numbered]:
    """uid -> what is known of the entry, also of those that no calendar shows any more."""
    rows = con.execute(
        "SELECT uid, sequence, mark, changed_at FROM calendar_entry WHERE athlete = ?", [athlete]
    ).fetchall()
    return {uid: Numbered(sequence, mark, from_store(at)) for uid, sequence, mark, at in rows}


def number_entries(con: duckdb.DuckDBPyConnection, athlete: str, numbers: Mapping[str, Numbered]) -> None:
    """Keep what became of entries. A sequence never falls (a rebuild replays the journal)."""
    known = calendar_numbers(con, athlete)
    risen = {uid: one for uid, one in numbers.items() if uid not in known or one.sequence >= known[uid].sequence}
    con.execute("DELETE FROM calendar_entry WHERE athlete = ? AND list_contains(?, uid)", [athlete, list(risen)])
    rows: list[list[object]] = [
        [athlete, uid, one.sequence, one.mark, to_store(one.changed_at)] for uid, one in risen.items()
    ]
    bulk.insert(con, "calendar_entry", CALENDAR_ENTRY, rows)


CALENDAR_ENTRY = {
    "athlete": "VARCHAR", "uid": "VARCHAR", "sequence": "INTEGER", "mark": "VARCHAR", "changed_at": "TIMESTAMP",
}  # fmt: skip


def take_back_holds(con: duckdb.DuckDBPyConnection, athlete: str, by: str, at: datetime) -> date | None:
    """Forget holds and releases that somebody gave at a moment; the first day of them, None where there are none."""
    given = con.execute(
        "DELETE FROM hold WHERE athlete = ? AND held_by = ? AND held_at = ? RETURNING on_date",
        [athlete, by, to_store(at)],
    ).fetchall()
    return min((on for (on,) in given), default=None)


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
