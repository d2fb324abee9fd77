"""The stage table: how the days of a reverse taper are shared among its stages, and how hard each lets one go."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import Literal

from rules import words
from rules.body.mornings import Baseline
from rules.facts import Athlete, Ceiling, Race, Session, Sex
from rules.findings import Statement, say
from rules.limits import Limits
from rules.limits_schema_session import Pair

# Exact arithmetic on decimal numbers, so that no limit depends on a binary rounding.


@lru_cache(maxsize=1024)
def exact(number: float | int) -> Fraction:
    """The decimal number as it was written: 21.1 becomes 211/10."""
    return Fraction(repr(number))


def round_half_up(number: Fraction) -> int:
    """Nearest whole number, halves upwards."""
    return (number + Fraction(1, 2)).__floor__()


def highest_whole_below(number: Fraction) -> int:
    """The highest whole number strictly below: 127 for 128, 121 for 121.6."""
    return number.__ceil__() - 1


# The stage table: how the days of a reverse taper are shared among its stages.

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


# Heart rate by the athlete: ceilings in whole beats, the highest number still in zone 1 or 2; training impulse.


@dataclass(frozen=True, slots=True)
class Ceilings:
    """Both ceilings of an athlete in one plan, or why there are none; `effort` says the same by feel."""

    zone1: Ceiling | None
    zone2: Ceiling | None
    reasons: tuple[Statement, ...]
    estimated: tuple[Statement, ...]
    effort: tuple[str, str]

    def of(self, zone: int) -> Ceiling | None:
        return self.zone1 if zone == 1 else self.zone2


@dataclass(frozen=True, slots=True)
class _Scale:
    """Upper ends of zone 1 and zone 2, which themselves lie outside the zone, and what is said of them."""

    ends: tuple[Fraction, Fraction]
    reasons: tuple[Statement, Statement]
    estimated: tuple[Statement, ...] = ()


def ceilings(athlete: Athlete, year: int, resting: Baseline | None, limits: Limits) -> Ceilings:
    """Ceilings by the athlete's model; where it lacks data the next that can be had, with the reason."""
    tried: list[Statement] = []
    low, high = limits.zones.effort_by_feel
    for model in dict.fromkeys((athlete.intensity_model, "hrmax", "threshold")):
        if model == "fixed":
            if athlete.ceiling_zone1 is not None and athlete.ceiling_zone2 is not None:
                why = say("ceiling_in_roster")
                one = Ceiling(athlete.ceiling_zone1, 1, why)
                return Ceilings(one, Ceiling(athlete.ceiling_zone2, 2, why), (why,), (), (low, high))
            tried.append(say("ceiling_not_in_roster"))
            continue
        scale = _scale(model, athlete, year, resting, limits)
        if not isinstance(scale, _Scale):
            tried.append(scale)
            continue
        one, two = (
            Ceiling(highest_whole_below(end), zone, _with(reason, scale.estimated), bool(scale.estimated))
            for zone, end, reason in zip((1, 2), scale.ends, scale.reasons, strict=True)
        )
        reasons = (_with(reason, scale.estimated) for reason in scale.reasons)
        return Ceilings(one, two, (*tried, *reasons), scale.estimated, (low, high))
    return Ceilings(None, None, (*tried, say("no_ceiling")), (), (low, high))


def estimated_hr_max(born: int, year: int, limits: Limits) -> Fraction:
    """HRmax in bpm from age: 208 - 0.7 x age (Tanaka 2001)."""
    intercept, slope = limits.zones.hrmax_from_age
    return exact(intercept) - exact(slope) * (year - born)


def believable_bpm(athlete: Athlete, year: int, limits: Limits) -> float | None:
    """What a sensor can be believed of this athlete's heart; None where neither HRmax nor age is known."""
    over = limits.cleaning.over_hr_max_bpm
    if athlete.hr_max is not None:
        return float(athlete.hr_max + over["measured"])
    return None if athlete.born is None else float(estimated_hr_max(athlete.born, year, limits) + over["estimated"])


def _hr_max(athlete: Athlete, year: int, limits: Limits) -> tuple[Fraction, Statement, tuple[Statement, ...]] | None:
    if athlete.hr_max is not None:
        return Fraction(athlete.hr_max), say("hr_max", bpm=athlete.hr_max), ()
    if athlete.born is None:
        return None
    guess = estimated_hr_max(athlete.born, year, limits)
    source = limits.source("zones.hrmax_from_age")
    note = say("hr_max_estimated", bpm=float(guess), age=year - athlete.born, source=source)
    return guess, say("hr_max", bpm=float(guess)), (note,)


def _scale(model: str, athlete: Athlete, year: int, resting: Baseline | None, limits: Limits) -> _Scale | Statement:
    if model == "threshold":
        return _threshold_scale(athlete, limits)
    top = _hr_max(athlete, year, limits)
    if top is None:
        return say("no_hr_max")
    if model == "hrr":
        return _reserve_scale(athlete, top, resting, limits)
    hr_max, name, estimated = top
    shares = limits.zones.hrmax
    return _Scale(
        _pair([exact(share) * hr_max for share in shares]), _below(shares, name, "zones.hrmax", limits), estimated
    )


def _reserve_scale(
    athlete: Athlete, top: tuple[Fraction, Statement, tuple[Statement, ...]], resting: Baseline | None, limits: Limits
) -> _Scale | Statement:
    """Karvonen 1957 (from memory): rest + share x (HRmax - rest)."""
    hr_max, name, estimated = top
    if athlete.hr_rest is not None:
        rest = Fraction(athlete.hr_rest)
    elif resting is not None:
        rest = exact(resting.middle)
        estimated = (*estimated, say("rest_is_median", bpm=resting.middle, mornings=resting.mornings))
    else:
        return say("rest_unknown")
    if rest >= hr_max:
        return say("rest_not_below_hr_max")
    shares = limits.zones.hrr
    ends = [rest + exact(share) * (hr_max - rest) for share in shares]
    name = say("heart_rate_reserve", hr_max=name, rest=float(rest))
    return _Scale(_pair(ends), _below(shares, name, "zones.hrr", limits), estimated)


def _threshold_scale(athlete: Athlete, limits: Limits) -> _Scale | Statement:
    if athlete.threshold_hr is None:
        return say("threshold_hr_unknown")
    shares = limits.zones.threshold
    name = say("threshold_hr", bpm=athlete.threshold_hr)
    return _Scale(
        _pair([exact(share) * athlete.threshold_hr for share in shares]),
        _below(shares, name, "zones.threshold", limits),
    )


def _pair(ends: list[Fraction]) -> tuple[Fraction, Fraction]:
    return ends[0], ends[1]


def _below(shares: Pair, what: Statement, limit: str, limits: Limits) -> tuple[Statement, Statement]:
    source = limits.source(limit)
    first, second = (
        say("ceiling_below", percent=float(exact(share) * 100), what=what, source=source) for share in shares
    )
    return first, second


def _with(reason: Statement, estimated: tuple[Statement, ...]) -> Statement:
    return say("and_estimated", parts=[reason, *estimated]) if estimated else reason


# Training impulse from the seconds spent at each heart rate. TRIMP = minutes x x b e^(k x), x = share of heart rate
# reserve; men b 0.64, k 1.92; women b 0.86, k 1.67 (Banister 1991; Morton, Fitz-Clarke, Banister 1990 J Appl Physiol
# 69:1171; the constants as others quote them, from memory). Summed over the seconds at each heart rate: the formula is
# steeper than straight, so the mean heart rate of a session undercounts it.

WEIGHTS: dict[str, tuple[float, float]] = {"male": (0.64, 1.92), "female": (0.86, 1.67)}


def believed_seconds(session: Session, athlete: Athlete, year: int, limits: Limits) -> dict[int, float]:
    """Whole bpm -> seconds of a session, without beats that this heart does not do.

    A digest knows no athlete, so it still holds them.
    """
    highest = believable_bpm(athlete, year, limits)
    return {bpm: spent for bpm, spent in session.digest.hr_seconds.items() if highest is None or bpm <= highest}


def trimp(hr_seconds: Mapping[int, float], rest: float, highest: float, sex: Sex | None) -> float:
    """Training impulse; where sex is not told, the mean of both weightings. 0 where the reserve is not positive."""
    if highest <= rest:
        return 0.0
    kinds = [WEIGHTS[sex]] if sex else list(WEIGHTS.values())
    total = 0.0
    for bpm, seconds in hr_seconds.items():
        share = min(max((bpm - rest) / (highest - rest), 0.0), 1.0)
        total += seconds / 60 * share * sum(b * math.exp(k * share) for b, k in kinds) / len(kinds)
    return total
