"""The easy running of a session: what it is run at where the effort is least, not where the speed is."""

from __future__ import annotations

import numpy as np

from rules.limits import Limits
from rules.session.clean import Track
from rules.session.rolling import Flags, Floats, rolling_mean
from rules.session.stretches import flagged, stretches

CALM_S = 31
LAG_S = 30  # heart rate tells of the effort so long before


def easy_speed(track: Track, hard: Floats, limits: Limits) -> float | None:
    """m/s on the level: the middle of the third of the running that the heart found easiest.

    Climbs, descents and the seconds beside a walk or a stop are left out. Without heart rate the calmer part of the
    half-minute means stands for it. None where there is too little running to have an easy part.
    """
    calm = rolling_mean(np.where(_level_running(track, limits), hard, np.nan), CALM_S, least=15)
    told = np.isfinite(calm) & track.gait.running
    if told.sum() < limits.speed_work.least_running_s:
        return None
    heart = rolling_mean(track.heart.rows_bpm, CALM_S, least=10)
    after = np.append(heart[LAG_S:], np.full(min(LAG_S, len(heart)), np.nan))[: len(heart)]
    known = told & np.isfinite(after)
    share = limits.speed_work.easy_share
    slow = float(np.percentile(calm[told], 100 * share))
    if known.sum() < 0.6 * told.sum():
        return slow
    easiest = known & (after <= np.percentile(after[known], 100 * share))
    return float(min(np.median(calm[easiest]), np.percentile(calm[told], 50)))


def _level_running(track: Track, limits: Limits) -> Flags:
    slope = np.nan_to_num(track.ground.slope, nan=0.0)
    afoot = stretches(track.gait.running, bridge=2)
    settled = flagged(track.size, [(a + 10, b - 5) for a, b in afoot if b - a > 30])
    return np.asarray(settled & (np.abs(slope) <= limits.speed_work.level_slope))
