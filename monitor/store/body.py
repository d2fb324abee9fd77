"""Nights, mornings and check-ins: every telling is kept, the latest of a day stands."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, NamedTuple

import duckdb

from monitor.store import encoding
from monitor.store.encoding import Kinds, from_store, to_store, to_store_or_none
from rules.facts import CheckIn, Morning, Night


@dataclass(frozen=True, slots=True)
class _Table:
    """Columns of a fact, its date first. The first `moment` of them say what it is about: two of them contradict.

    Of files that say alike, as the exports of every day do, the newest are kept as its `tellers`; 0: all.
    """

    name: str
    columns: Kinds
    moment: int
    tellers: int


NIGHT = _Table(
    "night", {"date": "DATE", "bedtime": "TIMESTAMP", "wake": "TIMESTAMP", "total_sleep_min": "DOUBLE"}, 1, 2
)
MORNING = _Table("morning", {"date": "DATE", "resting_hr": "DOUBLE", "rmssd_ms": "DOUBLE"}, 1, 2)
CHECKIN = _Table("checkin", {"date": "DATE", "ordering": "DOUBLE", "fact": "VARCHAR", "fact_md5": "VARCHAR"}, 2, 0)
TABLES = (NIGHT, MORNING, CHECKIN)
TELLER = {"source": "VARCHAR", "sha256": "VARCHAR", "mtime_ns": "BIGINT"}
_Fact = tuple[Any, ...]
_Written = tuple[int, str]
"""Of a file its time; of the same time, its bytes come first or last."""


@dataclass(frozen=True, slots=True)
class SourceFile:
    """A file, its bytes and its time, and the first and last day of which it tells anything."""

    path: str
    sha256: str
    mtime_ns: int
    first: date | None = None
    last: date | None = None


class _Row(NamedTuple):
    """A fact as it is stored, and the file that tells it."""

    number: int
    written: _Written
    path: str
    fact: _Fact


def insert_nights(
    con: duckdb.DuckDBPyConnection, athlete: str, file: SourceFile, nights: Sequence[Night]
) -> list[date]:
    """Store what a file says; the dates of what is new or was corrected."""
    facts = [
        (night.date, to_store_or_none(night.bedtime), to_store_or_none(night.wake), night.total_sleep_min)
        for night in nights
    ]
    return _tell(con, NIGHT, athlete, facts, file)


def insert_mornings(
    con: duckdb.DuckDBPyConnection, athlete: str, file: SourceFile, mornings: Sequence[Morning]
) -> list[date]:
    """Store what a file says; the dates of what is new or was corrected."""
    facts = [(morning.date, morning.resting_hr, morning.rmssd_ms) for morning in mornings]
    return _tell(con, MORNING, athlete, facts, file)


def insert_checkins(
    con: duckdb.DuckDBPyConnection, athlete: str, file: SourceFile, checkins: Sequence[CheckIn]
) -> list[date]:
    """Store what a file says; the dates of what is new or was corrected.

    Another moment of a day is another check-in: what is written over one of the morning does not unsay it.
    """
    texts = [encoding.to_text(replace(checkin, source=None)) for checkin in checkins]
    facts = [
        (checkin.date, checkin.order, text, hashlib.md5(text.encode(), usedforsecurity=False).hexdigest())
        for checkin, text in zip(checkins, texts, strict=True)
    ]
    return _tell(con, CHECKIN, athlete, facts, file)


def forget(con: duckdb.DuckDBPyConnection, athlete: str, sha256: str) -> list[date]:
    """Take away what a file said, before it is read again under other options; the dates of it."""
    dates: list[date] = []
    for table in TABLES:
        gone = con.execute(
            f"DELETE FROM {table.name} WHERE athlete = ? AND sha256 = ? RETURNING date", [athlete, sha256]
        )
        dates += [day for (day,) in gone.fetchall()]
    return dates


def _tell(
    con: duckdb.DuckDBPyConnection, table: _Table, athlete: str, facts: Sequence[_Fact], file: SourceFile
) -> list[date]:
    """Store what one file says; what it said otherwise goes, unless another file says so too.

    Within the days of which it tells it has said all; what is beyond them, such as what an export of the last week has
    left behind, stays. The date of each fact that nobody told before, and of others on which something else may stand.
    """
    written = (file.mtime_ns, file.sha256)
    told = dict.fromkeys(facts)
    days = [day for day in (*(fact[0] for fact in told), file.first, file.last) if day is not None]
    if not days:
        return []
    before = _rows(con, table, athlete, days)
    own = [row for row in before if row.path == file.path]
    moments, told_days = {fact[: table.moment] for fact in told}, {fact[0] for fact in told}
    replaced = [row for row in own if row.fact[: table.moment] in moments or row.fact[0] not in told_days]
    again = [row.number for row in replaced if row.fact in told]
    added = told.keys() - {row.fact for row in own}
    _numbered(con, f"DELETE FROM {table.name}", [row.number for row in replaced if row.fact not in told])
    _numbered(con, f"UPDATE {table.name} SET mtime_ns = ?, sha256 = ?", again, written)
    rows = [(athlete, *fact, file.path, file.sha256, file.mtime_ns) for fact in added]
    encoding.insert(con, table.name, {"athlete": "VARCHAR", **table.columns, **TELLER}, rows)
    if added and table.tellers:
        _keep_newest(con, table, athlete, days)
    known = {row.fact for row in before}
    fresh = [fact[0] for fact in told if fact not in known]
    gone = {row.number for row in replaced}
    stood = _in_order((row.fact, row.written) for row in before)
    kept = ((row.fact, row.written) for row in before if row.number not in gone)
    stands = _in_order([*kept, *((fact, written) for fact in told)])
    return [*fresh, *(day for day in stood.keys() - set(fresh) if stands.get(day) != stood[day])]


def _rows(con: duckdb.DuckDBPyConnection, table: _Table, athlete: str, days: Sequence[date]) -> list[_Row]:
    found = con.execute(
        f"SELECT rowid, mtime_ns, sha256, source, {', '.join(table.columns)} FROM {table.name}"
        " WHERE athlete = ? AND date BETWEEN ? AND ?",
        [athlete, min(days), max(days)],
    ).fetchall()
    return [_Row(number, (mtime_ns, sha256), path, tuple(fact)) for number, mtime_ns, sha256, path, *fact in found]


def _in_order(tellings: Iterable[tuple[_Fact, _Written]]) -> dict[date, list[_Fact]]:
    """Date -> what is told of it, each once, what was written last at the end."""
    newest: dict[_Fact, _Written] = {}
    for fact, written in tellings:
        newest[fact] = max(written, newest.get(fact, written))
    days: dict[date, list[_Fact]] = {}
    for fact in sorted(newest, key=lambda fact: (newest[fact], repr(fact))):
        days.setdefault(fact[0], []).append(fact)
    return days


def _numbered(con: duckdb.DuckDBPyConnection, act: str, numbers: Sequence[int], values: Sequence[Any] = ()) -> None:
    if numbers:
        con.execute(f"{act} WHERE rowid IN (SELECT unnest(?::BIGINT[]))", [*values, list(numbers)])


def _keep_newest(con: duckdb.DuckDBPyConnection, table: _Table, athlete: str, days: Sequence[date]) -> None:
    """Of more files than are kept that say alike, leave the oldest out."""
    alike = ", ".join(table.columns)
    con.execute(
        f"DELETE FROM {table.name} WHERE rowid IN ("
        f"SELECT rowid FROM {table.name} WHERE athlete = ? AND date BETWEEN ? AND ?"
        f" QUALIFY row_number() OVER (PARTITION BY {alike} ORDER BY mtime_ns DESC, sha256 DESC, source DESC) > ?)",
        [athlete, min(days), max(days), table.tellers],
    )


def add_checkin(found: list[CheckIn], checkin: CheckIn, source: str | None) -> None:
    """Add the next of a day's check-ins: the file written later stands."""
    checkin = replace(checkin, source=source)
    if found and found[-1].date == checkin.date and checkin.order <= found[-1].order:
        checkin = replace(checkin, order=found[-1].order + 0.001)
    found.append(checkin)


def last_facts_at(con: duckdb.DuckDBPyConnection, athletes: Sequence[str], now: datetime) -> dict[str, datetime]:
    """Athlete -> the latest moment, not after `now`, that any fact tells of (a day counts as its noon, UTC)."""
    of = "WHERE list_contains($athletes, athlete) AND"
    noon = "max(date)::TIMESTAMP + INTERVAL 12 HOUR"
    dated = [f"SELECT athlete, {noon} FROM {one.name} {of} date <= $now GROUP BY athlete" for one in TABLES]
    rows = con.execute(
        "SELECT athlete, max(moment) FROM ("
        f"SELECT athlete, max(ended) AS moment FROM session {of} ended <= $now GROUP BY athlete"
        f" UNION ALL {' UNION ALL '.join(dated)}) GROUP BY athlete",
        {"athletes": list(athletes), "now": to_store(now)},
    ).fetchall()
    return {athlete: min(from_store(moment), now) for athlete, moment in rows}
