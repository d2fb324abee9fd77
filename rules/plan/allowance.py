"""What one day of a plan allows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from rules.facts import Ceiling
from rules.limits import Limits
from rules.numbers import exact
from rules.plan.ceilings import Ceilings
from rules.plan.days import PlanDay
from rules.plan.stages import WEEK, StageName

Running = Literal["none", "tolerated", "test", "share", "free"]
Strength = Literal["none", "under_ceiling", "free"]
SpeedWork = Literal["none", "strides", "free"]


@dataclass(frozen=True, slots=True)
class Allowance:
    """The limits of one day. Without a ceiling it is open where `ceiling_open` says so, else by feel: see `effort`."""

    stage: StageName
    day: int
    date: date
    running: Running
    day_cap_min: int | None = None
    run_cap_min: int | None = None
    tolerated_run_min: int | None = None
    ceiling: Ceiling | None = None
    ceiling_open: bool = False
    strength: Strength = "none"
    speed_work: SpeedWork = "none"
    easy_ground: bool = True
    rest_day_between_runs: bool = False
    weekly_share: float | None = None
    effort: str = ""
    reasons: tuple[str, ...] = ()


def free_day(stage: StageName, day: int, on: date) -> Allowance:
    """A day outside any plan: nothing is limited."""
    return Allowance(
        stage, day, on, "free", ceiling_open=True, strength="free", speed_work="free", easy_ground=False,
        reasons=("no limit",),
    )  # fmt: skip


def allowance(
    day: PlanDay, number: int, ceilings: Ceilings, limits: Limits, *, after_a_stop: bool = False
) -> Allowance:
    """The limits of a day of a plan; `number` counts from the day after the finish.

    `after_a_stop`: a session on a day before was a stop for running or speed work, so that no run is tolerated.
    """
    if day.stage == "cross_training":
        return _cross_training(day, number, ceilings, limits, after_a_stop=after_a_stop)
    build = {"days_off": _days_off, "test_runs": _test_runs, "on_ramp": _on_ramp}
    return build[day.stage](day, number, ceilings, limits)


def _cap(minutes: int, source: str) -> tuple[int, str]:
    return minutes, f"at most {minutes} min a day, walking apart ({source})"


def _ceiling_reason(zone: int, ceilings: Ceilings) -> str:
    ceiling = ceilings.of(zone)
    if ceiling is None:
        return f"zone {zone} by feel, {ceilings.effort[zone - 1]} ({'; '.join(ceilings.reasons)})"
    return f"heart rate up to {ceiling.bpm}: {ceiling.reason}"


def _days_off(day: PlanDay, number: int, ceilings: Ceilings, limits: Limits) -> Allowance:
    cap, cap_reason = _cap(limits.days_off.day_cap_minutes, limits.source("days_off.day_cap_minutes"))
    reasons = ("no running, no strength (project default)", cap_reason, _ceiling_reason(1, ceilings))
    return Allowance(
        "days_off", number, day.day, "none", cap, ceiling=ceilings.zone1, effort=ceilings.effort[0], reasons=reasons,
    )  # fmt: skip


def tolerates_a_run(day: PlanDay, limits: Limits) -> bool:
    """Whether one short run is only a note: near the end of a cross-training stage that is long enough."""
    long_enough = day.stage_planned_days >= limits.cross_training.tolerated_stage_days
    return long_enough and 0 <= day.days_left < limits.cross_training.tolerated_last_days


def _cross_training(day: PlanDay, number: int, ceilings: Ceilings, limits: Limits, *, after_a_stop: bool) -> Allowance:
    cap, cap_reason = _cap(limits.cross_training.day_cap_minutes, limits.source("cross_training.day_cap_minutes"))
    reasons = ["no running (project default)", cap_reason, _ceiling_reason(2, ceilings)]
    tolerated = None
    if tolerates_a_run(day, limits) and after_a_stop:
        reasons.append("no run is tolerated after a stop (project default)")
    elif tolerates_a_run(day, limits):
        tolerated = limits.cross_training.tolerated_run_minutes
        source = limits.source("cross_training.tolerated_run_minutes")
        reasons.append(f"one run of up to {tolerated} min is only noted ({source})")
    return Allowance(
        "cross_training", number, day.day, "tolerated" if tolerated else "none", cap, tolerated_run_min=tolerated,
        ceiling=ceilings.zone2, strength="under_ceiling", effort=ceilings.effort[1], reasons=tuple(reasons),
    )  # fmt: skip


def _test_runs(day: PlanDay, number: int, ceilings: Ceilings, limits: Limits) -> Allowance:
    cap, cap_reason = _cap(limits.test_runs.day_cap_minutes, limits.source("test_runs.day_cap_minutes"))
    run_cap = limits.test_runs.run_cap_minutes
    source = limits.source("test_runs.run_cap_minutes")
    reasons = (
        f"runs of up to {run_cap} min, a day of rest from running between them ({source})",
        cap_reason,
        _ceiling_reason(2, ceilings),
    )
    return Allowance(
        "test_runs", number, day.day, "test", cap, run_cap, ceiling=ceilings.zone2, strength="under_ceiling",
        rest_day_between_runs=True, effort=ceilings.effort[1], reasons=reasons,
    )  # fmt: skip


def weekly_share(day: PlanDay, limits: Limits) -> float:
    """The on-ramp's share of the usual running week, by week of the stage."""
    shares = limits.on_ramp.weekly_shares
    week = (day.day - day.stage_first).days // WEEK
    return shares[min(week, len(shares) - 1)]


def _on_ramp(day: PlanDay, number: int, ceilings: Ceilings, limits: Limits) -> Allowance:
    share = weekly_share(day, limits)
    last = 0 <= day.days_left < limits.on_ramp.open_last_days
    reasons = [f"running up to {exact(share) * 100} % of your usual week ({limits.source('on_ramp.weekly_shares')})"]
    reasons.append("no ceiling, strides are fine (project default)" if last else _ceiling_reason(2, ceilings))
    return Allowance(
        "on_ramp", number, day.day, "share", ceiling=None if last else ceilings.zone2, ceiling_open=last,
        strength="free", speed_work="strides" if last else "none",
        easy_ground=share <= limits.on_ramp.easy_ground_share, weekly_share=share,
        effort="" if last else ceilings.effort[1], reasons=tuple(reasons),
    )  # fmt: skip
