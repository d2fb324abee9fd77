"""A control chart of mornings: whether they have sunk under the usual by more than chance explains.

An exponentially weighted mean of the mornings since the race is held against the mean of those before it (EWMA chart,
NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4). The interval knows how many mornings stand behind both sides
and how much one morning is like the one before, and widens with a baseline of few as Student's t does.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from math import sqrt

from rules.body.baseline import Baseline
from rules.limits import Limits


@dataclass(frozen=True, slots=True)
class Level:
    """Where mornings stand on one day; all values in the unit of the mornings (ln ms)."""

    mean: float  # weighted, of the mornings since the race
    mornings: int  # behind the mean
    usual: float
    spread: float  # SD of one morning about the usual, with its floor
    note: float  # under it is more than chance explains
    caution: float

    @property
    def under(self) -> float:
        """How far the mean lies under the usual, in SD of one morning."""
        return (self.usual - self.mean) / self.spread


def levels(values: Mapping[date, float], day0: date, normal: Baseline | None, limits: Limits) -> dict[date, Level]:
    """The level on each day after the race that has a value and enough of them."""
    at = {day: level_on(values, day, day0, normal, limits) for day in sorted(values) if day > day0}
    return {day: level for day, level in at.items() if level is not None}


def level_on(
    values: Mapping[date, float], day: date, day0: date, normal: Baseline | None, limits: Limits
) -> Level | None:
    """The level by the mornings up to a day; None without a baseline or with too few mornings in the week it ends."""
    if normal is None or not normal.enough:
        return None
    week = timedelta(days=limits.hrv_down.days)
    memory = timedelta(days=limits.hrv_down.memory_days)
    lately = {each: value for each, value in values.items() if max(day0, day - memory) < each <= day}
    if sum(day - week < each for each in lately) < limits.hrv_down.values:
        return None
    return _level(day, lately, normal, limits)


def _level(day: date, lately: Mapping[date, float], normal: Baseline, limits: Limits) -> Level:
    fading = 1 - limits.hrv_down.newest_share
    weights = {each: fading ** (day - each).days for each in lately}
    total = sum(weights.values())
    mean = sum(weights[each] * value for each, value in lately.items()) / total
    alike = normal.likeness
    chance = sum(
        weights[one] * weights[other] * alike ** abs((one - other).days) for one in weights for other in weights
    ) / (total * total)
    spread = max(normal.morning_sd, limits.hrv_down.least_sd)
    free = normal.mornings * (1 - alike**2) / (1 + alike**2) - 1
    error = spread * sqrt(chance + normal.unsure)
    note, caution = (
        normal.mean - _student(z, free) * error for z in (limits.hrv_down.note_z, limits.hrv_down.caution_z)
    )
    return Level(mean, len(lately), normal.mean, spread, note, caution)


def _student(z: float, free: float) -> float:
    """Student's t with so many degrees of freedom that is as rare as `z` of a normal distribution.

    Expansion of Cornish and Fisher in powers of 1/free (Abramowitz & Stegun 26.7.5); within 1 % from 6 on.
    """
    first, second = (z**3 + z) / 4, (5 * z**5 + 16 * z**3 + 3 * z) / 96
    return z + first / free + second / free**2
