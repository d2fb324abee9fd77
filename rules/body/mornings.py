"""`resting_hr_up` and `hrv_down`: mornings against the athlete's own mornings before the race."""

from __future__ import annotations

from datetime import date, timedelta
from math import exp

from rules.body.baseline import Baseline
from rules.body.chart import Level, level_on, levels
from rules.body.episodes import told
from rules.body.resting import mornings_up, resting_limit
from rules.findings import Breach, Severity
from rules.limits import Limits


def resting_hr_up(values: dict[date, float], day0: date, normal: Baseline | None, limits: Limits) -> dict[date, Breach]:
    """A breach for each morning that ends two mornings running over the limit."""
    limit = resting_limit(normal, limits)
    if limit is None or normal is None:
        return {}
    return {day: _resting_breach(day, values, limit, normal) for day in mornings_up(values, day0, limit, limits)}


def _resting_breach(day: date, values: dict[date, float], limit: float, normal: Baseline) -> Breach:
    before = day - timedelta(days=1)
    text = (
        f"Resting heart rate {values[before]:g} and {values[day]:g} on two mornings running,"
        f" {values[day] - normal.middle:.0f} over your usual {normal.middle:g}; from {limit:.1f} it counts as up"
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
    text = (
        f"RMSSD has lately been about {exp(level.mean):.0f} ms, your usual {exp(level.usual):.0f} ms; chance explains"
        f" down to {exp(level.note):.0f} ms. In sizes of the smallest change that matters: {sizes:.1f} under"
        f" (ln RMSSD {level.mean:.2f}, usual {level.usual:.2f})"
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
