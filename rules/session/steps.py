"""Steps a minute, also where the device counted strides of one leg."""

from __future__ import annotations

import numpy as np

from rules.limits import Limits
from rules.session.rolling import Flags, Floats, rolling_median


def steps_per_minute(cadence: Floats, speed_mps: Floats, limits: Limits) -> Floats:
    """Cadence as steps a minute, doubled where the length of a step says that one leg was counted."""
    with np.errstate(invalid="ignore"):
        turning = cadence > 30
    if not turning.any():
        return cadence
    return cadence * 2 if _counts_one_leg(cadence, speed_mps, limits) else cadence


def calm(spm: Floats, limits: Limits) -> Floats:
    """Cadence without single wrong counts."""
    return np.where(np.isfinite(spm), rolling_median(spm, limits.gait.cadence_median_s), np.nan)


def _counts_one_leg(cadence: Floats, speed_mps: Floats, limits: Limits) -> bool:
    """Steps longer than anyone makes at that speed mean that only one leg was counted."""
    with np.errstate(invalid="ignore"):
        both = (cadence > 30) & (speed_mps > 0.8)
    if both.sum() < 30:
        return False  # without a speed the step stays as the file has it, lest it be doubled twice
    long = too_long(cadence, speed_mps, limits)[both].mean() > 0.5
    return bool(long and np.median(speed_mps[both]) < limits.gait.fastest_foot_mps)


def too_long(spm: Floats, speed_mps: Floats, limits: Limits) -> Flags:
    """Where a step would be longer than anyone makes at that speed: pedalled, or counted of one leg."""
    with np.errstate(invalid="ignore", divide="ignore"):
        longest = limits.gait.longest_walking_step_m + 0.2 * np.maximum(speed_mps - 2.2, 0.0)
        return np.asarray((spm > 30) & (speed_mps / (spm / 60) > longest))
