"""Steps a minute, also where the device counted strides of one leg."""

from __future__ import annotations

import numpy as np

from rules.limits import Limits
from rules.session.rolling import Floats, rolling_median


def steps_per_minute(cadence: Floats, speed_mps: Floats, on_foot: bool, limits: Limits) -> Floats:
    """Cadence as steps a minute, doubled where the length of a step says that one leg was counted."""
    with np.errstate(invalid="ignore"):
        turning = cadence > 30
    if not turning.any():
        return cadence
    return cadence * 2 if _counts_one_leg(cadence, speed_mps, on_foot, limits) else cadence


def calm(spm: Floats, limits: Limits) -> Floats:
    """Cadence without single wrong counts."""
    return np.where(np.isfinite(spm), rolling_median(spm, limits.whole("gait.cadence_median_s")), np.nan)


def _counts_one_leg(cadence: Floats, speed_mps: Floats, on_foot: bool, limits: Limits) -> bool:
    """Steps longer than anyone makes at that speed mean that only one leg was counted."""
    with np.errstate(invalid="ignore"):
        both = (cadence > 30) & (speed_mps > 0.8)
    if both.sum() >= 30:
        speed, length = speed_mps[both], speed_mps[both] / (cadence[both] / 60)
        longest = limits.number("gait.longest_walking_step_m") + 0.2 * np.maximum(speed - 2.2, 0.0)
        return bool(np.mean(length > longest) > 0.5 and np.median(speed) < limits.number("gait.fastest_foot_mps"))
    turning = cadence[np.isfinite(cadence) & (cadence > 30)]
    return on_foot and bool(np.median(turning) < limits.number("gait.fewest_running_spm"))
