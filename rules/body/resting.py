"""Resting heart rate against the baseline: `resting_hr_up`, also the gate that it shuts."""

from __future__ import annotations

from datetime import date, timedelta

from rules.body.baseline import Baseline
from rules.limits import Limits


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
