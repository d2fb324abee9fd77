"""What an athlete reads with breakfast: what today allows, what it does not, what the mornings say.

What may be done comes from `rules.day`; here it is put beside the mornings, the gates and what fits the athlete.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from rules import words
from rules.day import Decision, audience_of, decide
from rules.day.reasons import Reason
from rules.day_rules import WeekSoFar
from rules.facts import History
from rules.history import Ordered, heart_recovery, in_order, plan_checkins
from rules.judge import Judgement
from rules.limits import Limits
from rules.plan import Plan


@dataclass(frozen=True, slots=True)
class OpenReason:
    """One open reason of the day as it is shown; the first one rules."""

    kind: str
    forbids: str  # everything, sport or running
    since: datetime
    until: datetime | None  # None: it stands until it is answered
    ends: str  # clock, answer, check-in or morning
    finding: str | None
    text: str
    ends_text: str


@dataclass(frozen=True, slots=True)
class Today:
    """One day of one athlete. None where a limit does not exist or is not known; `sentences` say all of it."""

    athlete: str
    stage_ends: date | None
    date: date
    day: int | None
    stage: str | None
    next_stage: str | None
    allowed_min: int | None  # all sport but walking; 0 while rest is advised
    used_min: float  # of it, by today's sessions so far
    run_allowed_min: int | None
    running: str  # none, tolerated, test, share, free, or "rest day"
    rest_day_from_running: bool
    ceiling_bpm: int | None
    ceiling_estimated: bool
    effort: str
    pace_s_per_km: float | None  # not faster than this
    rest_until: datetime | None  # walking and mobility only until then, for the hours after the finish
    stop_rest_until: datetime | None  # walking only until then, after a stop
    not_allowed: tuple[str, ...]
    mornings: tuple[str, ...]
    week: WeekSoFar | None
    gates: tuple[str, ...]
    asks: tuple[str, ...]
    notes: tuple[str, ...]
    caution: str
    sentences: tuple[str, ...]
    answer: str  # the day in one phrase
    movement: str  # nothing, walking or sport
    rest: bool  # whether rest is advised
    walking_only_until: datetime | None  # where the clock ends it
    left_min: int | None  # of the day's minutes
    week_left_min: int | None  # of the week's running
    reasons: tuple[OpenReason, ...]  # the strictest first
    remarks: tuple[str, ...]  # on the athlete's health; for this machine only


@dataclass(frozen=True, slots=True)
class DayFacts:
    """The day in figures, before it is put into words."""

    decision: Decision
    plan: Plan
    mornings: tuple[str, ...]
    gates: tuple[str, ...]
    asks: tuple[str, ...]
    run_walker: bool
    painkiller_days: int

    @property
    def stage(self) -> str:
        return str(self.decision.stage)

    @property
    def on(self) -> date:
        return self.decision.date


def today(judgement: Judgement, history: History, now: datetime, limits: Limits) -> Today:
    """The day of `now` in the athlete's timezone, by the plan that rules it."""
    return today_by(judgement, in_order(history, limits), now, limits)


def today_by(
    judgement: Judgement, facts: Ordered, now: datetime, limits: Limits, decided: Decision | None = None
) -> Today:
    """The same, by facts already in order, and by the decision of that moment where it was made before."""
    decision = decided or decide(judgement, facts, now, limits)
    plan, allowed = decision.plan, decision.allowance
    figures = day_facts(judgement, plan, decision, facts, limits) if plan else None
    row = plan.planned_stage(decision.date) if plan and decision.active else None
    ceiling = allowed.ceiling if allowed else None
    return Today(
        athlete=facts.athlete.id,
        date=decision.date,
        day=decision.day,
        stage=decision.stage,
        stage_ends=row.last_date if row else None,
        next_stage=plan.stage_on(row.last_date + timedelta(days=1)) if plan and row else None,
        allowed_min=decision.allowed_min,
        used_min=decision.used_min,
        run_allowed_min=decision.run_allowed_min,
        running=decision.running,
        rest_day_from_running=any(reason.kind == "rest_day" for reason in decision.reasons),
        ceiling_bpm=ceiling.bpm if ceiling else None,
        ceiling_estimated=bool(ceiling and ceiling.estimated),
        effort=allowed.effort if allowed else "",
        pace_s_per_km=decision.pace_s_per_km,
        rest_until=_until(decision, "rest_hours"),
        stop_rest_until=_until(decision, "stop"),
        not_allowed=words.today.forbidden(decision),
        mornings=figures.mornings if figures else (),
        week=decision.week,
        gates=figures.gates if figures else (),
        asks=figures.asks if figures else (),
        notes=words.today.notes_of(figures) if figures else (),
        caution=_caution(figures),
        sentences=words.today.sentences(figures, judgement) if figures else (words.today.NO_RACE,),
        answer=words.day.answer(decision),
        movement=decision.movement,
        rest=decision.rest,
        walking_only_until=decision.walking_only_until,
        left_min=decision.left_min,
        week_left_min=decision.week_left_min,
        reasons=tuple(_shown(reason, decision) for reason in decision.reasons),
        remarks=words.day.remarks(decision, limits),
    )


def _until(decision: Decision, kind: str) -> datetime | None:
    return max((reason.until for reason in decision.reasons if reason.kind == kind and reason.until), default=None)


def _shown(reason: Reason, decision: Decision) -> OpenReason:
    audience = audience_of(decision)
    return OpenReason(
        reason.kind, reason.forbids, reason.since, reason.until, reason.ends, reason.finding,
        words.day.reason_words(reason, audience), words.day.ends_words(reason, audience),
    )  # fmt: skip


def _caution(day: DayFacts | None) -> str:
    if day is None:
        return ""
    return words.today.caution_today(day) if day.decision.active else words.today.caution_of(day.stage, 0)


def day_facts(judgement: Judgement, plan: Plan, decision: Decision, facts: Ordered, limits: Limits) -> DayFacts:
    """The rest of the day beside the decision: week, pace, gate."""
    on, active = decision.date, decision.active
    return DayFacts(
        decision=decision,
        plan=plan,
        mornings=_mornings(facts, plan, on, limits) if active else (),
        gates=words.today.asked(judgement.plans, on, reasons=True),
        asks=words.today.asked(judgement.plans, on, reasons=False),
        run_walker=active and is_run_walker(facts, plan, limits),
        painkiller_days=limits.remarks.painkiller_days,
    )


def is_run_walker(facts: Ordered, plan: Plan, limits: Limits) -> bool:
    """Whether most runs before the race had walking in them."""
    before = [
        session.digest
        for session in facts.sessions
        if session.digest.sport == "running" and session.start < plan.begins
    ]
    share = limits.today.run_walk_share
    walked = [
        digest
        for digest in before
        if digest.running_s and digest.walking_s >= share * (digest.walking_s + digest.running_s)
    ]
    return len(walked) * 2 > len(before)


def _mornings(facts: Ordered, plan: Plan, on: date, limits: Limits) -> tuple[str, ...]:
    return words.report.morning_words(
        on, plan.day0, heart_recovery(facts, plan, limits), plan_checkins(facts, plan), facts.asleep, limits
    )
