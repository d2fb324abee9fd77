"""The facts of many athletes at once: a query a table instead of several queries an athlete."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

import duckdb

from monitor.store import body, decisions, encoding, findings, intake, recordings
from monitor.store.encoding import from_store_or_none, to_store
from rules.facts import CheckIn, Hold, Morning, Night, Session
from rules.findings import Finding

WANTED = (
    "(SELECT unnest($athletes) AS athlete, unnest($starts) AS start, unnest($firsts) AS first_day,"
    " unnest($lasts) AS last_day) AS wanted"
)
WATCHED = "watched:"
"""The key under which it is noted when a folder was first looked at, before the athlete's id."""
DAY = timedelta(days=1)


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
    wanted: dict[str, Any] = {
        "athletes": list(found),
        "starts": [to_store(window.start) for window in windows],
        "firsts": [window.first for window in windows],
        "lasts": [window.last for window in windows],
    }
    _sessions(con, {**wanted, "end": to_store(now + DAY)}, found)
    _body(con, wanted, found)
    _checkins(con, wanted, found)
    _decided(con, list(found), found)
    _seen(con, list(found), now, found)
    return found


def _sessions(con: duckdb.DuckDBPyConnection, parameters: dict[str, Any], found: dict[str, Season]) -> None:
    rows = con.execute(
        f"SELECT athlete, {recordings.SESSION_COLUMNS} FROM session JOIN {WANTED} USING (athlete)"
        " WHERE started BETWEEN start AND $end ORDER BY started, key",
        parameters,
    ).fetchall()
    for athlete, *row in rows:
        found[athlete].sessions.append(recordings.session_of(tuple(row)))


def _body(con: duckdb.DuckDBPyConnection, parameters: dict[str, Any], found: dict[str, Season]) -> None:
    """One night (its length) and one morning a date: what the newest file says, field by field."""
    within = f"JOIN {WANTED} USING (athlete) WHERE date BETWEEN first_day AND last_day GROUP BY ALL ORDER BY date"
    nights = con.execute(
        f"SELECT athlete, date, {', '.join(map(body.newest, ('bedtime', 'wake', 'total_sleep_min')))}, {body.TOLD_LAST}"
        f" FROM night {within}",
        parameters,
    ).fetchall()
    for athlete, day, bedtime, wake, total, file in nights:
        found[athlete].nights.append(Night(day, from_store_or_none(bedtime), from_store_or_none(wake), total, file))
    mornings = con.execute(
        f"SELECT athlete, date, {body.newest('resting_hr')}, {body.newest('rmssd_ms')},"
        f" {body.TOLD_LAST} FROM morning {within}",
        parameters,
    ).fetchall()
    for athlete, *row in mornings:
        found[athlete].mornings.append(Morning(*row))


def _checkins(con: duckdb.DuckDBPyConnection, parameters: dict[str, Any], found: dict[str, Season]) -> None:
    rows = con.execute(
        f"SELECT athlete, fact, {body.TOLD_LAST} FROM checkin JOIN {WANTED} USING (athlete)"
        f" WHERE date BETWEEN first_day AND last_day GROUP BY athlete, {body.EACH_ONCE}",
        parameters,
    ).fetchall()
    for athlete, fact, source in rows:
        body.add_checkin(found[athlete].checkins, encoding.from_text(CheckIn, fact), source)


def _decided(con: duckdb.DuckDBPyConnection, athletes: list[str], found: dict[str, Season]) -> None:
    """Findings that stand, newest first; holds and releases, oldest first; when a file last came."""
    for athlete, fact in con.execute(
        "SELECT athlete, fact FROM finding WHERE withdrawn_at IS NULL AND list_contains($athletes, athlete)"
        " ORDER BY date DESC, subject_end DESC, id",
        {"athletes": athletes},
    ).fetchall():
        found[athlete].standing.append(encoding.from_text(Finding, fact))
    for athlete, holds in findings.holds(con, athletes).items():
        found[athlete].holds = holds
    for athlete, at in intake.last_arrivals(con, athletes).items():
        found[athlete].last_arrival = at


def _seen(con: duckdb.DuckDBPyConnection, athletes: list[str], now: datetime, found: dict[str, Season]) -> None:
    """When facts last came and since when there was a look for them."""
    for athlete, at in body.last_facts_at(con, athletes, now).items():
        found[athlete].last_fact_at = at
    for athlete in intake.read_after(con, athletes, now):
        found[athlete].clock_set_back = True
    watched = decisions.noted_at(con, [f"{WATCHED}{athlete}" for athlete in athletes])
    unnoted = [athlete for athlete in athletes if f"{WATCHED}{athlete}" not in watched]
    first = intake.first_reads(con, unnoted) if unnoted else {}
    for athlete in athletes:
        noted = watched.get(f"{WATCHED}{athlete}")
        found[athlete].watch_is_noted, found[athlete].watched_since = noted is not None, noted or first.get(athlete)


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
