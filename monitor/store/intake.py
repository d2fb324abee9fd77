"""The ledger of files: every path seen, what became of it and why."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

import duckdb

from monitor.store import decisions, encoding
from monitor.store.encoding import from_store_or_none, to_store_or_none
from monitor.values import Seen

INTAKE = {
    "athlete": "VARCHAR", "path": "VARCHAR", "sha256": "VARCHAR", "size": "BIGINT", "mtime_ns": "BIGINT",
    "state": "VARCHAR", "reason": "VARCHAR", "sessions": "INTEGER", "nights": "INTEGER", "mornings": "INTEGER",
    "checkins": "INTEGER", "read_at": "TIMESTAMP", "current": "BOOLEAN", "arrived_at": "TIMESTAMP",
    "read_under": "VARCHAR", "again_on": "DATE",
}  # fmt: skip

ARRIVED, WATCHED = "arrived", "watched"
"""Kinds of keys that the journal keeps too, before the athlete's id: when files last came, when a look began."""


@dataclass(frozen=True, slots=True)
class LedgerRow:
    athlete: str
    path: str
    sha256: str
    size: int
    mtime_ns: int
    state: str  # read duplicate unreadable ignored waiting
    reason: str = ""
    sessions: int = 0
    nights: int = 0
    mornings: int = 0
    checkins: int = 0
    read_at: datetime | None = None
    arrived_at: datetime | None = None
    read_under: str | None = None  # the options under which it was read, where what it says depends on them
    again_on: date | None = None  # the first of the days to come that it tells of, and that were left out


def known(con: duckdb.DuckDBPyConnection, athlete: str, under: str) -> dict[str, tuple[int, int]]:
    """path -> (size, mtime_ns) of all that was decided about under these options; waiting files are not among them."""
    rows = con.execute(
        "SELECT path, size, mtime_ns FROM intake WHERE athlete = ? AND current AND state <> 'waiting'"
        " AND (read_under IS NULL OR read_under = ?) AND (again_on IS NULL OR again_on > current_date + 1)",
        [athlete, under],
    ).fetchall()
    return {path: (size, mtime_ns) for path, size, mtime_ns in rows}


def decided(con: duckdb.DuckDBPyConnection, athlete: str, seen: Seen) -> bool:
    """Whether the ledger says what became of this very file; a waiting one is not decided."""
    row = con.execute(
        "SELECT 1 FROM intake WHERE athlete = ? AND path = ? AND size = ? AND mtime_ns = ? AND current"
        " AND state <> 'waiting' LIMIT 1",
        [athlete, seen.relative, seen.size, seen.mtime_ns],
    ).fetchone()
    return row is not None


def known_before(
    con: duckdb.DuckDBPyConnection, athlete: str, paths: Collection[str], sha256s: Collection[str], under: str
) -> tuple[dict[str, str], dict[str, LedgerRow]]:
    """sha256 -> path of a file that held these bytes and was read, the first by name; path -> the row of a file that
    was read under other options than these.
    """
    at_paths, names = encoding.among("path", paths)
    of_bytes, sums = encoding.among("sha256", sha256s)
    rows = _rows(con, f"({at_paths} OR {of_bytes})", [athlete, *names, *sums])
    read = [(row.sha256, row.path) for row, _ in rows if row.sha256 in sha256s and row.state in ("read", "duplicate")]
    again = {
        row.path: row
        for row, current in rows
        if current and row.path in paths and row.read_under is not None and row.read_under != under
    }
    return dict(sorted(read, reverse=True)), again


def of_recordings(con: duckdb.DuckDBPyConnection, athlete: str, sha256s: Iterable[str]) -> list[LedgerRow]:
    """Rows of files with these bytes that hold recordings."""
    rows = _rows(
        con,
        "current AND state IN ('read', 'duplicate') AND list_contains(?::VARCHAR[], sha256)"
        " AND (athlete, sha256) IN (SELECT (athlete, sha256) FROM recording)",
        [athlete, list(sha256s)],
    )
    return [row for row, _ in rows]


def _rows(con: duckdb.DuckDBPyConnection, where: str, values: Sequence[object]) -> list[tuple[LedgerRow, bool]]:
    """Rows of an athlete, the first of the values, and whether each is what the ledger says of its path now."""
    names = [name for name in INTAKE if name != "current"]
    rows = con.execute(
        f"SELECT current, {', '.join(names)} FROM intake WHERE athlete = ? AND {where} ORDER BY path", values
    )
    found = [(current, dict(zip(names, row, strict=True))) for current, *row in rows.fetchall()]
    times = ("read_at", "arrived_at")
    return [
        (LedgerRow(**{**row, **{name: from_store_or_none(row[name]) for name in times}}), current)
        for current, row in found
    ]


def ever_read(con: duckdb.DuckDBPyConnection) -> set[str]:
    """Athletes of whom any file was read."""
    return {
        athlete for (athlete,) in con.execute("SELECT DISTINCT athlete FROM intake WHERE state = 'read'").fetchall()
    }


def files_present(
    con: duckdb.DuckDBPyConnection, athlete: str, paths: Iterable[str], sha256s: Iterable[str]
) -> dict[str, str]:
    """path -> bytes that lie there, as far as it was decided about them, of these paths and of any with these bytes."""
    rows = con.execute(
        "SELECT path, sha256 FROM intake WHERE athlete = ? AND current AND state IN ('read', 'duplicate')"
        " AND (list_contains(?::VARCHAR[], path) OR list_contains(?::VARCHAR[], sha256))",
        [athlete, list(set(paths)), list(set(sha256s))],
    ).fetchall()
    return dict(rows)


def record(con: duckdb.DuckDBPyConnection, *rows: LedgerRow) -> None:
    """Note what became of paths. Other bytes at the same path make an older row history, the same bytes replace it."""
    later = {(row.athlete, row.path): row for row in rows}
    for row in rows:
        if later[row.athlete, row.path] is not row:  # a path twice: one after the other
            record(con, row)
    if not later:
        return
    whose, athletes = encoding.among("athlete", {athlete for athlete, _ in later})
    named, paths = encoding.among("path", {path for _, path in later})
    there = con.execute(f"SELECT athlete, path FROM intake WHERE {whose} AND {named}", [*athletes, *paths]).fetchall()
    places = [[*place, later[place].sha256] for place in later.keys() & set(there)]
    if places:
        kinds = {"athlete": "VARCHAR", "path": "VARCHAR", "sha256": "VARCHAR"}
        con.execute(
            f"DELETE FROM intake USING ({encoding.unnested(kinds)}) AS new WHERE intake.athlete = new.athlete"
            " AND intake.path = new.path"
            " AND (intake.sha256 = new.sha256 OR intake.sha256 = '' OR intake.state = 'waiting')",
            encoding.columns(places),
        )
        con.execute(
            f"UPDATE intake SET current = false FROM ({encoding.unnested(kinds)}) AS new"
            " WHERE intake.athlete = new.athlete AND intake.path = new.path AND intake.current",
            encoding.columns(places),
        )
    encoding.insert(con, "intake", INTAKE, [_row(row) for row in later.values()])


def _row(row: LedgerRow) -> list[object]:
    return [
        row.athlete, row.path, row.sha256, row.size, row.mtime_ns, row.state, row.reason, row.sessions, row.nights,
        row.mornings, row.checkins, to_store_or_none(row.read_at), True, to_store_or_none(row.arrived_at),
        row.read_under, row.again_on,
    ]  # fmt: skip


def touch(con: duckdb.DuckDBPyConnection, athlete: str, sha256: str, seen: Seen, again_on: date | None = None) -> bool:
    """The same bytes still lie at the path under another time: note the time only. False when they do not."""
    found = con.execute(
        "UPDATE intake SET size = ?, mtime_ns = ?, again_on = ?"
        " WHERE athlete = ? AND path = ? AND sha256 = ? AND current"
        " AND state IN ('read', 'duplicate') RETURNING 1",
        [seen.size, seen.mtime_ns, again_on, athlete, seen.relative, sha256],
    ).fetchall()
    return bool(found)


def listing(con: duckdb.DuckDBPyConnection) -> list[dict[str, Any]]:
    """The ledger, newest first, in the shape of `intake --json`."""
    columns = "path, athlete, sha256, state, reason, sessions, nights, mornings, checkins, read_at"
    rows = con.execute(
        f"SELECT {columns}, current FROM intake ORDER BY read_at DESC NULLS LAST, athlete, path"
    ).fetchall()
    names = [*columns.split(", "), "current"]
    return [{**dict(zip(names, row, strict=True)), "read_at": from_store_or_none(row[9])} for row in rows]


def below(con: duckdb.DuckDBPyConnection, athlete: str, folders: Iterable[str]) -> list[dict[str, Any]]:
    """What lies in some subfolders (each with its stroke) and what became of it, newest first."""
    names = ("path", "state", "reason", "sessions", "nights", "mornings", "checkins", "read_at")
    rows = con.execute(
        f"SELECT {', '.join(names)} FROM intake WHERE athlete = ? AND current"
        " AND EXISTS (SELECT 1 FROM unnest(?::VARCHAR[]) AS given(folder) WHERE starts_with(path, folder))"
        " ORDER BY read_at DESC NULLS FIRST, path",
        [athlete, list(folders)],
    ).fetchall()
    return [{**dict(zip(names, row, strict=True)), "read_at": from_store_or_none(row[-1])} for row in rows]


@dataclass(frozen=True, slots=True)
class Looks:
    """When a file of an athlete was first and last looked at, and when one last came after the first import."""

    first_read: datetime | None = None
    last_read: datetime | None = None
    last_arrival: datetime | None = None  # to this store or to the ones before it
    watched_since: datetime | None = None  # as it is noted


def looks(con: duckdb.DuckDBPyConnection, athletes: Sequence[str] | None = None) -> dict[str, Looks]:
    """Athlete -> when files came and were looked at; of all where none are named."""
    moments = "min(read_at), max(read_at), max(arrived_at)"
    if athletes is not None and len(athletes) == 1:  # grouped it would take twice as long
        rows = con.execute(
            f"SELECT any_value(athlete), {moments} FROM intake WHERE athlete = ?", list(athletes)
        ).fetchall()
    else:
        named, values = ("true", []) if athletes is None else encoding.among("athlete", athletes)
        rows = con.execute(f"SELECT athlete, {moments} FROM intake WHERE {named} GROUP BY athlete", values).fetchall()
    found = {athlete: Looks(*map(from_store_or_none, times)) for athlete, *times in rows if athlete is not None}
    for key, at in decisions.noted_of(con, (ARRIVED, WATCHED), athletes).items():
        kind, athlete, *_ = key.split(":")
        here = found.get(athlete, Looks())
        if kind == WATCHED:
            found[athlete] = replace(here, watched_since=at)
        else:
            found[athlete] = replace(here, last_arrival=max(at, here.last_arrival or at))
    return found


def note_arrivals(con: duckdb.DuckDBPyConnection) -> None:
    """Have the journal learn when files last came: of a store begun anew all of them are a first import."""
    for athlete, look in looks(con).items():
        if (at := look.last_arrival) is not None:
            decisions.first_time(con, f"{ARRIVED}:{athlete}:{at.isoformat()}", at, owed=True)


def unreadable(con: duckdb.DuckDBPyConnection, athletes: Sequence[str]) -> list[tuple[str, str, str]]:
    """(athlete, path, reason) of every file of some athletes that lies there and cannot be read."""
    return con.execute(
        "SELECT athlete, path, reason FROM intake WHERE state = 'unreadable' AND current"
        " AND list_contains($1, athlete) ORDER BY athlete, path",
        [list(athletes)],
    ).fetchall()
