"""A stage that begins or is held, in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from monitor.alerts.words import STAGE_WORDS, sentence
from rules.plan import GateRecord, Plan, PlannedStage

TOLD_FOR = timedelta(days=2)  # what began longer ago is no news


@dataclass(frozen=True, slots=True)
class StageNews:
    """One piece of news of a plan; `to_tell` is false for what is only noted."""

    key: str
    title: str
    body: str
    to_tell: bool


def stage_news(plan: Plan, today: date, looked_back: Sequence[str] = ()) -> list[StageNews]:
    """Where the plan stands on a day, and what keeps it there; `looked_back` sums a finished plan up."""
    stage = plan.stage_on(today) if today >= plan.day0 else "before"
    row = plan.planned_stage(today) if stage not in ("before", "done") else None
    if row is None:
        told = [*looked_back, "Nothing is limited from here on; keep hard days apart for some weeks yet."]
        done = "\n".join(told) if stage == "done" else ""
        ended = plan.last_date + timedelta(days=1)
        return [
            StageNews(stage, "the plan after the race is done", done, stage == "done" and today - ended <= TOLD_FOR)
        ]
    news = [_begins(row, plan, today)]
    news += [_held(gate, today) for gate in plan.gates if gate.until is None and gate.reasons]
    return news


def _begins(row: PlannedStage, plan: Plan, today: date) -> StageNews:
    words = STAGE_WORDS[row.stage]
    since = "today" if row.first_date == today else f"on {row.first_date:%a} {row.first_date.day} {row.first_date:%b}"
    begin = "begin" if words.endswith(("s", "off")) else "begins"
    title = f"{words} began {since}" if row.first_date < today else f"{words} {begin} today"
    return StageNews(
        f"begins:{row.stage}",
        f"{title} (day {plan.day_of(today)} of {plan.last_day})",
        "\n".join(_limits(row)),
        today - row.first_date <= TOLD_FOR,
    )


def _limits(row: PlannedStage) -> list[str]:
    """What the stage allows, a line each."""
    told = [f"To {row.last_date:%a} {row.last_date.day} {row.last_date:%b}.", sentence(f"running: {row.running}")]
    told.append(f"Time a day: {row.duration_cap_min} min." if row.duration_cap_min else "Time a day: no cap.")
    if row.run_cap_min:
        told.append(f"A run: up to {row.run_cap_min} min.")
    if row.ceiling_bpm:
        told.append(f"Heart rate: up to {row.ceiling_bpm} bpm.")
    return [*told, sentence(f"strength: {row.strength}"), sentence(f"speed work: {row.speed_work}")]


def _held(gate: GateRecord, today: date) -> StageNews:
    why = [sentence(shut.reason) for shut in gate.reasons]
    asks = [f"It opens with: {each}." for each in gate.asks]
    before = STAGE_WORDS[gate.before] if gate.before != "done" else "the end of the plan"
    return StageNews(
        f"held:{gate.before}:{gate.since}",
        f"{before} must wait; the stage before it is held",
        "\n".join(dict.fromkeys([*why, *asks])),
        today - gate.since <= TOLD_FOR,
    )
