"""The days of a plan, laid one after the other (a stage waits while its gate is shut), and what each of them allows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from rules import words
from rules.facts import Ceiling, Hold
from rules.limits import Limits
from rules.numbers import exact
from rules.plan.gates import GateFacts, Shut, added_days, shut_on
from rules.plan.stages import WEEK, Ceilings, StageName

# What a day allows may depend on how near the end of its stage is. That end is always the one known on the day itself,
# so nothing that happens later changes how a day was to be spent.

ONE = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class PlanDay:
    """One day: its stage, the stage's first day and its last as known on this day, and why it was held, if it was."""

    day: date
    stage: StageName
    stage_first: date
    stage_last: date
    stage_planned_days: int
    shut: tuple[Shut, ...] = ()

    @property
    def held(self) -> bool:
        """Whether this day belongs to the stage only because the next gate is shut."""
        return bool(self.shut)

    @property
    def days_left(self) -> int:
        """Days of the stage after this one, as known on this day; below 0 on days that a gate has added."""
        return (self.stage_last - self.day).days


def lay_days(day0: date, lengths: Sequence[tuple[StageName, int]], facts: GateFacts) -> tuple[PlanDay, ...]:
    """Every day from day 1 to the last, in order and without a gap."""
    days: list[PlanDay] = []
    day = day0 + ONE
    for number, (stage, length) in enumerate(lengths):
        held_from = day0 if number == 0 else day
        days += _stage_days(day, held_from, stage, length, facts)
        day = days[-1].day + ONE
    return tuple(days)


def _stage_days(first: date, held_from: date, stage: StageName, length: int, facts: GateFacts) -> list[PlanDay]:
    """The days of one stage. A hold acts on the stage its day belongs to, not on one that ends the day before."""
    days: list[PlanDay] = []
    tried: date | None = None
    day = first
    while True:
        given = facts.holds.in_force(held_from, day - ONE, day)
        shut: tuple[Shut, ...] = ()
        if day > _last(first, length, given, facts.limits):
            tried = tried or day
            shut = shut_on(day, tried, facts, given)
            if not shut:
                return days
        planned = length + added_days(facts.holds.in_force(held_from, day, day), facts.limits)
        days.append(PlanDay(day, stage, first, first + timedelta(days=planned - 1), planned, shut))
        day += ONE


def _last(first: date, length: int, given: Sequence[Hold], limits: Limits) -> date:
    return first + timedelta(days=length + added_days(given, limits) - 1)


# What one day of a plan allows.

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
    return minutes, words.plan.MOST_MIN_DAY.format(minutes=minutes, source=source)


def _ceiling_reason(zone: int, ceilings: Ceilings) -> str:
    ceiling = ceilings.of(zone)
    if ceiling is None:
        return words.plan.ZONE_BY_FEEL.format(
            zone=zone, effort=ceilings.effort[zone - 1], reasons="; ".join(ceilings.reasons)
        )
    return words.plan.HEART_RATE_UP.format(bpm=ceiling.bpm, reason=ceiling.reason)


def _days_off(day: PlanDay, number: int, ceilings: Ceilings, limits: Limits) -> Allowance:
    cap, cap_reason = _cap(limits.days_off.day_cap_minutes, limits.source("days_off.day_cap_minutes"))
    reasons = (words.plan.NO_RUNNING, cap_reason, _ceiling_reason(1, ceilings))
    return Allowance(
        "days_off", number, day.day, "none", cap, ceiling=ceilings.zone1, effort=ceilings.effort[0], reasons=reasons,
    )  # fmt: skip


def tolerates_a_run(day: PlanDay, limits: Limits) -> bool:
    """Whether one short run is only a note: near the end of a cross-training stage that is long enough."""
    long_enough = day.stage_planned_days >= limits.cross_training.tolerated_stage_days
    return long_enough and 0 <= day.days_left < limits.cross_training.tolerated_last_days


def _cross_training(day: PlanDay, number: int, ceilings: Ceilings, limits: Limits, *, after_a_stop: bool) -> Allowance:
    cap, cap_reason = _cap(limits.cross_training.day_cap_minutes, limits.source("cross_training.day_cap_minutes"))
    reasons = [words.plan.NO_RUNNING_PROJECT_DEFAULT, cap_reason, _ceiling_reason(2, ceilings)]
    tolerated = None
    if tolerates_a_run(day, limits) and after_a_stop:
        reasons.append(words.plan.NO_RUN_IS_TOLERATED)
    elif tolerates_a_run(day, limits):
        tolerated = limits.cross_training.tolerated_run_minutes
        source = limits.source("cross_training.tolerated_run_minutes")
        reasons.append(words.plan.ONE_RUN_OF_UP.format(tolerated=tolerated, source=source))
    return Allowance(
        "cross_training", number, day.day, "tolerated" if tolerated else "none", cap, tolerated_run_min=tolerated,
        ceiling=ceilings.zone2, strength="under_ceiling", effort=ceilings.effort[1], reasons=tuple(reasons),
    )  # fmt: skip


def _test_runs(day: PlanDay, number: int, ceilings: Ceilings, limits: Limits) -> Allowance:
    cap, cap_reason = _cap(limits.test_runs.day_cap_minutes, limits.source("test_runs.day_cap_minutes"))
    run_cap = limits.test_runs.run_cap_minutes
    source = limits.source("test_runs.run_cap_minutes")
    reasons = (
        words.plan.RUNS_OF_UP_TO_MIN.format(run_cap=run_cap, source=source),
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
    reasons = [
        words.plan.RUNNING_UP_TO_OF_USUAL.format(
            percent=exact(share) * 100, source=limits.source("on_ramp.weekly_shares")
        )
    ]
    reasons.append(words.plan.NO_CEILING if last else _ceiling_reason(2, ceilings))
    return Allowance(
        "on_ramp", number, day.day, "share", ceiling=None if last else ceilings.zone2, ceiling_open=last,
        strength="free", speed_work="strides" if last else "none",
        easy_ground=share <= limits.on_ramp.easy_ground_share, weekly_share=share,
        effort="" if last else ceilings.effort[1], reasons=tuple(reasons),
    )  # fmt: skip
