"""The plan as a table: a row a stage with its dates and limits, and what became of each gate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from rules.facts import Ceiling
from rules.limits import Limits
from rules.numbers import counted
from rules.plan.allowance import Allowance
from rules.plan.ceilings import Ceilings
from rules.plan.days import PlanDay
from rules.plan.gates import Shut
from rules.plan.stages import StageName

RUNNING_WORDS = {
    "days_off": "none",
    "cross_training": "none",
    "test_runs": "a day of rest from running between runs",
    "on_ramp": "by weekly share",
}
STRENGTH_WORDS = {"none": "none", "under_ceiling": "under the ceiling", "free": "free"}


@dataclass(frozen=True, slots=True)
class PlannedStage:
    """One row: the stage as moved by gates and holds, its limits and their reasons."""

    stage: StageName
    first_day: int
    last_day: int
    first_date: date
    last_date: date
    planned_days: int
    held_days: int
    running: str
    duration_cap_min: int | None
    run_cap_min: int | None
    tolerated_run_min: int | None
    ceiling: Ceiling | None
    strength: str
    speed_work: str
    effort: str
    reasons: tuple[str, ...]

    @property
    def ceiling_bpm(self) -> int | None:
        return self.ceiling.bpm if self.ceiling is not None else None


@dataclass(frozen=True, slots=True)
class GateRecord:
    """A gate that was shut: before which stage, from when to when (None: still shut), why, and what it asks for."""

    before: StageName
    since: date
    until: date | None
    reasons: tuple[Shut, ...]

    @property
    def asks(self) -> tuple[str, ...]:
        """What would open it now."""
        return tuple(dict.fromkeys(shut.asks for shut in self.reasons))


def planned_stages(
    lengths: Sequence[tuple[StageName, int]],
    days: Sequence[PlanDay],
    allowances: Sequence[Allowance],
    ceilings: Ceilings,
    limits: Limits,
) -> tuple[PlannedStage, ...]:
    """Rows of the stage table in order."""
    planned = dict(lengths)
    rows = []
    for stage, group in groupby(zip(days, allowances, strict=True), key=lambda pair: pair[0].stage):
        pairs = list(group)
        rows.append(_row(stage, planned[stage], pairs, ceilings, limits))
    return tuple(rows)


def _row(
    stage: StageName,
    planned: int,
    pairs: list[tuple[PlanDay, Allowance]],
    ceilings: Ceilings,
    limits: Limits,
) -> PlannedStage:
    first, allowed = pairs[0]
    last, last_allowed = pairs[-1]
    reasons = [*allowed.reasons, *_of_the_end(stage, pairs, limits), *_of_holding(planned, pairs)]
    tolerated = next((each.tolerated_run_min for _, each in pairs if each.tolerated_run_min), None)
    strides = any(each.speed_work == "strides" for _, each in pairs)
    open_days = f"; strides in the last {limits.on_ramp.open_last_days} days" if strides else ""
    return PlannedStage(
        stage=stage,
        first_day=allowed.day,
        last_day=last_allowed.day,
        first_date=first.day,
        last_date=last.day,
        planned_days=planned,
        held_days=len(pairs) - planned,
        running=RUNNING_WORDS[stage],
        duration_cap_min=allowed.day_cap_min,
        run_cap_min=allowed.run_cap_min,
        tolerated_run_min=tolerated,
        ceiling=ceilings.of(1 if stage == "days_off" else 2),
        strength=STRENGTH_WORDS[allowed.strength],
        speed_work="none" + open_days,
        effort=allowed.effort,
        reasons=tuple(dict.fromkeys(reasons)),
    )


def _of_the_end(stage: StageName, pairs: list[tuple[PlanDay, Allowance]], limits: Limits) -> list[str]:
    """What the last days of a stage allow beyond the others."""
    if stage == "on_ramp":
        shares = dict.fromkeys(each.weekly_share for _, each in pairs if each.weekly_share is not None)
        words = ", then ".join(f"{share * 100:.0f} %" for share in shares)
        last = limits.on_ramp.open_last_days
        return [
            f"running a week: {words} of the usual one",
            f"in the last {last} days no ceiling, and strides are fine",
        ]
    return [each.reasons[-1] for _, each in pairs if each.tolerated_run_min][:1]


def _of_holding(planned: int, pairs: list[tuple[PlanDay, Allowance]]) -> list[str]:
    """Why a stage is longer than planned."""
    extra = len(pairs) - planned
    if not extra:
        return []
    told = latest_of_each([shut for day, _ in pairs for shut in day.shut])
    return [f"{counted(extra, 'day')} longer than planned", *dict.fromkeys(shut.reason for shut in told)]


REPEATING = ("coach", "morning")


def latest_of_each(reasons: Sequence[Shut]) -> tuple[Shut, ...]:
    """Each reason once; of those that say the same again with a later date, only the latest."""
    latest = {shut.by: shut for shut in sorted(reasons, key=lambda shut: shut.since) if shut.by in REPEATING}
    return tuple(dict.fromkeys(latest.get(shut.by, shut) for shut in reasons))


def gate_records(days: Sequence[PlanDay], as_of: date) -> tuple[GateRecord, ...]:
    """Every gate that was or is shut, in order; days after as-of tell only how long it stays shut at least."""
    records = []
    stages: list[StageName] = list(dict.fromkeys(day.stage for day in days))
    following = dict(zip(stages, [*stages[1:], "done"], strict=True))
    for stage in stages:
        held = [day for day in days if day.stage == stage and day.held]
        if not held or held[0].day > as_of:
            continue
        last = held[-1].day
        until = None if last >= as_of else last + timedelta(days=1)
        reasons = [shut for day in held if day.day <= as_of for shut in day.shut]
        if until is None:
            reasons = [shut for day in held if day.day == as_of for shut in day.shut]
        records.append(GateRecord(following[stage], held[0].day, until, latest_of_each(reasons)))
    return tuple(records)
