"""What one reverse taper came to: sessions, hours, runs and mornings, for looking back on it."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from statistics import fmean

from rules.exercise import NO_EXERCISE, has_running
from rules.judgement.ordered import Ordered
from rules.limits import Limits
from rules.plan import Plan

LAST_MORNINGS = 3


@dataclass(frozen=True, slots=True)
class Lived:
    """Counts over the days of a plan; `resting_last` is the mean of the last mornings in it."""

    sessions: int
    hours: float
    runs: int
    mornings: int
    resting_last: float | None
    resting_usual: float | None


def lived(facts: Ordered, plan: Plan, limits: Limits) -> Lived:
    """Over the days of one plan, from the finish to the end of its last day."""
    inside = [
        each
        for each in facts.sessions
        if each.start >= plan.begins
        and facts.days[each.key] <= plan.last_date
        and each.key not in facts.races
        and each.digest.sport not in NO_EXERCISE
    ]
    resting = [value for day, value in sorted(facts.resting.items()) if plan.day0 < day <= plan.last_date]
    heart = {day for day in (*facts.resting, *facts.ln_rmssd) if plan.day0 < day <= plan.last_date}
    usual = plan.resting.middle if plan.resting is not None and plan.resting.enough else None
    return Lived(
        sessions=len(inside),
        hours=sum(each.timer_s for each in inside if isfinite(each.timer_s)) / 3600,
        runs=sum(has_running(each, limits) for each in inside),
        mornings=len(heart),
        resting_last=fmean(resting[-LAST_MORNINGS:]) if resting else None,
        resting_usual=usual,
    )
