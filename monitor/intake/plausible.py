"""What a value may be at all, before any judging: bounds from the limits file, [plausible.*] and [intake.*]."""

from __future__ import annotations

import math

import numpy as np

from monitor.intake.facts import Samples
from rules.limits import default_limits
from rules.limits_schema import Pair

BOUNDS = default_limits().plausible
"""Least and most of each quantity, both allowed."""
MOST = default_limits().intake
"""What is taken in at most: bytes, members, points."""
YEAR_SECONDS = 31556952.0  # mean of the calendar


def is_plausible(bounds: Pair, value: float) -> bool:
    least, most = bounds
    return math.isfinite(value) and least <= value <= most


def dated() -> tuple[float, float]:
    """First and last moment that a clock which was set may tell, in seconds since 1970."""
    first_year, last_year = BOUNDS.year
    return (first_year - 1970) * YEAR_SECONDS, (last_year - 1970) * YEAR_SECONDS


def mask_samples(samples: Samples) -> Samples:
    """The same table with impossible values taken out, and columns that say nothing left out."""
    masked: Samples = {"t_s": samples["t_s"]}
    for name, (least, most_) in BOUNDS.samples.items():
        if name not in samples:
            continue
        column = samples[name]
        with np.errstate(invalid="ignore"):
            believed = np.where((column >= least) & (column <= most_), column, np.nan)
        if not np.isnan(believed).all():
            masked[name] = believed
    return masked
