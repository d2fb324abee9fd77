"""A stage that begins or is held, or a plan that is done: what of it is news on a day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from monitor.alerts.news import PlanDone, StageBegins, StageHeld
from rules.plan import GateRecord, Plan, PlannedStage

TOLD_FOR = timedelta(days=2)  # what began longer ago is no news


@dataclass(frozen=True, slots=True)
class StageNews:
    """One piece of news of a plan; None where it is only noted."""

    key: str
    news: StageBegins | StageHeld | PlanDone | None


def stage_news(plan: Plan, today: date, looked_back: Sequence[str] = ()) -> list[StageNews]:
    """Where the plan stands on a day, and what keeps it there; `looked_back` sums a finished plan up."""
    stage = plan.stage_on(today) if today >= plan.day0 else "before"
    row = plan.planned_stage(today) if stage not in ("before", "done") else None
    if row is None:
        fresh = stage == "done" and today - (plan.last_date + timedelta(days=1)) <= TOLD_FOR
        return [StageNews(stage, PlanDone(tuple(looked_back)) if fresh else None)]
    held = [_held(gate, today) for gate in plan.gates if gate.until is None and gate.reasons]
    return [_begins(row, plan, today), *held]


def _begins(row: PlannedStage, plan: Plan, today: date) -> StageNews:
    news = StageBegins(
        stage=row.stage,
        first_date=row.first_date,
        last_date=row.last_date,
        noted_on=today,
        day=plan.day_of(today),
        plan_days=plan.last_day,
        running=row.running,
        day_min=row.duration_cap_min,
        run_min=row.run_cap_min,
        ceiling_bpm=row.ceiling_bpm,
        strength=row.strength,
        speed_work=row.speed_work,
    )
    return StageNews(f"begins:{row.stage}", news if today - row.first_date <= TOLD_FOR else None)


def _held(gate: GateRecord, today: date) -> StageNews:
    news = StageHeld(gate.before, tuple(shut.reason for shut in gate.reasons), gate.asks)
    return StageNews(f"held:{gate.before}:{gate.since}", news if today - gate.since <= TOLD_FOR else None)
