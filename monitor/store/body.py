"""Nights, mornings and check-ins: every telling is kept, the latest of a day stands."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any

import duckdb

from monitor.store import encoding
from monitor.store.encoding import from_store_or_none, to_store_or_none
from rules.facts import CheckIn, Morning, Night


def insert_nights(
    con: duckdb.DuckDBPyConnection, athlete: str, sha256: str, mtime_ns: int, nights: Sequence[Night]
) -> list[date]:
    """Store what is new; the dates of it."""
    facts = [
        (night.date, to_store_or_none(night.bedtime), to_store_or_none(night.wake), night.total_sleep_min)
        for night in nights
    ]
    columns = ("date", "bedtime", "wake", "total_sleep_min")
    return _insert_new(con, "night", columns, athlete, facts, [(night.source, sha256, mtime_ns) for night in nights])


def insert_mornings(
    con: duckdb.DuckDBPyConnection, athlete: str, sha256: str, mtime_ns: int, mornings: Sequence[Morning]
) -> list[date]:
    """Store what is new; the dates of it."""
    facts = [(morning.date, morning.resting_hr, morning.rmssd_ms) for morning in mornings]
    columns = ("date", "resting_hr", "rmssd_ms")
    return _insert_new(con, "morning", columns, athlete, facts, [(one.source, sha256, mtime_ns) for one in mornings])


def insert_checkins(
    con: duckdb.DuckDBPyConnection, athlete: str, sha256: str, mtime_ns: int, checkins: Sequence[CheckIn]
) -> list[date]:
    """Store what is new; the dates of it. What the athlete said counts, not which file said it."""
    texts = [encoding.to_text(replace(checkin, source=None)) for checkin in checkins]
    facts = [
        (checkin.date, checkin.order, text, hashlib.md5(text.encode(), usedforsecurity=False).hexdigest())
        for checkin, text in zip(checkins, texts, strict=True)
    ]
    columns = ("date", "ordering", "fact", "fact_md5")
    return _insert_new(con, "checkin", columns, athlete, facts, [(one.source, sha256, mtime_ns) for one in checkins])


def forget(con: duckdb.DuckDBPyConnection, athlete: str, sha256: str) -> list[date]:
    """Take away what a file said, before it is read again under other options; the dates of it."""
    dates: list[date] = []
    for table in ("night", "morning", "checkin"):
        gone = con.execute(f"DELETE FROM {table} WHERE athlete = ? AND sha256 = ? RETURNING date", [athlete, sha256])
        dates += [day for (day,) in gone.fetchall()]
    return dates


def _insert_new(
    con: duckdb.DuckDBPyConnection,
    table: str,
    columns: Sequence[str],
    athlete: str,
    facts: Sequence[tuple[Any, ...]],
    origins: Sequence[tuple[Any, ...]],
) -> list[date]:
    """Insert the facts that no row tells yet, in one statement a hundred; `facts` begin with their date.

    Returns the dates of what is new, and of what a newer file tells again after another value stood in between.
    """
    if not facts:
        return []
    first, last = min(fact[0] for fact in facts), max(fact[0] for fact in facts)
    rows = con.execute(
        f"SELECT rowid, mtime_ns, {', '.join(columns)} FROM {table} WHERE athlete = ? AND date BETWEEN ? AND ?",
        [athlete, first, last],
    ).fetchall()
    known = {tuple(row[2:]): (row[0], row[1]) for row in rows}
    fresh: list[tuple[Any, ...]] = []
    again: list[tuple[int, int]] = []
    back: list[date] = []
    for fact, origin in zip(facts, origins, strict=True):
        stored = known.get(tuple(fact))
        if stored is None:
            known[tuple(fact)] = (-1, origin[-1])
            fresh.append((athlete, *fact, *origin))
        elif stored[1] < origin[-1] and stored[0] >= 0:
            again.append((stored[0], origin[-1]))
            if any(row[2] == fact[0] and stored[1] < row[1] <= origin[-1] for row in rows):
                back.append(fact[0])
    for begin in range(0, len(fresh), 100):
        part = fresh[begin : begin + 100]
        places = ", ".join("(" + ", ".join("?" for _ in row) + ")" for row in part)
        con.execute(f"INSERT INTO {table} VALUES {places}", [value for row in part for value in row])
    if again:
        newest_ns = max(mtime_ns for _, mtime_ns in again)
        con.execute(
            f"UPDATE {table} SET mtime_ns = ? WHERE rowid IN (SELECT unnest(?::BIGINT[]))",
            [newest_ns, [rowid for rowid, _ in again]],
        )
    return [*(row[1] for row in fresh), *back]


def nights(con: duckdb.DuckDBPyConnection, athlete: str, first: date, last: date) -> list[Night]:
    """One night a date: what the newest file says of it, field by field."""
    rows = con.execute(
        f"SELECT date, {newest('bedtime')}, {newest('wake')}, {newest('total_sleep_min')}, arg_max(source, mtime_ns)"
        " FROM night WHERE athlete = ? AND date BETWEEN ? AND ? GROUP BY date ORDER BY date",
        [athlete, first, last],
    ).fetchall()
    return [
        Night(day, from_store_or_none(bedtime), from_store_or_none(wake), total, source)
        for day, bedtime, wake, total, source in rows
    ]


def mornings(con: duckdb.DuckDBPyConnection, athlete: str, first: date, last: date) -> list[Morning]:
    """One morning a date: what the newest file says of it, field by field."""
    rows = con.execute(
        f"SELECT date, {newest('resting_hr')}, {newest('rmssd_ms')}, arg_max(source, mtime_ns)"
        " FROM morning WHERE athlete = ? AND date BETWEEN ? AND ? GROUP BY date ORDER BY date",
        [athlete, first, last],
    ).fetchall()
    return [Morning(day, resting_hr, rmssd_ms, source) for day, resting_hr, rmssd_ms, source in rows]


def newest(column: str) -> str:
    """The value that the newest file gives, ties by its bytes; files that leave the field empty do not count."""
    return f"arg_max({column}, (mtime_ns, sha256)) FILTER ({column} IS NOT NULL)"


def checkins(con: duckdb.DuckDBPyConnection, athlete: str, first: date, last: date) -> list[CheckIn]:
    """All check-ins, the latest of a day last."""
    rows = con.execute(
        "SELECT fact, source FROM checkin WHERE athlete = ? AND date BETWEEN ? AND ?"
        " ORDER BY date, ordering, mtime_ns, sha256",
        [athlete, first, last],
    ).fetchall()
    found: list[CheckIn] = []
    for fact, source in rows:
        add_checkin(found, encoding.from_text(CheckIn, fact), source)
    return found


def add_checkin(found: list[CheckIn], checkin: CheckIn, source: str | None) -> None:
    """Add the next of a day's check-ins: the file written later stands."""
    checkin = replace(checkin, source=source)
    if found and found[-1].date == checkin.date and checkin.order <= found[-1].order:
        checkin = replace(checkin, order=found[-1].order + 0.001)
    found.append(checkin)


def last_fact_at(con: duckdb.DuckDBPyConnection, athlete: str, now: datetime) -> datetime | None:
    """The latest moment, not after `now`, that any fact tells of (a day counts as its noon, UTC)."""
    row = con.execute(
        "SELECT max(moment) FROM (SELECT max(ended) AS moment FROM session WHERE athlete = $a AND ended <= $n"
        " UNION ALL SELECT max(date)::TIMESTAMP + INTERVAL 12 HOUR FROM night WHERE athlete = $a AND date <= $n"
        " UNION ALL SELECT max(date)::TIMESTAMP + INTERVAL 12 HOUR FROM morning WHERE athlete = $a AND date <= $n"
        " UNION ALL SELECT max(date)::TIMESTAMP + INTERVAL 12 HOUR FROM checkin WHERE athlete = $a AND date <= $n)",
        {"a": athlete, "n": to_store_or_none(now)},
    ).fetchone()
    moment = from_store_or_none(row[0]) if row else None
    return min(moment, now) if moment else None
