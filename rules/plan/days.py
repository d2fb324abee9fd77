"""The days of a plan, laid one after the other: each has a stage, and a stage waits while its gate is shut.

What a day allows may hang on how near the end of its stage is. That end is always the one known on the day itself, so
nothing that happens later changes how a day was to be spent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from rules.facts import Hold
from rules.limits import Limits
from rules.plan.gates import GateFacts, Shut, added_days, shut_on
from rules.plan.stages import StageName

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
