"""An athlete's own normal from the mornings before the race: middle, spread, and how alike following days are."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from math import log, sqrt
from statistics import fmean, median

from rules.facts import Morning
from rules.limits import Limits

MAD_TO_SD = 1.4826
"""SD of a normal distribution over its median absolute deviation: 1 / 0.67449."""
MEAN_DEVIATION_TO_SD = 1.2533
"""The same over its mean absolute deviation: square root of pi / 2."""
DRAWN_IN_AT_SD = 2.5
DRAWN_IN_TO_SD = 1.02
"""SD of normal values over that of the same drawn in at 2.5 SD, by 40 of them; 1.035 by 14, 1.011 by very many."""
DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Baseline:
    """Middle and spread of one value over the mornings before the race; `enough` says whether to judge by it.

    `middle` and `sd` are the median and 1.4826 median absolute deviations. `mean` and `spread` are the mean and the SD
    after values beyond 2.5 of these were drawn in (Huber's winsorising): nearly as robust, and far less left to chance
    with few mornings. `likeness` is the correlation of a morning with the one before.
    """

    middle: float
    sd: float
    mornings: int
    needed: int
    first: date
    last: date
    mean: float
    spread: float
    likeness: float = 0.0

    @property
    def enough(self) -> bool:
        return self.mornings >= self.needed

    @property
    def unsure(self) -> float:
        """Variance of the mean, in variances of one morning: the fewer and the more alike, the greater."""
        return min((1 + self.likeness) / (1 - self.likeness) / self.mornings, 0.75)

    @property
    def morning_sd(self) -> float:
        """SD of one morning; mornings that are alike show too little of it."""
        return self.spread / sqrt(1 - self.unsure)

    @property
    def difference_sd(self) -> float:
        """SD of a later morning about this usual, which is not sure itself."""
        return self.morning_sd * sqrt(1 + self.unsure)


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
    needed = limits.body.baseline_mornings
    oldest = day0 - timedelta(days=limits.body.baseline_days)
    before_race_week = day0 - timedelta(days=limits.body.race_week_days + 1)
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
    drawn_in = _drawn_in(chosen, middle, MAD_TO_SD * spread)
    mean = fmean(drawn_in.values())
    squares = sum((value - mean) ** 2 for value in drawn_in.values())
    return Baseline(
        middle,
        MAD_TO_SD * spread,
        len(chosen),
        needed,
        min(chosen),
        max(chosen),
        mean,
        DRAWN_IN_TO_SD * sqrt(squares / max(len(chosen) - 1, 1)),
        _likeness(drawn_in, mean, squares, limits),
    )


def _drawn_in(values: dict[date, float], middle: float, sd: float) -> dict[date, float]:
    """Values further than 2.5 SD from the middle set to there; where most are equal the mean deviation tells the SD."""
    off = fmean(abs(value - middle) for value in values.values())
    reach = DRAWN_IN_AT_SD * (sd if sd > 0 else MEAN_DEVIATION_TO_SD * off)
    return {day: min(max(value, middle - reach), middle + reach) for day, value in values.items()}


def _likeness(values: dict[date, float], mean: float, squares: float, limits: Limits) -> float:
    """Correlation of following days, drawn towards what is usual where there are few, and never negative."""
    usual, weight = limits.body.likeness, limits.body.likeness_mornings
    pairs = [(value - mean) * (values[day + DAY] - mean) for day, value in values.items() if day + DAY in values]
    if not pairs or squares <= 0:
        return usual
    told = fmean(pairs) * len(values) / squares + 1 / len(values)  # + 1 / n: the mean of the same values hides so much
    number = len(pairs) + 1
    return min(max((number * told + weight * usual) / (number + weight), 0.0), limits.body.likeness_most)


def _after(races: Collection[date], limits: Limits) -> frozenset[date]:
    days = range(1, limits.body.other_race_days + 1)
    return frozenset(race + timedelta(days=day) for race in races for day in days)
