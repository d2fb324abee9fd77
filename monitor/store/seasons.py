"""The facts of many athletes at once: a query a table instead of several queries an athlete."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import duckdb

from monitor.store import body, encoding, findings, intake, recordings
from monitor.store.encoding import from_store_or_none, to_store
from rules.facts import CheckIn, Hold, Morning, Night, Session
from rules.findings import Finding

WANTED = "(SELECT unnest(?) AS athlete, unnest(?) AS start, unnest(?) AS first_day, unnest(?) AS last_day) AS wanted"
DAY = timedelta(days=1)
LONGEST = timedelta(days=3)
"""A session that began before a window and is longer may be overlooked as the last thing heard of."""


@dataclass(frozen=True, slots=True)
class Window:
    """Whose facts are wanted: sessions that begin from `start` on, and what is dated from `first` to `last`."""

    athlete: str
    start: datetime
    first: date = date.min
    last: date = date.max


@dataclass(slots=True)
class Season:
    """What the store knows of one athlete within a window."""

    sessions: list[Session] = field(default_factory=list)
    nights: list[Night] = field(default_factory=list)
    mornings: list[Morning] = field(default_factory=list)
    checkins: list[CheckIn] = field(default_factory=list)
    holds: list[Hold] = field(default_factory=list)
    standing: list[Finding] = field(default_factory=list)
    last_arrival: datetime | None = None
    last_fact_at: datetime | None = None
    watched_since: datetime | None = None  # None: never looked at
    watch_is_noted: bool = False
    clock_set_back: bool = False  # a file was looked at after now


def seasons(con: duckdb.DuckDBPyConnection, windows: Sequence[Window], now: datetime) -> dict[str, Season]:
    """athlete id -> facts within the window, sessions up to a day past `now`; the rest is not bound by the window."""
    found = {window.athlete: Season() for window in windows}
    if not found:
        return found
    _sessions(con, windows, to_store(now + DAY), found)
    _body(con, windows, found)
    _checkins(con, windows, found)
    _decided(con, list(found), found)
    _seen(con, windows, now, found)
    return found


def _rows(
    con: duckdb.DuckDBPyConnection,
    table: str,
    columns: str,
    windows: Sequence[Window],
    order: str,
    until: datetime | None = None,
) -> list[tuple[Any, ...]]:
    """Rows of a table within each athlete's window, the athlete first; what begins at a moment, from it `until` then.

    Those of one athlete are asked for without the join, which would cost more than all else.
    """
    day = "date" if until is None else "started"
    if len(windows) == 1:
        (one,) = windows
        source = f"{table} WHERE athlete = ? AND {day} BETWEEN ? AND ?"
        values = [one.athlete, one.first, one.last] if until is None else [one.athlete, to_store(one.start), until]
    else:
        bounds = "first_day AND last_day" if until is None else "start AND ?"
        source = f"{table} JOIN {WANTED} USING (athlete) WHERE {day} BETWEEN {bounds}"
        values = [
            [one.athlete for one in windows],
            [to_store(one.start) for one in windows],
            [one.first for one in windows],
            [one.last for one in windows],
            *([] if until is None else [until]),
        ]
    return con.execute(f"SELECT athlete, {columns} FROM {source} ORDER BY {order}", values).fetchall()


def _sessions(
    con: duckdb.DuckDBPyConnection, windows: Sequence[Window], until: datetime, found: dict[str, Season]
) -> None:
    for athlete, *row in _rows(con, "session", recordings.SESSION_COLUMNS, windows, "started, key", until):
        found[athlete].sessions.append(recordings.session_of(row))


WRITTEN = "mtime_ns, sha256, source"
"""What was written last at the end."""


def _body(con: duckdb.DuckDBPyConnection, windows: Sequence[Window], found: dict[str, Season]) -> None:
    """One night (its length) and one morning a date: what the newest file says, field by field."""
    nights = _rows(con, "night", "date, bedtime, wake, total_sleep_min, source", windows, f"date, {WRITTEN}")
    for (athlete, day), (bedtime, wake, total, file) in _newest(nights).items():
        found[athlete].nights.append(Night(day, from_store_or_none(bedtime), from_store_or_none(wake), total, file))
    mornings = _rows(con, "morning", "date, resting_hr, rmssd_ms, source", windows, f"date, {WRITTEN}")
    for (athlete, day), row in _newest(mornings).items():
        found[athlete].mornings.append(Morning(day, *row))


def _newest(rows: Iterable[tuple[Any, ...]]) -> dict[tuple[str, date], list[Any]]:
    """(athlete, date) -> the last value of each field, by the order of rows; one that is left empty does not count."""
    found: dict[tuple[str, date], list[Any]] = {}
    for athlete, day, *told in rows:
        before = found.setdefault((athlete, day), told)
        for column, value in enumerate(told):
            if value is not None:
                before[column] = value
    return found


def _checkins(con: duckdb.DuckDBPyConnection, windows: Sequence[Window], found: dict[str, Season]) -> None:
    """In the order in which they count, each once, however many files tell it: where it was told last."""
    told: dict[tuple[Any, ...], str] = {}
    order = f"date, ordering, {WRITTEN}"
    for *checkin, source in _rows(con, "checkin", "date, ordering, fact, source", windows, order):
        told.pop(tuple(checkin), None)
        told[tuple(checkin)] = source
    for (athlete, _, _, fact), source in told.items():
        body.add_checkin(found[athlete].checkins, encoding.from_text(CheckIn, fact), source)


def _decided(con: duckdb.DuckDBPyConnection, athletes: list[str], found: dict[str, Season]) -> None:
    """Findings that stand, newest first; holds and releases, oldest first."""
    named, values = encoding.among("athlete", athletes)
    for athlete, fact in con.execute(
        f"SELECT athlete, fact FROM finding WHERE withdrawn_at IS NULL AND {named}"
        " ORDER BY date DESC, subject_end DESC, id",
        values,
    ).fetchall():
        found[athlete].standing.append(encoding.from_text(Finding, fact))
    for athlete, holds in findings.holds(con, athletes).items():
        found[athlete].holds = holds


def _seen(con: duckdb.DuckDBPyConnection, windows: Sequence[Window], now: datetime, found: dict[str, Season]) -> None:
    """When files and facts last came and since when there was a look for them."""
    looks = intake.looks(con, list(found))
    for athlete, season in found.items():
        look = looks.get(athlete, intake.Looks())
        season.last_arrival = look.last_arrival
        season.clock_set_back = look.last_read is not None and look.last_read > now
        season.watch_is_noted = look.watched_since is not None
        season.watched_since = look.watched_since or look.first_read
    unsure = []
    for window in windows:
        at = found[window.athlete].last_fact_at = _last_fact(found[window.athlete], now)
        if at is None or at < window.start + LONGEST or window.last < now.astimezone(UTC).date():
            unsure.append(window.athlete)  # something before the window, or beyond it, may have been later
    for athlete, at in body.last_facts_at(con, unsure, now).items() if unsure else ():
        found[athlete].last_fact_at = at


def _last_fact(season: Season, now: datetime) -> datetime | None:
    """The latest moment up to `now` that the facts of a window tell of (a day counts as its noon, UTC)."""
    ends = [session.end for session in season.sessions if session.end <= now]
    days = [fact.date for facts in (season.nights, season.mornings, season.checkins) for fact in facts]
    noons = [datetime.combine(day, time(12), UTC) for day in days if day <= now.astimezone(UTC).date()]
    return min(max([*ends, *noons]), now) if ends or noons else None


def changes(con: duckdb.DuckDBPyConnection) -> dict[str, str]:
    """athlete -> a text that changes when anything may that is told of them: facts, findings, marks, files.

    What is stored is judged in the same transaction or asks for it, so that the last judgement tells of all facts.
    """
    rows = con.execute(
        "SELECT athlete, string_agg(told, ',' ORDER BY told) FROM ("
        " SELECT athlete, fingerprint || judged_at AS told FROM judged"
        " UNION ALL SELECT athlete, 'u' || since FROM unjudged"
        " UNION ALL SELECT athlete, 'i' || count(*) || coalesce(max(arrived_at)::VARCHAR, '')"
        " || count(*) FILTER (state = 'unreadable' AND current) FROM intake GROUP BY athlete"
        " UNION ALL SELECT athlete, 'm' || count(*) || max(marked_at) FROM mark"
        " JOIN finding ON finding.id = mark.finding GROUP BY athlete"
        " UNION ALL SELECT athlete, 'h' || count(*) || max(held_at) FROM hold GROUP BY athlete"
        ") GROUP BY athlete"
    ).fetchall()
    return dict(rows)


def contents(con: duckdb.DuckDBPyConnection, windows: Sequence[Window], ends: Sequence[datetime]) -> list[str]:
    """A text for each window that changes when any fact in it does."""
    rows = con.execute(
        "WITH w AS (SELECT unnest($n) AS n, unnest($athletes) AS athlete, unnest($starts) AS a, unnest($ends) AS b)"
        " SELECT n, md5(string_agg(told, ',' ORDER BY told)) FROM ("
        " SELECT n, key || version AS told FROM session JOIN w USING (athlete) WHERE started BETWEEN a AND b"
        " UNION ALL SELECT n, 'n' || date || sha256 FROM night JOIN w USING (athlete) WHERE date BETWEEN a AND b"
        " UNION ALL SELECT n, 'm' || date || sha256 FROM morning JOIN w USING (athlete) WHERE date BETWEEN a AND b"
        " UNION ALL SELECT n, 'c' || date || sha256 FROM checkin JOIN w USING (athlete) WHERE date BETWEEN a AND b"
        ") GROUP BY n",
        {
            "n": list(range(len(windows))),
            "athletes": [window.athlete for window in windows],
            "starts": [to_store(window.start) for window in windows],
            "ends": [to_store(end) for end in ends],
        },
    ).fetchall()
    found = dict(rows)
    return [str(found.get(number, "")) for number in range(len(windows))]
