"""What a value may be at all, before any judging: bounds from the limits file, [plausible.*] and [intake.*]."""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from monitor.intake.facts import Samples
from rules.limits import default_limits

YEAR_SECONDS = 31556952.0  # mean of the calendar


@cache
def bounds(name: str) -> tuple[float, float]:
    """Least and most of a quantity, both allowed."""
    least, most = default_limits().value(f"plausible.{name}")
    return float(least), float(most)


def is_plausible(name: str, value: float) -> bool:
    least, most = bounds(name)
    return math.isfinite(value) and least <= value <= most


def dated() -> tuple[float, float]:
    """First and last moment that a clock which was set may tell, in seconds since 1970."""
    first_year, last_year = bounds("year")
    return (first_year - 1970) * YEAR_SECONDS, (last_year - 1970) * YEAR_SECONDS


def most(name: str) -> int:
    """A limit on what is taken in: bytes, members, points."""
    return default_limits().whole(f"intake.{name}")


def mask_samples(samples: Samples) -> Samples:
    """The same table with impossible values taken out, and columns that say nothing left out."""
    ranges: dict[str, list[float]] = default_limits().value("plausible.samples")
    masked: Samples = {"t_s": samples["t_s"]}
    for name, (least, most_) in ranges.items():
        if name not in samples:
            continue
        column = samples[name]
        with np.errstate(invalid="ignore"):
            believed = np.where((column >= least) & (column <= most_), column, np.nan)
        if not np.isnan(believed).all():
            masked[name] = believed
    return masked
