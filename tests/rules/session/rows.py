"""Channels of a second a row, put together of pieces, for the borders of what is masked."""

from __future__ import annotations

import numpy as np

from rules.limits import default_limits
from rules.session.timeline import Flags, Floats, Stretch, stretches

LIMITS = default_limits()
NAN = float("nan")
REACH, FAR = 8, 30.0


def rows(*parts: tuple[int, float]) -> Floats:
    """So many seconds of each value."""
    return np.concatenate([np.full(seconds, float(value)) for seconds, value in parts])


def ramp(seconds: int, start: float, end: float) -> Floats:
    """Straight from one value to the other, which it reaches in the last row."""
    return np.linspace(start, end, seconds + 1)[1:]


def spans(flags: Flags) -> list[Stretch]:
    return stretches(flags)
