"""An athlete's history put in order once, and the totals of one reverse taper for looking back on it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from math import isfinite
from statistics import fmean

from rules.body.checkins import in_time
from rules.body.mornings import by_date, ln_rmssd, resting_hr, slept
from rules.facts import Athlete, CheckIn, History, Hold, Morning, Session
from rules.limits import Limits
from rules.plan import Plan
from rules.plan.build import own_files
from rules.session.labels import NO_EXERCISE, has_running

# An athlete's history put in order once, so that the order of arrival cannot matter.


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
        morning_files={morning.date: morning.source for morning in mornings},
        night_files={night.date: night.source for night in nights},
        checkins=tuple(in_time(sorted(history.checkins, key=repr))),
        holds=history.holds,
        last_file_at=history.last_file_at,
        watched_since=history.watched_since,
    )


# What one reverse taper came to: sessions, hours, runs and mornings, for looking back on it.


@dataclass(frozen=True, slots=True)
class PlanTotals:
    """Counts over the days of a plan; `resting_last` is the mean of the last mornings in it."""

    sessions: int
    hours: float
    runs: int
    mornings: int
    resting_last: float | None
    resting_usual: float | None


def plan_totals(facts: Ordered, plan: Plan, limits: Limits) -> PlanTotals:
    """Over the days of one plan, from the finish to the end of its last day."""
    inside = [
        session
        for session in facts.sessions
        if session.start >= plan.begins
        and facts.days[session.key] <= plan.last_date
        and session.key not in facts.races
        and session.digest.sport not in NO_EXERCISE
    ]
    resting = [value for day, value in sorted(facts.resting.items()) if plan.day0 < day <= plan.last_date]
    heart = {day for day in (*facts.resting, *facts.ln_rmssd) if plan.day0 < day <= plan.last_date}
    usual = plan.resting.middle if plan.resting is not None and plan.resting.enough else None
    return PlanTotals(
        sessions=len(inside),
        hours=sum(each.timer_s for each in inside if isfinite(each.timer_s)) / 3600,
        runs=sum(has_running(each, limits) for each in inside),
        mornings=len(heart),
        resting_last=fmean(resting[-limits.status.last_mornings :]) if resting else None,
        resting_usual=usual,
    )
