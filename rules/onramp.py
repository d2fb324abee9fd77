"""The on-ramp: `weekly_running` against the usual week before the taper, and `long_run_jump`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from math import isfinite
from statistics import median

from rules.exercise import has_running, local_day, running_metres, running_seconds
from rules.facts import Athlete, Session
from rules.findings import Breach, Severity
from rules.limits import Limits
from rules.plan import Allowance, Plan
from rules.wording import minutes


@dataclass(frozen=True, slots=True)
class UsualWeek:
    """Minutes of running in the median week before the taper; None with the reason where it cannot be known."""

    minutes: float | None
    weeks: tuple[float, ...]
    first: date
    last: date
    reason: str


def usual_week(sessions: Sequence[Session], plan: Plan, limits: Limits) -> UsualWeek:
    """The median of the weeks before the taper, which is taken to have been as long as the plan by event or roster."""
    number = limits.on_ramp.baseline_weeks
    end = plan.day0 - timedelta(days=plan.length.base_days)
    first = end - timedelta(days=7 * number)
    weeks = _weeks_before(sessions, first, number, plan.athlete, limits)
    last = end - timedelta(days=1)
    least = limits.on_ramp.baseline_weeks_at_least
    if len(weeks) < least:
        reason = f"the history holds {len(weeks)} of the {number} weeks before the taper: no usual week to go by"
        return UsualWeek(None, tuple(weeks), first, last, reason)
    middle = median(weeks)
    if middle <= 0:
        return UsualWeek(None, tuple(weeks), first, last, "no running in most weeks before the taper")
    reason = f"median of {len(weeks)} weeks from {first} to {last}"
    return UsualWeek(middle, tuple(weeks), first, last, reason)


def _weeks_before(
    sessions: Sequence[Session], first: date, number: int, athlete: Athlete, limits: Limits
) -> list[float]:
    """Minutes of running in each of the weeks from `first` on, without those that ended before the history began."""
    earliest = min(sessions, key=lambda each: each.start, default=None)
    if earliest is None:
        return []
    around = datetime.combine(first, time.min, UTC) - timedelta(days=1)
    until = around + timedelta(days=7 * number + 2)
    weeks = [0.0] * number
    for session in sessions:
        if around <= session.start < until:
            week = (local_day(session, athlete) - first).days // 7
            if 0 <= week < number:
                weeks[week] += _run_minutes(session, limits)
    unknown = max(0, (local_day(earliest, athlete) - first).days // 7)
    return weeks[unknown:]


def _run_minutes(session: Session, limits: Limits) -> float:
    seconds = running_seconds(session) if has_running(session, limits) else 0.0
    return seconds / 60 if isfinite(seconds) else 0.0


@dataclass(frozen=True, slots=True)
class WeekSoFar:
    """Minutes of running done in one week of the on-ramp, and allowed in it."""

    first: date
    done: float
    allowed: float | None
    share: float


def week_of(plan: Plan, on: date) -> date | None:
    """First day of the on-ramp week that a day belongs to; None outside the on-ramp."""
    row = plan.planned_stage(on)
    if row is None or row.stage != "on_ramp" or on < row.first_date:
        return None
    return row.first_date + timedelta(days=(on - row.first_date).days // 7 * 7)


def week_so_far(
    runs: Sequence[Session], allowed: Allowance, plan: Plan, usual: UsualWeek, limits: Limits
) -> WeekSoFar | None:
    """The week of the day that `allowed` is for, with the runs up to its end that are given."""
    first = week_of(plan, allowed.date)
    if first is None or allowed.weekly_share is None:
        return None
    inside = [run for run in runs if first <= local_day(run, plan.athlete) <= allowed.date]
    done = sum(_run_minutes(run, limits) for run in inside)
    most = None if usual.minutes is None else usual.minutes * allowed.weekly_share
    return WeekSoFar(first, done, most, allowed.weekly_share)


def weekly_running(
    runs: Sequence[Session], allowed: Allowance, plan: Plan, usual: UsualWeek, limits: Limits
) -> Breach | None:
    """The week's running, up to and with the last of `runs`, over the share of the usual week."""
    week = week_so_far(runs, allowed, plan, usual, limits)
    if week is None or week.allowed is None or usual.minutes is None:
        return None
    if week.done <= week.allowed * (1 + limits.weekly_running.slack_share):
        return None
    text = (
        f"{minutes(week.done * 60)} of running this week, where {minutes(week.allowed * 60)} are allowed:"
        f" {week.share * 100:.0f} % of the usual {minutes(usual.minutes * 60)}"
    )
    evidence = {
        "week_from": week.first.isoformat(),
        "usual_week_min": round(usual.minutes, 1),
        "usual_weeks_min": [round(each, 1) for each in usual.weeks],
        "share": week.share,
        "baseline": usual.reason,
    }
    return Breach(
        "weekly_running", Severity.CAUTION, text, round(week.done, 1), round(week.allowed, 1), "min a week", evidence
    )


def long_run_jump(
    session: Session, allowed: Allowance, runs: Sequence[Session], athlete: Athlete, limits: Limits
) -> Breach | None:
    """A run longer than 1.1 x the longest of the 30 days before; `runs` are those before it since the race."""
    metres = running_metres(session)
    if allowed.running != "share" or metres is None or not has_running(session, limits):
        return None
    days = limits.long_run_jump.days
    since = allowed.date - timedelta(days=days)
    before = [(running_metres(run) or 0, run) for run in runs if local_day(run, athlete) >= since]
    longest, run = max(before, key=lambda pair: (pair[0], pair[1].key), default=(0, None))
    tenths = limits.long_run_jump.factor_tenths
    if run is None or longest <= 0 or 10 * metres <= tenths * longest:
        return None
    most = tenths * longest / 10
    text = (
        f"A run of {metres / 1000:.2f} km, where {most / 1000:.2f} km are allowed:"
        f" {tenths / 10:g} x the longest since the race, {longest / 1000:.2f} km"
    )
    evidence = {"longest_before_m": longest, "longest_before": run.key, "days": days}
    return Breach("long_run_jump", Severity.CAUTION, text, float(metres), most, "m", evidence)
