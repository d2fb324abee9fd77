"""`rest_hours`: nothing but walking and mobility in the first hours after the finish."""

from __future__ import annotations

from rules.exercise import is_training
from rules.facts import Session
from rules.findings import Breach, Severity
from rules.limits import Limits
from rules.wording import hours


def rest_hours(session: Session, since_finish_s: float, limits: Limits) -> Breach | None:
    """Any training that begins within the hours of rest; what nobody can tell is asked about, and no stop."""
    stop, caution = limits.rest_hours.stop_hours, limits.rest_hours.caution_hours
    since = since_finish_s / 3600
    if not 0 <= since < caution or not is_training(session, limits):
        return None
    return Breach(
        "rest_hours",
        Severity.STOP if since < stop and session.digest.sport != "unknown" else Severity.CAUTION,
        f"{_name(session)} {hours(since_finish_s)} after the finish, where only walking and mobility have a place"
        f" for the first {caution:g} h",
        observed=round(since, 2),
        limit=caution,
        unit="h after the finish",
        evidence={"hours_since_finish": round(since, 2), "stop_hours": stop, "caution_hours": caution},
    )


def _name(session: Session) -> str:
    sport = session.digest.sport
    if sport == "walking":
        return "A walk with running in it"
    return "A session" if sport in {"other", "unknown"} else sport.capitalize()
