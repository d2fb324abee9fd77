"""An athlete's own normal from the mornings before the race: median and robust spread."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from math import log
from statistics import median

from rules.facts import Morning
from rules.limits import Limits

MAD_TO_SD = 1.4826
"""SD of a normal distribution over its median absolute deviation: 1 / 0.67449."""


@dataclass(frozen=True, slots=True)
class Baseline:
    """Middle and spread of one value over the mornings before the race; `enough` says whether to judge by it."""

    middle: float
    sd: float
    mornings: int
    needed: int
    first: date
    last: date

    @property
    def enough(self) -> bool:
        return self.mornings >= self.needed


def resting_hr(morning: Morning) -> float | None:
    return morning.resting_hr


def ln_rmssd(morning: Morning) -> float | None:
    """Natural logarithm of RMSSD in ms, the form in which its days are near to normal (Plews 2013)."""
    return log(morning.rmssd_ms) if morning.rmssd_ms is not None and morning.rmssd_ms > 0 else None


def by_date(mornings: Iterable[Morning], value: Callable[[Morning], float | None]) -> dict[date, float]:
    """One value a date, in order of dates; the median where a date has several."""
    found: dict[date, list[float]] = {}
    for morning in mornings:
        number = value(morning)
        if number is not None:
            found.setdefault(morning.date, []).append(number)
    return {day: median(found[day]) for day in sorted(found)}


def baseline(values: dict[date, float], day0: date, other_races: Collection[date], limits: Limits) -> Baseline | None:
    """The athlete's normal before the race; None without a single value.

    The days after other races are left out where enough mornings remain without them, then the race week, last the
    morning of the race.
    """
    needed = limits.whole("body.baseline_mornings")
    oldest = day0 - timedelta(days=limits.whole("body.baseline_days"))
    before_race_week = day0 - timedelta(days=limits.whole("body.race_week_days") + 1)
    eve = day0 - timedelta(days=1)
    disturbed = _after(other_races, limits)
    chosen: dict[date, float] = {}
    for last, left_out in (
        (before_race_week, disturbed),
        (eve, disturbed),
        (before_race_week, ()),
        (eve, ()),
        (day0, ()),
    ):
        chosen = {day: value for day, value in values.items() if oldest <= day <= last and day not in left_out}
        if len(chosen) >= needed:
            break
    if not chosen:
        return None
    middle = median(chosen.values())
    spread = median(abs(value - middle) for value in chosen.values())
    return Baseline(middle, MAD_TO_SD * spread, len(chosen), needed, min(chosen), max(chosen))


def _after(races: Collection[date], limits: Limits) -> frozenset[date]:
    days = range(1, limits.whole("body.other_race_days") + 1)
    return frozenset(race + timedelta(days=day) for race in races for day in days)
