"""Metres up and down, counted only where the altitude has turned by more than its own wandering."""

from __future__ import annotations

import numpy as np

from rules.limits import Limits
from rules.session.clean import Track
from rules.session.rolling import Floats


def climb(track: Track, limits: Limits) -> tuple[float | None, float | None]:
    """Metres up and metres down in all; None where there is no altitude."""
    rows, altitude = turns(track, limits)
    if len(rows) == 0:
        return None, None
    change = np.diff(altitude)
    return float(change[change > 0].sum()), float(abs(change[change < 0].sum()))


def most_within(track: Track, metres: Floats, within_m: float, limits: Limits) -> tuple[float, float]:
    """The most metres up, and down, on any so many metres of ground. More easy ground beside it takes nothing away."""
    rows, altitude = turns(track, limits)
    if len(rows) < 2:
        return 0.0, 0.0
    path = np.interp(np.arange(track.size), rows, altitude)
    step = np.diff(path, prepend=path[0])
    ground = np.cumsum(metres)
    ends = np.minimum(np.searchsorted(ground, ground + within_m, side="right") - 1, track.size - 1)
    most = []
    for sign in (1.0, -1.0):
        total = np.cumsum(np.maximum(sign * step, 0.0))
        most.append(float(np.max(total[ends] - total)))
    return most[0], most[1]


def turns(track: Track, limits: Limits) -> tuple[Floats, Floats]:
    """Rows and altitudes of the first point and of every extreme that the altitude has left by more than a step."""
    known = np.flatnonzero(np.isfinite(track.ground.altitude_m))[::5]
    if len(known) < 12:
        return np.zeros(0), np.zeros(0)
    step = max(limits.ground.turn_m, 4.0 * track.ground.noise_m)
    picked = _extremes(track.ground.altitude_m[known].tolist(), step)
    return known[picked].astype(np.float64), track.ground.altitude_m[known[picked]]


def _extremes(altitude: list[float], step: float) -> list[int]:
    points, extreme, direction = [0], 0, 0
    for at, value in enumerate(altitude):
        lead = value - altitude[extreme]
        if direction == 0:
            if abs(value - altitude[0]) >= step:
                direction, extreme = (1 if value > altitude[0] else -1), at
        elif lead * direction > 0:
            extreme = at
        elif abs(lead) >= step:
            points.append(extreme)
            direction, extreme = -direction, at
    return [*points, extreme] if direction else points
