"""Rules about a session or a day that need no samples: `rest_hours`, `no_strength`, `duration_cap`."""

from __future__ import annotations

from collections.abc import Sequence

from rules import words
from rules.facts import Session
from rules.findings import Breach, Severity
from rules.limits import Limits
from rules.numbers import hours, minutes
from rules.plan import Allowance
from rules.session.labels import has_running, is_training, known_duration, running_seconds, sport_seconds


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
        words.findings.AFTER_FINISH.format(
            session=_name(session), since_finish_s=hours(since_finish_s), caution=caution
        ),
        observed=round(since, 2),
        limit=caution,
        unit=words.findings.H_AFTER_FINISH,
        evidence={"hours_since_finish": round(since, 2), "stop_hours": stop, "caution_hours": caution},
    )


def _name(session: Session) -> str:
    sport = session.digest.sport
    if sport == "walking":
        return words.findings.WALK_WITH_RUNNING
    return "A session" if sport in {"other", "unknown"} else sport.capitalize()


# `no_strength`: no loaded strength work in the days off.


def no_strength(session: Session, allowed: Allowance, limits: Limits) -> Breach | None:
    """Strength is a stop, yoga and pilates a note; core, mobility and physiotherapy are fine."""
    del limits
    if allowed.strength != "none" or session.digest.sport not in {"strength", "yoga"}:
        return None
    evidence = {"label": session.sport, "sub_label": session.sub_sport, "minutes": round(session.timer_s / 60, 1)}
    if session.digest.sport == "yoga":
        text = words.findings.YOGA_OR_PILATES_IN_DAYS.format(timer_s=minutes(session.timer_s))
        return Breach("no_strength", Severity.NOTE, text, round(session.timer_s / 60, 1), 0.0, "min", evidence)
    text = words.findings.STRENGTH_WORK_IN_DAYS.format(timer_s=minutes(session.timer_s))
    return Breach("no_strength", Severity.STOP, text, round(session.timer_s / 60, 1), 0.0, "min", evidence)


# `duration_cap`: the day's time of all sport but walking, and one run's time, against the cap of the stage.


def duration_cap(sessions: Sequence[Session], allowed: Allowance, limits: Limits) -> dict[str, Breach]:
    """Breaches by session key: each session that finds the day over its cap, and each run over its own."""
    found: dict[str, Breach] = {}
    for number, session in enumerate(sessions):
        day = _day_breach(sessions[: number + 1], allowed, limits)
        run = _run_breach(session, allowed, limits)
        worst = max((each for each in (run, day) if each), key=_gravity, default=None)
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
    what = (
        words.findings.THIS_SESSION_COMES
        if len(listed) == 1
        else words.findings.THIS_SESSION_DAYS_COME.format(listed=len(listed))
    )
    text = words.findings.TO_WHERE_MIN_DAY.format(what=what, total=minutes(total), cap=cap)
    return Breach("duration_cap", severity, text, round(total / 60, 1), float(cap), "min", {"day": listed, "of": "day"})


def _run_breach(session: Session, allowed: Allowance, limits: Limits) -> Breach | None:
    cap = allowed.run_cap_min
    if cap is None or not known_duration(session) or not has_running(session, limits):
        return None
    seconds = running_seconds(session)
    severity = over_cap(seconds, cap, limits)
    if severity is None:
        return None
    text = words.findings.RUN_OF.format(minutes=minutes(seconds), cap=cap)
    return Breach("duration_cap", severity, text, round(seconds / 60, 1), float(cap), "min", {"of": "run"})
