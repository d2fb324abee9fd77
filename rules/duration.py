"""`duration_cap`: the day's time of all sport but walking, and one run's time, against the cap of the stage."""

from __future__ import annotations

from collections.abc import Sequence

from rules.exercise import has_running, known_duration, running_seconds, sport_seconds
from rules.facts import Session
from rules.findings import Breach, Severity
from rules.limits import Limits
from rules.plan import Allowance
from rules.wording import minutes


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
    what = "This session comes" if len(listed) == 1 else f"With this session the day's {len(listed)} come"
    text = f"{what} to {minutes(total)}, where {cap} min a day are allowed (walking apart)"
    return Breach("duration_cap", severity, text, round(total / 60, 1), float(cap), "min", {"day": listed, "of": "day"})


def _run_breach(session: Session, allowed: Allowance, limits: Limits) -> Breach | None:
    cap = allowed.run_cap_min
    if cap is None or not known_duration(session) or not has_running(session, limits):
        return None
    seconds = running_seconds(session)
    severity = over_cap(seconds, cap, limits)
    if severity is None:
        return None
    text = f"A run of {minutes(seconds)}, where {cap} min a run are allowed"
    return Breach("duration_cap", severity, text, round(seconds / 60, 1), float(cap), "min", {"of": "run"})
