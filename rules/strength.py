"""`no_strength`: no loaded strength work in the days off."""

from __future__ import annotations

from rules.facts import Session
from rules.findings import Breach, Severity
from rules.limits import Limits
from rules.plan import Allowance
from rules.wording import minutes


def no_strength(session: Session, allowed: Allowance, limits: Limits) -> Breach | None:
    """Strength is a stop, yoga and pilates a note; core, mobility and physiotherapy are fine."""
    del limits
    if allowed.strength != "none" or session.digest.sport not in {"strength", "yoga"}:
        return None
    evidence = {"label": session.sport, "sub_label": session.sub_sport, "minutes": round(session.timer_s / 60, 1)}
    if session.digest.sport == "yoga":
        text = f"{minutes(session.timer_s)} of yoga or pilates in the days off: fine as long as nothing is held hard"
        return Breach("no_strength", Severity.NOTE, text, round(session.timer_s / 60, 1), 0.0, "min", evidence)
    text = f"{minutes(session.timer_s)} of strength work in the days off, which have none"
    return Breach("no_strength", Severity.STOP, text, round(session.timer_s / 60, 1), 0.0, "min", evidence)
