"""`resting_hr_up`, `hrv_down` and `short_sleep`: mornings and nights against the athlete's own before the race."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from math import exp
from statistics import fmean

from rules import words
from rules.body.baseline import Baseline, Level, level_on, levels
from rules.facts import Night
from rules.findings import Breach, Severity
from rules.limits import Limits
from rules.numbers import sleep

# A state that lasts is told when it begins, when it grows worse, and then once a week.


def told(breaches: dict[date, Breach], judged: Iterable[date], limits: Limits) -> dict[date, Breach]:
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
        if dates[0] > day0 and all(each in asleep for each in dates):
            judged.append(day)
            breach = _breach({each: asleep[each] for each in dates}, limits)
            if breach is not None:
                found[day] = breach
    return told(found, judged, limits)


def _breach(nights: dict[date, float], limits: Limits) -> Breach | None:
    note, caution = limits.short_sleep.note_hours, limits.short_sleep.caution_hours
    mean = fmean(nights.values())
    if mean >= note * 60:
        return None
    severity = Severity.CAUTION if mean < caution * 60 else Severity.NOTE
    text = words.findings.SLEEP_NIGHT.format(mean=sleep(mean), nights=len(nights), note=note)
    evidence = {"nights_min": {each.isoformat(): round(value, 1) for each, value in nights.items()}}
    return Breach("short_sleep", severity, text, round(mean / 60, 2), note, "h", evidence)


# `resting_hr_up` and `hrv_down`: mornings against the athlete's own mornings before the race.


def resting_hr_up(values: dict[date, float], day0: date, normal: Baseline | None, limits: Limits) -> dict[date, Breach]:
    """A breach for each morning that ends two mornings running over the limit."""
    limit = resting_limit(normal, limits)
    if limit is None or normal is None:
        return {}
    return {day: _resting_breach(day, values, limit, normal) for day in mornings_up(values, day0, limit, limits)}


def _resting_breach(day: date, values: dict[date, float], limit: float, normal: Baseline) -> Breach:
    before = day - timedelta(days=1)
    text = words.findings.RESTING_HEART_RATE.format(
        before=values[before],
        now=values[day],
        over=values[day] - normal.middle,
        middle=normal.middle,
        limit=limit,
    )
    evidence = {
        "mornings_bpm": {each.isoformat(): values[each] for each in (before, day)},
        **_baseline_evidence(normal, "bpm"),
    }
    return Breach("resting_hr_up", Severity.CAUTION, text, values[day], round(limit, 2), "bpm", evidence)


def hrv_down(values: dict[date, float], day0: date, normal: Baseline | None, limits: Limits) -> dict[date, Breach]:
    """A breach for mornings on which ln RMSSD lies lower than chance explains, told once.

    Only mornings after the race are in the mean: those before it are what it is compared with.
    """
    at = levels(values, day0, normal, limits)
    found = {day: variability_on(values, day, day0, normal, limits) for day in at}
    return told({day: breach for day, breach in found.items() if breach is not None}, at, limits)


def recent(values: dict[date, float], day: date, day0: date, limits: Limits) -> dict[date, float]:
    """The values of the week that ends on `day`, only from after the race."""
    first = max(day - timedelta(days=limits.hrv_down.days - 1), day0 + timedelta(days=1))
    return {each: value for each, value in values.items() if first <= each <= day}


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
    text = words.findings.RMSSD_HAS_LATELY_BEEN_ABOUT.format(
        mean=exp(level.mean),
        usual=exp(level.usual),
        note=exp(level.note),
        sizes=sizes,
        ln_mean=level.mean,
        ln_usual=level.usual,
    )
    evidence = {
        "mornings_ln_rmssd": {each.isoformat(): round(value, 3) for each, value in week.items()},
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
