"""What a session counts as: a run, a walk, care of the body, or sport."""

from __future__ import annotations

from datetime import date
from math import isfinite

from rules.facts import Athlete, Session
from rules.limits import Limits

WALKING = "walking"
RUNNING = "running"
CARE = frozenset({"mobility"})  # stretching, core, physiotherapy, breathing
NO_EXERCISE = frozenset({"transport"})
MAY_HIDE_RUNNING = frozenset({WALKING, "other", "unknown"})
"""Sports as judged in which seconds of running count; a ride or a swim is never a run."""


def running_seconds(session: Session) -> float:
    """Time of running: all of a run with its breaks, the running part of what is not one."""
    if session.digest.sport == RUNNING:
        whole = max(session.timer_s - carried_seconds(session), 0.0)
        return min(whole, float(session.digest.notes.get("run_with_breaks_s", whole)))
    return session.digest.running_s if session.digest.sport in MAY_HIDE_RUNNING else 0.0


def carried_seconds(session: Session) -> float:
    """Time in which a vehicle carried the watch."""
    return float(session.digest.notes.get("carried_s", 0.0))


def has_running(session: Session, limits: Limits) -> bool:
    """Whether there is running in it, whatever the label; a minute at least."""
    return running_seconds(session) >= limits.no_running.least_seconds


def running_metres(session: Session) -> int | None:
    """Whole metres covered running; None where no distance is known."""
    whole = session.digest.sport == RUNNING and running_seconds(session) == session.timer_s
    metres = session.distance_m if whole else None
    metres = metres if metres is not None else session.digest.running_m
    return None if metres is None or not isfinite(metres) else int(metres + 0.5)


def sport_seconds(session: Session, limits: Limits) -> float:
    """Time that counts to a day's cap: all sport, of a walk only its running, none of the care of the body."""
    sport = session.digest.sport
    if not known_duration(session) or sport in CARE or sport in NO_EXERCISE:
        return 0.0
    if sport in {WALKING, "unknown"}:
        return running_seconds(session) if has_running(session, limits) else 0.0
    if sport == RUNNING:
        return running_seconds(session) + float(session.digest.notes.get("ridden_s", 0.0))
    return session.timer_s


def known_duration(session: Session) -> bool:
    return isfinite(session.timer_s) and session.timer_s > 0


def is_training(session: Session, limits: Limits) -> bool:
    """More than a walk or care of the body; what nobody can tell may be."""
    sport = session.digest.sport
    if sport in {WALKING, RUNNING}:
        return has_running(session, limits)
    if sport == "unknown":
        return session.timer_s >= limits.not_judged.least_seconds
    return sport not in CARE and sport not in NO_EXERCISE


def local_day(session: Session, athlete: Athlete) -> date:
    """A session belongs to the local date of its start."""
    return athlete.local_date(session.start)
