"""An athlete's history put in order once, so that the order of arrival cannot matter."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from rules.body.baseline import by_date, ln_rmssd, resting_hr
from rules.body.checkins import in_time
from rules.body.sleep import slept
from rules.facts import Athlete, CheckIn, History, Hold, Morning, Session
from rules.limits import Limits
from rules.plan.races import own_files


@dataclass(frozen=True, slots=True)
class Ordered:
    """Facts by time. `races` are the keys of the recordings that are a race, `days` the local date of each session."""

    athlete: Athlete
    sessions: tuple[Session, ...]
    days: dict[str, date]
    races: frozenset[str]
    mornings: tuple[Morning, ...]
    resting: dict[date, float]
    ln_rmssd: dict[date, float]
    asleep: dict[date, float]
    morning_files: dict[date, str | None]
    night_files: dict[date, str | None]
    checkins: tuple[CheckIn, ...]
    holds: tuple[Hold, ...]
    last_file_at: datetime | None
    watched_since: datetime | None


def in_order(history: History, limits: Limits) -> Ordered:
    athlete = history.athlete
    sessions = tuple(sorted(history.sessions, key=lambda each: (each.start, each.key)))
    mornings = tuple(sorted(history.mornings, key=lambda each: (each.date, each.source or "")))
    nights = sorted(history.nights, key=lambda each: (each.date, each.source or ""))
    return Ordered(
        athlete=athlete,
        sessions=sessions,
        days={session.key: athlete.local_date(session.start) for session in sessions},
        races=own_files(sessions, athlete.races, limits),
        mornings=mornings,
        resting=by_date(mornings, resting_hr),
        ln_rmssd=by_date(mornings, ln_rmssd),
        asleep=slept(nights),
        morning_files={each.date: each.source for each in mornings},
        night_files={each.date: each.source for each in nights},
        checkins=tuple(in_time(sorted(history.checkins, key=repr))),
        holds=history.holds,
        last_file_at=history.last_file_at,
        watched_since=history.watched_since,
    )
