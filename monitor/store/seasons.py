"""The facts of many athletes at once: a query a table instead of several queries an athlete."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import duckdb

from monitor.store import body, encoding, intake, recordings
from monitor.store.encoding import from_store, to_store
from rules.facts import CheckIn, Hold, Morning, Night, Session
from rules.findings import Finding

WANTED = "(SELECT unnest($athletes) AS athlete, unnest($starts) AS start) AS wanted"


@dataclass(frozen=True, slots=True)
class Window:
    """Whose facts are wanted, from which moment on."""

    athlete: str
    start: datetime


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


def seasons(con: duckdb.DuckDBPyConnection, windows: Sequence[Window], end: datetime) -> dict[str, Season]:
    """athlete id -> facts from the start of the window up to `end`; findings and holds are not bound by the window."""
    found = {window.athlete: Season() for window in windows}
    if not found:
        return found
    athletes = [window.athlete for window in windows]
    wanted: dict[str, Any] = {"athletes": athletes, "starts": [to_store(window.start) for window in windows]}
    dated = {**wanted, "end": end.date()}
    _sessions(con, {**wanted, "end": to_store(end)}, found)
    _body(con, dated, found)
    _checkins(con, dated, found)
    _decided(con, athletes, found)
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
    within = f"JOIN {WANTED} USING (athlete) WHERE date BETWEEN start::DATE AND $end GROUP BY ALL ORDER BY date"
    source = "arg_max(source, mtime_ns)"
    nights = con.execute(
        f"SELECT athlete, date, {body.newest('total_sleep_min')}, {source} FROM night {within}", parameters
    ).fetchall()
    for athlete, day, total, file in nights:
        found[athlete].nights.append(Night(day, total_sleep_min=total, source=file))
    mornings = con.execute(
        f"SELECT athlete, date, {body.newest('resting_hr')}, {body.newest('rmssd_ms')}, {source} FROM morning {within}",
        parameters,
    ).fetchall()
    for athlete, *row in mornings:
        found[athlete].mornings.append(Morning(*row))


def _checkins(con: duckdb.DuckDBPyConnection, parameters: dict[str, Any], found: dict[str, Season]) -> None:
    rows = con.execute(
        f"SELECT athlete, fact, {body.TOLD_LAST} FROM checkin JOIN {WANTED} USING (athlete)"
        f" WHERE date BETWEEN start::DATE AND $end GROUP BY athlete, {body.EACH_ONCE}",
        parameters,
    ).fetchall()
    for athlete, fact, source in rows:
        body.add_checkin(found[athlete].checkins, encoding.from_text(CheckIn, fact), source)


def _decided(con: duckdb.DuckDBPyConnection, athletes: list[str], found: dict[str, Season]) -> None:
    """Findings that stand, newest first; holds and releases, oldest first; when a file last came."""
    among = {"athletes": athletes}
    for athlete, fact in con.execute(
        "SELECT athlete, fact FROM finding WHERE withdrawn_at IS NULL AND list_contains($athletes, athlete)"
        " ORDER BY date DESC, subject_end DESC, id",
        among,
    ).fetchall():
        found[athlete].standing.append(encoding.from_text(Finding, fact))
    for athlete, kind, on, at, days, why, by in con.execute(
        "SELECT athlete, kind, on_date, held_at, days, why, held_by FROM hold"
        " WHERE list_contains($athletes, athlete) ORDER BY held_at",
        among,
    ).fetchall():
        found[athlete].holds.append(Hold(kind, on, from_store(at), days, why, by))
    for athlete, at in intake.last_arrivals(con, athletes).items():
        found[athlete].last_arrival = at


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
