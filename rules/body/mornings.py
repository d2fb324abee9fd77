"""`resting_hr_up`, `hrv_down` and `short_sleep`: mornings and nights against the athlete's own before the race."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from math import exp, log, sqrt
from statistics import fmean, median

from rules.facts import Morning, Night
from rules.findings import Breach, Severity, say
from rules.limits import Limits

# An athlete's own normal from the mornings before the race: middle, spread, and how alike following days are.

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
    told = fmean(pairs) * len(values) / squares + 1 / len(
        values
    )  # + 1 / n: their own mean has taken so much of the spread away
    number = len(pairs) + 1
    return min(max((number * told + weight * usual) / (number + weight), 0.0), limits.body.likeness_most)


def _after(races: Collection[date], limits: Limits) -> frozenset[date]:
    days = range(1, limits.body.other_race_days + 1)
    return frozenset(race + timedelta(days=day) for race in races for day in days)


# A control chart of mornings: whether they have sunk under the usual by more than chance explains. An exponentially
# weighted mean of the mornings since the race is held against the mean of those before it (EWMA chart, NIST/SEMATECH
# e-Handbook of Statistical Methods, 6.3.2.4). The interval knows how many mornings stand behind both sides and how
# much one morning is like the one before, and widens with a baseline of few as Student's t does.


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
    since = {day: value for day, value in values.items() if day > day0}
    at = {day: level_on(since, day, day0, normal, limits) for day in sorted(since)}
    return {day: level for day, level in at.items() if level is not None}


def level_on(
    values: Mapping[date, float], day: date, day0: date, normal: Baseline | None, limits: Limits
) -> Level | None:
    """The level by the mornings up to a day; None without a baseline or with too few mornings in the week it ends."""
    if normal is None or not normal.enough:
        return None
    before_week = day - timedelta(days=limits.hrv_down.days)
    after = max(day0, day - timedelta(days=limits.hrv_down.memory_days))
    lately = {morning: value for morning, value in values.items() if after < morning <= day}
    if sum(before_week < morning for morning in lately) < limits.hrv_down.values:
        return None
    return _level(day, lately, normal, limits)


def _level(day: date, lately: Mapping[date, float], normal: Baseline, limits: Limits) -> Level:
    fading = 1 - limits.hrv_down.newest_share
    weights = [(morning.toordinal(), fading ** (day - morning).days) for morning in lately]
    total = sum(weight for _, weight in weights)
    mean = sum(weight * value for (_, weight), value in zip(weights, lately.values(), strict=True)) / total
    alike = normal.likeness
    likeness = [alike**days for days in range(max(on for on, _ in weights) - min(on for on, _ in weights) + 1)]
    chance = sum(
        weight * other * likeness[abs(on - other_on)] for on, weight in weights for other_on, other in weights
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

    Expansion of Cornish and Fisher in powers of 1/free (Abramowitz & Stegun 26.7.5, from memory); within 1 % from 6 on.
    """
    first, second = (z**3 + z) / 4, (5 * z**5 + 16 * z**3 + 3 * z) / 96
    return z + first / free + second / free**2


# A state that lasts is told when it begins, when it grows worse, and then once a week.
def when_told(breaches: dict[date, Breach], judged: Iterable[date], limits: Limits) -> dict[date, Breach]:
    """Of the breaches of a rolling mean those to tell; `judged` are all days on which it could be judged, in order."""
    again = timedelta(days=limits.body.told_again_days)
    kept: dict[date, Breach] = {}
    worst: Severity | None = None
    last = began = date.min
    for day in judged:
        breach = breaches.get(day)
        if breach is None:
            worst = None
            continue
        if worst is None:
            began = day
        if worst is None or breach.severity > worst or day - last >= again:
            breach.evidence["since"] = began.isoformat()
            kept[day] = breach
            worst = max(breach.severity, worst or breach.severity)
            last = day
    return kept


# Resting heart rate against the baseline: `resting_hr_up`, also the gate that it shuts.


def resting_limit(baseline: Baseline | None, limits: Limits) -> float | None:
    """The resting heart rate from which a morning counts as up, in bpm; None where the baseline is too thin."""
    if baseline is None or not baseline.enough:
        return None
    rise = max(limits.resting_hr_up.rise_bpm, limits.resting_hr_up.rise_sd * baseline.difference_sd)
    return baseline.mean + rise


def mornings_up(values: dict[date, float], day0: date, limit: float | None, limits: Limits) -> set[date]:
    """The dates after the race that end a run of mornings at or over the limit."""
    if limit is None:
        return set()
    running = limits.resting_hr_up.mornings
    up = {day for day, value in values.items() if day > day0 and value >= limit}
    return {day for day in up if all(day - timedelta(days=back) in up for back in range(running))}


# `short_sleep`: the mean of three nights running.


def slept(nights: Iterable[Night]) -> dict[date, float]:
    """Minutes of sleep by date of waking; the longest sleep where a date has several."""
    found: dict[date, float] = {}
    for night in nights:
        if night.total_sleep_min is not None:
            found[night.date] = max(night.total_sleep_min, found.get(night.date, 0.0))
    return dict(sorted(found.items()))


def short_sleep(asleep: dict[date, float], day0: date, limits: Limits) -> dict[date, Breach]:
    """A breach for nights after the race that end three short ones on average, told once."""
    number = limits.short_sleep.nights
    found: dict[date, Breach] = {}
    judged: list[date] = []
    for day in asleep:
        dates = [day - timedelta(days=back) for back in reversed(range(number))]
        if dates[0] > day0 and all(morning in asleep for morning in dates):
            judged.append(day)
            breach = _breach({morning: asleep[morning] for morning in dates}, limits)
            if breach is not None:
                found[day] = breach
    return when_told(found, judged, limits)


def _breach(nights: dict[date, float], limits: Limits) -> Breach | None:
    note, caution = limits.short_sleep.note_hours, limits.short_sleep.caution_hours
    mean = fmean(nights.values())
    if mean >= note * 60:
        return None
    severity = Severity.CAUTION if mean < caution * 60 else Severity.NOTE
    text = say("short_sleep", mean=mean, nights=len(nights), note=note)
    evidence = {"nights_min": {morning.isoformat(): round(value, 1) for morning, value in nights.items()}}
    return Breach("short_sleep", severity, text, round(mean / 60, 2), note, "h", evidence)


# `resting_hr_up` and `hrv_down`: mornings against the athlete's own mornings before the race.


def resting_hr_up(values: dict[date, float], day0: date, normal: Baseline | None, limits: Limits) -> dict[date, Breach]:
    """A breach for each morning that ends two mornings running over the limit."""
    limit = resting_limit(normal, limits)
    if limit is None or normal is None:
        return {}
    up = sorted(mornings_up(values, day0, limit, limits))
    return {day: _resting_breach(day, values, limit, normal) for day in up}


def _resting_breach(day: date, values: dict[date, float], limit: float, normal: Baseline) -> Breach:
    before = day - timedelta(days=1)
    text = say(
        "resting_hr_up",
        before=values[before],
        now=values[day],
        over=values[day] - normal.middle,
        middle=normal.middle,
        limit=limit,
    )
    evidence = {
        "mornings_bpm": {morning.isoformat(): values[morning] for morning in (before, day)},
        **_baseline_evidence(normal, "bpm"),
    }
    return Breach("resting_hr_up", Severity.CAUTION, text, values[day], round(limit, 2), "bpm", evidence)


def hrv_down(values: dict[date, float], day0: date, normal: Baseline | None, limits: Limits) -> dict[date, Breach]:
    """A breach for mornings on which ln RMSSD lies lower than chance explains, told once.

    Only mornings after the race are in the mean: those before it are what it is compared with.
    """
    if normal is None:
        return {}
    at = levels(values, day0, normal, limits)
    found = {day: _hrv_breach(level, recent(values, day, day0, limits), normal, limits) for day, level in at.items()}
    return when_told({day: breach for day, breach in found.items() if breach is not None}, at, limits)


def recent(values: dict[date, float], day: date, day0: date, limits: Limits) -> dict[date, float]:
    """The values of the week that ends on `day`, only from after the race."""
    first = max(day - timedelta(days=limits.hrv_down.days - 1), day0 + timedelta(days=1))
    return {morning: value for morning, value in values.items() if first <= morning <= day}


def variability_on(
    values: dict[date, float], day: date, day0: date, normal: Baseline | None, limits: Limits
) -> Breach | None:
    """What the mornings up to `day` break, told before or not; None where all is well."""
    level = level_on(values, day, day0, normal, limits)
    if level is None or normal is None:
        return None
    return _hrv_breach(level, recent(values, day, day0, limits), normal, limits)


def _hrv_breach(level: Level, week: dict[date, float], normal: Baseline, limits: Limits) -> Breach | None:
    if level.mean >= level.note:
        return None
    severity = Severity.CAUTION if level.mean < level.caution else Severity.NOTE
    sizes = level.under / limits.hrv_down.worthwhile_sd
    text = say(
        "hrv_down",
        mean=exp(level.mean),
        usual=exp(level.usual),
        note=exp(level.note),
        sizes=sizes,
        ln_mean=level.mean,
        ln_usual=level.usual,
    )
    evidence = {
        "mornings_ln_rmssd": {morning.isoformat(): round(value, 3) for morning, value in week.items()},
        "mornings_in_the_mean": level.mornings,
        "sd_under": round(level.under, 2),
        "smallest_worthwhile_changes_under": round(sizes, 1),
        "caution_below": round(level.caution, 3),
        "correlation_of_following_days": round(normal.likeness, 2),
        **_baseline_evidence(normal, "ln_rmssd"),
        "baseline_ln_rmssd": round(level.usual, 3),
        "baseline_sd_ln_rmssd": round(level.spread, 3),
    }
    return Breach("hrv_down", severity, text, round(level.mean, 3), round(level.note, 3), "ln ms", evidence)


def _baseline_evidence(normal: Baseline, unit: str) -> dict[str, object]:
    return {
        f"baseline_{unit}": round(normal.middle, 3),
        f"baseline_sd_{unit}": round(normal.sd, 3),
        "baseline_mornings": normal.mornings,
        "baseline_from": normal.first.isoformat(),
        "baseline_to": normal.last.isoformat(),
    }
