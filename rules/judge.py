"""The judge: facts of one athlete in, plans and findings out. Pure; the order of the facts changes nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from rules import words
from rules.facts import History
from rules.findings import Finding
from rules.judgement.findings import (
    body_findings,
    ln_rmssd_normal,
    session_findings,
    silence_changes_at,
    silence_findings,
)
from rules.judgement.history import Ordered, PlanTotals, in_order, plan_totals
from rules.judgement.plan_fixpoint import JudgeOne, fixpoint, plans_of, stops_among
from rules.limits import Limits
from rules.plan import Plan
from rules.plan.build import current_plan
from rules.running import usual_week

__all__ = ["JudgeOne", "Judgement", "judge", "judgement_of_findings"]


@dataclass(frozen=True, slots=True)
class Judgement:
    """Plans by finish, the one to show, findings by time, and in sentences what data are too thin to judge by.

    `plan_totals` sums up each of the plans, in their order.
    """

    plans: tuple[Plan, ...]
    current: Plan | None
    findings: tuple[Finding, ...]
    thin: tuple[str, ...]
    plan_totals: tuple[PlanTotals, ...] = ()
    silence_changes_at: datetime | None = None  # before then the clock alone changes no silence

    def totals_of(self, plan: Plan) -> PlanTotals | None:
        """The totals of one of the plans."""
        return next(
            (one for each, one in zip(self.plans, self.plan_totals, strict=False) if each.race == plan.race), None
        )


def judge(history: History, now: datetime, limits: Limits, silent_after_hours: float, judge_one: JudgeOne) -> Judgement:
    """Judge everything that is known. `judge_one` gives the verdict on one session's samples."""
    facts = in_order(history, limits)
    plans, placed = fixpoint(facts, history.athlete.local_date(now), limits, judge_one)
    found = [
        *session_findings(facts, plans, placed, limits),
        *body_findings(facts, plans, placed, limits),
        *silence_findings(facts, plans, now, silent_after_hours, limits),
    ]
    found.sort(key=lambda each: (each.subject_start, each.rule, each.subject_kind, each.subject))
    silence = silence_changes_at(facts, plans, now, silent_after_hours)
    return replace(_judgement(facts, plans, found, now, limits), silence_changes_at=silence)


def judgement_of_findings(facts: Ordered, now: datetime, limits: Limits, found: Sequence[Finding]) -> Judgement:
    """The judgement that gave these findings, without looking at a single sample again."""
    plans = plans_of(facts, facts.athlete.local_date(now), stops_among(found), limits)
    ordered = sorted(found, key=lambda each: (each.subject_start, each.rule, each.subject_kind, each.subject))
    return _judgement(facts, plans, ordered, now, limits)


def _judgement(
    facts: Ordered, plans: Sequence[Plan], found: Sequence[Finding], now: datetime, limits: Limits
) -> Judgement:
    current = current_plan(plans, now)
    thin = _thin(facts, current, limits) if current is not None else ()
    totals = tuple(plan_totals(facts, plan, limits) for plan in plans)
    return Judgement(tuple(plans), current, tuple(found), thin, totals)


def _thin(facts: Ordered, plan: Plan, limits: Limits) -> tuple[str, ...]:
    """What cannot be judged for want of data, in sentences."""
    said = []
    needed = limits.body.baseline_mornings
    for name, normal in (
        (words.findings.RESTING_HEART_RATE_2, plan.resting),
        (words.findings.HEART_RATE_VARIABILITY, ln_rmssd_normal(facts, plan, limits)),
    ):
        if normal is None or not normal.enough:
            count = 0 if normal is None else normal.mornings
            said.append(words.findings.MORNINGS_BEFORE_RACE_THAT_BASELINE.format(name=name, count=count, needed=needed))
    if any(row.stage == "on_ramp" for row in plan.stages):
        usual = usual_week(facts.sessions, plan, limits)
        if usual.minutes is None:
            said.append(words.findings.RUNNING_WEEK.format(reason=usual.reason))
    if plan.ceilings.zone1 is None:
        said.append(f"heart rate: {'; '.join(plan.ceilings.reasons)}")
    return tuple(said)
