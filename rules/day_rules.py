"""Rules about a session, a day or a week that need no samples: whether, when, how far and how long."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from statistics import median
from typing import Any

from rules.facts import Athlete, Session
from rules.findings import (
    RUNNING_SIGNALS,
    Breach,
    Said,
    Severity,
    Statement,
    say,
    severity_of,
    shown,
    signals_from_store,
)
from rules.limits import Limits
from rules.plan import Allowance, Plan
from rules.session.labels import (
    RUNNING,
    has_running,
    is_training,
    known_duration,
    local_day,
    running_metres,
    running_seconds,
    sport_seconds,
)


# `no_running` and `run_spacing`: whether and on which days there may be running.
def no_running(
    session: Session, allowed: Allowance, *, ceiling_broken: bool, run_before: bool, limits: Limits
) -> Breach | None:
    """Running where the stage has none; one short run under the ceiling near the end of cross-training is a note.

    As grave as the signals' evidence for running; a digest made before they were kept counts as good evidence.
    """
    if allowed.running not in {"none", "tolerated"} or not has_running(session, limits):
        return None
    heard = signals_from_store(session.digest.notes.get(RUNNING_SIGNALS, ()))
    severity = severity_of(heard) if heard else Severity.STOP
    if severity is None:
        return None
    seconds = running_seconds(session)
    evidence: dict[str, Any] = {
        "running_minutes": round(seconds / 60, 1),
        "label": session.sport,
        "why_running": session.digest.sport_reason,
    }
    if session.digest.running_m is not None:
        evidence["running_m"] = round(session.digest.running_m)
    if heard:
        evidence["signals"] = shown(heard)
    cap = allowed.tolerated_run_min
    slack = limits.no_running.tolerated_slack_seconds
    short = cap is not None and seconds <= cap * 60 + slack
    if cap is not None and short and not ceiling_broken and not run_before:
        if not session.digest.hr_known_s:
            evidence["assumed"] = [say("hr_taken_to_be_low")]
        text = say("tolerated_run", ran=seconds, cap=cap)
        return Breach("no_running", Severity.NOTE, text, round(seconds / 60, 1), float(cap), "min", evidence)
    if cap is not None:
        evidence["not_tolerated"] = _why_not(short=short, ceiling_broken=ceiling_broken, cap=cap)
    told = _told("ran" if severity == Severity.STOP else "may_have_run", session, seconds)
    return Breach("no_running", severity, told, round(seconds / 60, 1), float(cap or 0), "min", evidence)


def _why_not(*, short: bool, ceiling_broken: bool, cap: int) -> Statement:
    if not short:
        return say("longer_than_tolerated", cap=cap)
    return say("over_ceiling" if ceiling_broken else "tolerated_before")


def _told(key: str, session: Session, seconds: float) -> Statement:
    """Running, with the label of a session that is no run."""
    if session.digest.sport == RUNNING:
        return say(key, ran=seconds)
    return say(f"{key}_unlabelled", ran=seconds, label=session.sport or "unknown")


def run_spacing(
    session: Session, allowed: Allowance, runs: Sequence[Session], athlete: Athlete, limits: Limits
) -> Breach | None:
    """A run on the day after a run, or a second one on the same day; `runs` are those before it since the race."""
    if not allowed.rest_day_between_runs or not has_running(session, limits):
        return None
    today = local_day(session, athlete)
    gap = timedelta(minutes=limits.run_spacing.same_run_gap_minutes)
    for run in reversed(runs):
        day = local_day(run, athlete)
        apart = session.start.astimezone(UTC) - run.end.astimezone(UTC)
        if day == today - timedelta(days=1) or (day == today and apart > gap):
            return _spacing_breach(day, today)
    return None


def _spacing_breach(before: date, today: date) -> Breach:
    text = say("ran_same_day") if before == today else say("ran_day_before", before=before)
    days = float((today - before).days)
    return Breach("run_spacing", Severity.CAUTION, text, days, 2.0, "days", {"run_before": before.isoformat()})


# The on-ramp: `weekly_running` against the usual week before the taper, and `long_run_jump`.


@dataclass(frozen=True, slots=True)
class UsualWeek:
    """Minutes of running in the median week before the taper; None with the reason where it cannot be known."""

    minutes: float | None
    weeks: tuple[float, ...]
    first: date
    last: date
    reason: Statement


def usual_week(sessions: Sequence[Session], plan: Plan, limits: Limits) -> UsualWeek:
    """The median of the weeks before the taper, which is taken to have been as long as the plan by event or roster."""
    number = limits.on_ramp.baseline_weeks
    end = plan.day0 - timedelta(days=plan.length.base_days)
    first = end - timedelta(days=7 * number)
    weeks = _weeks_before(sessions, first, number, plan.athlete, limits)
    last = end - timedelta(days=1)
    least = limits.on_ramp.baseline_weeks_at_least
    if len(weeks) < least:
        reason = say("week_unknown", weeks=len(weeks), number=number)
        return UsualWeek(None, tuple(weeks), first, last, reason)
    middle = median(weeks)
    if middle <= 0:
        return UsualWeek(None, tuple(weeks), first, last, say("week_without_running"))
    reason = say("week_is_median", weeks=len(weeks), first=first, last=last)
    return UsualWeek(middle, tuple(weeks), first, last, reason)


def _weeks_before(
    sessions: Sequence[Session], first: date, number: int, athlete: Athlete, limits: Limits
) -> list[float]:
    """Minutes of running in each of the weeks from `first` on, without those that ended before the history began."""
    earliest = min(sessions, key=lambda other: other.start, default=None)
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
    return running_seconds(session) / 60 if has_running(session, limits) else 0.0


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
    text = say(
        "weekly_running",
        done=week.done * 60,
        allowed=week.allowed * 60,
        share=week.share * 100,
        usual=usual.minutes * 60,
    )
    evidence = {
        "week_from": week.first.isoformat(),
        "usual_week_min": round(usual.minutes, 1),
        "usual_weeks_min": [round(minutes_run, 1) for minutes_run in usual.weeks],
        "share": week.share,
        "baseline": usual.reason,
    }
    done, allowed_min = round(week.done, 1), round(week.allowed, 1)
    return Breach("weekly_running", Severity.CAUTION, text, done, allowed_min, say("unit_min_a_week"), evidence)


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
    text = say("long_run_jump", km=metres / 1000, most=most / 1000, factor=tenths / 10, longest=longest / 1000)
    evidence = {"longest_before_m": longest, "longest_before": run.key, "days": days}
    return Breach("long_run_jump", Severity.CAUTION, text, float(metres), most, "m", evidence)


# `rest_hours`: nothing but walking and mobility in the first hours after the finish.
def rest_hours(session: Session, since_finish_s: float, limits: Limits) -> Breach | None:
    """Any training that begins within the hours of rest; what nobody can tell is asked about, and no stop."""
    stop, caution = limits.rest_hours.stop_hours, limits.rest_hours.caution_hours
    since = since_finish_s / 3600
    if not 0 <= since < caution or not is_training(session, limits):
        return None
    return Breach(
        "rest_hours",
        Severity.STOP if since < stop and session.digest.sport != "unknown" else Severity.CAUTION,
        say("rest_hours", session=_name(session), since=since_finish_s, caution=caution),
        observed=round(since, 2),
        limit=caution,
        unit=say("unit_hours_after_finish"),
        evidence={"hours_since_finish": round(since, 2), "stop_hours": stop, "caution_hours": caution},
    )


def _name(session: Session) -> Said:
    sport = session.digest.sport
    if sport == "walking":
        return say("walk_with_running")
    return say("a_session") if sport in {"other", "unknown"} else sport


# `no_strength`: no loaded strength work in the days off.


def no_strength(session: Session, allowed: Allowance, limits: Limits) -> Breach | None:
    """Strength is a stop, yoga and pilates a note; core, mobility and physiotherapy are fine."""
    del limits
    if allowed.strength != "none" or session.digest.sport not in {"strength", "yoga"}:
        return None
    known = known_duration(session)
    lasted = round(session.timer_s / 60, 1) if known else None
    took = session.timer_s if known else say("unknown_time")
    evidence = {"label": session.sport, "sub_label": session.sub_sport, "minutes": lasted}
    if session.digest.sport == "yoga":
        return Breach("no_strength", Severity.NOTE, say("gentle", took=took), lasted, 0.0, "min", evidence)
    return Breach("no_strength", Severity.STOP, say("strength", took=took), lasted, 0.0, "min", evidence)


# `duration_cap`: the day's time of all sport but walking, and one run's time, against the cap of the stage.


def duration_cap(sessions: Sequence[Session], allowed: Allowance, limits: Limits) -> dict[str, Breach]:
    """Breaches by session key: each session that finds the day over its cap, and each run over its own."""
    found: dict[str, Breach] = {}
    for number, session in enumerate(sessions):
        day = _day_breach(sessions[: number + 1], allowed, limits)
        run = _run_breach(session, allowed, limits)
        worst = max((breach for breach in (run, day) if breach), key=_gravity, default=None)
        if worst is None:
            continue
        if day and run:
            other = day if worst is run else run
            worst.evidence["also"] = other.summary
        found[session.key] = worst
    return found


def over_cap(seconds: float, cap_minutes: float, limits: Limits) -> Severity | None:
    """Over by more than the slack is a caution, over by half as much again a stop."""
    cap = cap_minutes * 60
    slack = max(limits.duration_cap.slack_share * cap, limits.duration_cap.slack_minutes * 60)
    if seconds <= cap + slack:
        return None
    return Severity.STOP if seconds > limits.duration_cap.stop_factor * cap else Severity.CAUTION


def _gravity(breach: Breach) -> tuple[int, float]:
    return breach.severity, (breach.observed or 0) / (breach.limit or 1)


def _day_breach(until: Sequence[Session], allowed: Allowance, limits: Limits) -> Breach | None:
    cap = allowed.day_cap_min
    parts = [sport_seconds(session, limits) for session in until]
    total = sum(parts)
    severity = over_cap(total, cap, limits) if cap is not None and parts[-1] > 0 else None
    if cap is None or severity is None:
        return None
    listed = [
        {"session": session.key, "sport": session.digest.sport, "minutes": round(seconds / 60, 1)}
        for session, seconds in zip(until, parts, strict=True)
        if seconds > 0
    ]
    text = say("day_too_long", total=total, cap=cap)
    if len(listed) > 1:
        text = say("day_of_several_too_long", sessions=len(listed), total=total, cap=cap)
    return Breach("duration_cap", severity, text, round(total / 60, 1), float(cap), "min", {"day": listed, "of": "day"})


def _run_breach(session: Session, allowed: Allowance, limits: Limits) -> Breach | None:
    cap = allowed.run_cap_min
    if cap is None or not known_duration(session) or not has_running(session, limits):
        return None
    seconds = running_seconds(session)
    severity = over_cap(seconds, cap, limits)
    if severity is None:
        return None
    text = say("run_too_long", ran=seconds, cap=cap)
    return Breach("duration_cap", severity, text, round(seconds / 60, 1), float(cap), "min", {"of": "run"})
