"""The stored facts of one athlete as the rules want them, no more than the judgement needs."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import duckdb

from monitor.roster import RosterAthlete
from monitor.store import body, decisions, history, intake, recordings
from rules.facts import History
from rules.limits import Limits

AHEAD = timedelta(days=1)
"""Clocks of devices run ahead. What lies further off was seen before the clock was set back, and stands unjudged."""


def judged_from(athlete: RosterAthlete, touched: date, limits: Limits) -> date | None:
    """First day of the earliest reverse taper that facts from `touched` on can bear on; None where there is none."""
    after = timedelta(days=limits.history.days_after_race)
    finishes = [race.finish.date() for race in athlete.athlete.races]
    return min((finish for finish in finishes if finish + after >= touched), default=None)


def window(athlete: RosterAthlete, since: date, now: datetime, limits: Limits) -> tuple[datetime, datetime]:
    """From when to when facts bear on what is judged from `since` on."""
    first = since - timedelta(days=limits.history.days_before_race)
    return datetime.combine(first, datetime.min.time(), athlete.athlete.zone), now + AHEAD


def load_history(
    con: duckdb.DuckDBPyConnection, athlete: RosterAthlete, since: date, now: datetime, limits: Limits
) -> History:
    """Facts from some months before `since` up to a day past `now`, and sessions that have begun."""
    start, end = window(athlete, since, now, limits)
    first, last = start.date(), athlete.athlete.local_date(end)
    seen = [intake.last_arrival(con, athlete.id), body.last_fact_at(con, athlete.id, now)]
    if intake.read_after(con, athlete.id, now):
        seen.append(now)  # files came, though by a clock that was set back since: that is no silence
    return History(
        athlete=athlete.athlete,
        sessions=tuple(each for each in recordings.sessions(con, athlete.id, start, end) if each.start <= now),
        nights=tuple(body.nights(con, athlete.id, first, last)),
        mornings=tuple(body.mornings(con, athlete.id, first, last)),
        checkins=tuple(body.checkins(con, athlete.id, first, last)),
        holds=tuple(hold for hold in history.holds(con, athlete.id) if hold.at <= now),
        last_file_at=max((moment for moment in seen if moment is not None and moment <= now), default=None),
        watched_since=min(watched_since(con, athlete.id) or now, now),
    )


def note_first_look(con: duckdb.DuckDBPyConnection, athlete: str, now: datetime) -> None:
    """From now on the athlete can be silent; the journal keeps it for the next store."""
    decisions.first_time(con, f"watched:{athlete}", watched_since(con, athlete) or now, owed=True)


def watched_since(con: duckdb.DuckDBPyConnection, athlete: str) -> datetime | None:
    """When the folder was first looked at; None where it never was."""
    return decisions.noted_at(con, f"watched:{athlete}") or intake.first_read(con, athlete)
