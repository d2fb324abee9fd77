"""`resting_hr_up` and `hrv_down`: mornings against the athlete's own mornings before the race."""

from __future__ import annotations

from datetime import date, timedelta
from math import exp
from statistics import fmean

from rules.body.baseline import Baseline
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
    """A breach for mornings whose mean of ln RMSSD over the days before lies under the baseline's band, told once.

    Only mornings after the race are in the mean: those before it are what it is compared with.
    """
    if normal is None or not normal.enough:
        return {}
    found = {}
    days = [day for day in values if day > day0]
    for day in days:
        breach = _hrv_breach(recent(values, day, day0, limits), normal, limits)
        if breach is not None:
            found[day] = breach
    return told(found, days, limits)


def recent(values: dict[date, float], day: date, day0: date, limits: Limits) -> dict[date, float]:
    """The values of the week that ends on `day`, only from after the race."""
    first = max(day - timedelta(days=limits.whole("hrv_down.days") - 1), day0 + timedelta(days=1))
    return {each: value for each, value in values.items() if first <= each <= day}


def variability_on(
    values: dict[date, float], day: date, day0: date, normal: Baseline | None, limits: Limits
) -> Breach | None:
    """What the mean of the week that ends on `day` breaks, told before or not; None where all is well."""
    if normal is None or not normal.enough:
        return None
    return _hrv_breach(recent(values, day, day0, limits), normal, limits)


def _hrv_breach(week: dict[date, float], normal: Baseline, limits: Limits) -> Breach | None:
    if len(week) < limits.whole("hrv_down.values"):
        return None
    mean = fmean(week.values())
    spread = max(normal.sd, limits.number("hrv_down.least_sd"))
    under = (normal.middle - mean) / spread
    note, caution = limits.number("hrv_down.note_sd"), limits.number("hrv_down.caution_sd")
    if under <= note:
        return None
    severity = Severity.CAUTION if under >= caution else Severity.NOTE
    limit = normal.middle - note * spread
    text = (
        f"Mean ln RMSSD of {len(week)} mornings is {mean:.2f} (about {exp(mean):.0f} ms), {under:.1f} SD under your"
        f" usual {normal.middle:.2f} ({exp(normal.middle):.0f} ms); the band ends at {limit:.2f}"
    )
    evidence = {
        "mornings_ln_rmssd": {each.isoformat(): round(value, 3) for each, value in week.items()},
        "sd_under": round(under, 2),
        "caution_below": round(normal.middle - caution * spread, 3),
        **_baseline_evidence(normal, "ln_rmssd"),
    }
    return Breach("hrv_down", severity, text, round(mean, 3), round(limit, 3), "ln ms", evidence)


def _baseline_evidence(normal: Baseline, unit: str) -> dict[str, object]:
    return {
        f"baseline_{unit}": round(normal.middle, 3),
        f"baseline_sd_{unit}": round(normal.sd, 3),
        "baseline_mornings": normal.mornings,
        "baseline_from": normal.first.isoformat(),
        "baseline_to": normal.last.isoformat(),
    }
