"""Nights, mornings and check-ins: every telling is kept, the latest of a day stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime

import duckdb

from monitor.store import codec
from monitor.store.times import from_store_or_none, to_store_or_none
from rules.facts import CheckIn, Morning, Night


def insert_nights(
    con: duckdb.DuckDBPyConnection, athlete: str, sha256: str, mtime_ns: int, nights: Sequence[Night]
) -> list[date]:
    """Store what is new; the dates of it."""
    fresh = []
    for night in nights:
        fact = [night.date, to_store_or_none(night.bedtime), to_store_or_none(night.wake), night.total_sleep_min]
        if _known(con, "night", ("date", "bedtime", "wake", "total_sleep_min"), athlete, fact):
            continue
        con.execute(
            "INSERT INTO night VALUES (?, ?, ?, ?, ?, ?, ?, ?)", [athlete, *fact, night.source, sha256, mtime_ns]
        )
        fresh.append(night.date)
    return fresh


def insert_mornings(
    con: duckdb.DuckDBPyConnection, athlete: str, sha256: str, mtime_ns: int, mornings: Sequence[Morning]
) -> list[date]:
    """Store what is new; the dates of it."""
    fresh = []
    for morning in mornings:
        fact = [morning.date, morning.resting_hr, morning.rmssd_ms]
        if _known(con, "morning", ("date", "resting_hr", "rmssd_ms"), athlete, fact):
            continue
        con.execute(
            "INSERT INTO morning VALUES (?, ?, ?, ?, ?, ?, ?)", [athlete, *fact, morning.source, sha256, mtime_ns]
        )
        fresh.append(morning.date)
    return fresh


def insert_checkins(
    con: duckdb.DuckDBPyConnection, athlete: str, sha256: str, mtime_ns: int, checkins: Sequence[CheckIn]
) -> list[date]:
    """Store what is new; the dates of it."""
    fresh = []
    for checkin in checkins:
        fact = [checkin.date, checkin.order, codec.to_text(checkin)]
        if _known(con, "checkin", ("date", "ordering", "fact"), athlete, fact):
            continue
        con.execute(
            "INSERT INTO checkin VALUES (?, ?, ?, ?, ?, ?, ?)", [athlete, *fact, checkin.source, sha256, mtime_ns]
        )
        fresh.append(checkin.date)
    return fresh


def _known(
    con: duckdb.DuckDBPyConnection, table: str, columns: Sequence[str], athlete: str, fact: Sequence[object]
) -> bool:
    same = " AND ".join(f"{column} IS NOT DISTINCT FROM ?" for column in columns)
    found = con.execute(f"SELECT 1 FROM {table} WHERE athlete = ? AND {same} LIMIT 1", [athlete, *fact]).fetchone()
    return found is not None


def nights(con: duckdb.DuckDBPyConnection, athlete: str, first: date, last: date) -> list[Night]:
    """One night a date: what the newest file says of it, field by field."""
    rows = con.execute(
        f"SELECT date, {_newest('bedtime')}, {_newest('wake')}, {_newest('total_sleep_min')}, arg_max(source, mtime_ns)"
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
        f"SELECT date, {_newest('resting_hr')}, {_newest('rmssd_ms')}, arg_max(source, mtime_ns)"
        " FROM morning WHERE athlete = ? AND date BETWEEN ? AND ? GROUP BY date ORDER BY date",
        [athlete, first, last],
    ).fetchall()
    return [Morning(day, resting_hr, rmssd_ms, source) for day, resting_hr, rmssd_ms, source in rows]


def _newest(column: str) -> str:
    """The value that the newest file gives, ties by its bytes; files that leave the field empty do not count."""
    return f"arg_max({column}, (mtime_ns, sha256)) FILTER ({column} IS NOT NULL)"


def checkins(con: duckdb.DuckDBPyConnection, athlete: str, first: date, last: date) -> list[CheckIn]:
    """All check-ins, the latest of a day last."""
    rows = con.execute(
        "SELECT fact FROM checkin WHERE athlete = ? AND date BETWEEN ? AND ? ORDER BY date, ordering, mtime_ns, sha256",
        [athlete, first, last],
    ).fetchall()
    found: list[CheckIn] = []
    for (fact,) in rows:
        checkin = codec.from_text(CheckIn, fact)
        if found and found[-1].date == checkin.date and checkin.order <= found[-1].order:
            checkin = replace(checkin, order=found[-1].order + 0.001)  # the file written later stands
        found.append(checkin)
    return found


def last_fact_at(con: duckdb.DuckDBPyConnection, athlete: str, now: datetime) -> datetime | None:
    """The latest moment, not after `now`, that any fact tells of (a day counts as its noon, UTC)."""
    row = con.execute(
        "SELECT max(moment) FROM (SELECT max(ended) AS moment FROM session WHERE athlete = $a AND ended <= $n"
        " UNION ALL SELECT max(date)::TIMESTAMP + INTERVAL 12 HOUR FROM night WHERE athlete = $a"
        " UNION ALL SELECT max(date)::TIMESTAMP + INTERVAL 12 HOUR FROM morning WHERE athlete = $a"
        " UNION ALL SELECT max(date)::TIMESTAMP + INTERVAL 12 HOUR FROM checkin WHERE athlete = $a)",
        {"a": athlete, "n": to_store_or_none(now)},
    ).fetchone()
    moment = from_store_or_none(row[0]) if row else None
    return min(moment, now) if moment else None
