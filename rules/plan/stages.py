"""The stage table: how the days of a reverse taper are shared among its stages."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from rules import words
from rules.facts import Race
from rules.limits import Limits
from rules.numbers import exact, round_half_up

StageName = Literal["before", "days_off", "cross_training", "test_runs", "on_ramp", "done"]

STAGES: tuple[StageName, ...] = ("days_off", "cross_training", "test_runs", "on_ramp")
"""The stages of a plan, the strictest first."""

WEEK = 7


def stage_lengths(days: int, limits: Limits) -> list[tuple[StageName, int]]:
    """Stages and their length in days, those without a day left out."""
    if days >= 3 * WEEK:
        lengths = [WEEK, WEEK, WEEK, days - 3 * WEEK]
    else:
        third = max(limits.plan.days_off_at_least_days, round_half_up(Fraction(days, 3)))
        off = WEEK if days >= 2 * WEEK else min(days, third)
        cross = (days - off + 1) // 2
        lengths = [off, cross, days - off - cross, 0]
    return [(stage, length) for stage, length in zip(STAGES, lengths, strict=True) if length > 0]


def strictness(stage: StageName) -> int:
    """0 for the strictest stage, rising to that of no limit at all."""
    return STAGES.index(stage) if stage in STAGES else len(STAGES)


# How many days a reverse taper lasts: by taper, event, conditions and effort.


@dataclass(frozen=True, slots=True)
class Length:
    """Days of the plan, what they are made of, and why in words."""

    days: int
    base_days: int
    taken_off_days: int
    added_days: int
    reasons: tuple[str, ...]


def plan_length(race: Race, limits: Limits) -> Length:
    """Length of the reverse taper in days."""
    base, why = _base_days(race, limits)
    off = _taken_off(race, base, limits)
    added = _added(race, limits)
    reasons = [why]
    if race.effort == "controlled":
        reasons.append(words.plan.RUN_UNDER_CONTROL.format(off=off, source=limits.source("plan.controlled_share")))
    if added:
        text = ", ".join(name.replace("_", " ") for name in dict.fromkeys(race.conditions))
        reasons.append(f"{text}: {added} days more ({limits.source('plan.condition_days')})")
    return Length(base - off + added, base, off, added, tuple(reasons))


def _base_days(race: Race, limits: Limits) -> tuple[int, str]:
    if race.taper_days is not None:
        return race.taper_days, words.plan.DAYS_LONG_AS_TAPER.format(taper_days=race.taper_days)
    if race.event == "custom":
        if race.distance_km is None:
            raise ValueError(words.plan.CUSTOM_EVENT_NEEDS_DISTANCE)
        days = _by_distance(exact(race.distance_km), limits)
        return days, words.plan.DAYS_FOR_KM.format(
            days=days, distance_km=race.distance_km, source=limits.source("plan.custom_days")
        )
    table = limits.plan.event_days
    days = int(table[race.event])
    return days, f"{days} days for {race.event.replace('_', ' ')} ({limits.source('plan.event_days')})"


def _by_distance(km: Fraction, limits: Limits) -> int:
    points = [(exact(at_km), exact(days)) for at_km, days in limits.plan.custom_days]
    if km <= points[0][0]:
        return round_half_up(points[0][1])
    for (km_a, days_a), (km_b, days_b) in pairwise(points):
        if km <= km_b:
            return round_half_up(days_a + (days_b - days_a) * (km - km_a) / (km_b - km_a))
    return round_half_up(points[-1][1])


def _taken_off(race: Race, base: int, limits: Limits) -> int:
    """Days that a controlled effort takes off; it never lengthens a plan that is shorter than the least length."""
    if race.effort != "controlled":
        return 0
    share = exact(limits.plan.controlled_share)
    least = limits.plan.controlled_at_least_days
    return max(0, min(round_half_up(share * base), base - least))


def _added(race: Race, limits: Limits) -> int:
    kinds = len(set(race.conditions))
    return min(kinds * limits.plan.condition_days, limits.plan.conditions_at_most_days)
