"""What a cleaned session comes to: steps and impact, seconds at each heart rate, best speeds, climb."""

from __future__ import annotations

import numpy as np

from rules.limits import Limits
from rules.session.clean import Track
from rules.session.rolling import Flags, Floats, trailing_mean


def peak_force_bw(speed_mps: Floats, running: Flags, limits: Limits) -> Floats:
    """Peak vertical force a step, body weights. Walking and running are two levels; nothing is put between them."""
    line = limits.number("impact.running_bw_at_3") + limits.number("impact.running_bw_per_mps") * (speed_mps - 3.0)
    least = limits.number("impact.running_bw_least")
    run = np.maximum(np.nan_to_num(line, nan=least), least)
    return np.where(running, run, limits.number("impact.walking_bw"))


def steps_and_impact(track: Track, limits: Limits) -> tuple[float, float]:
    """Steps on foot, and steps x peak force in body weights."""
    run, walk = track.gait.running, track.gait.walking
    guess = np.where(run, limits.number("impact.running_spm_guess"), limits.number("impact.walking_spm_guess"))
    with np.errstate(invalid="ignore"):
        spm = np.where(track.spm > 30, track.spm, guess)
    steps = np.where(run | walk, spm / 60, 0.0)
    return float(steps.sum()), float(np.sum(steps * peak_force_bw(track.pace.speed_mps, run, limits)))


def hr_seconds(track: Track) -> dict[int, float]:
    """Whole bpm -> seconds of believed heart rate."""
    kept = track.heart.believed & (track.heart.weight_s > 0)
    if not kept.any():
        return {}
    counts = np.bincount(track.heart.bpm[kept].astype(np.int64), weights=track.heart.weight_s[kept])
    return {int(bpm): round(float(counts[bpm]), 3) for bpm in np.flatnonzero(counts)}


def best_speeds(track: Track, limits: Limits) -> dict[int, float]:
    """Seconds -> best mean level-ground speed held running for so long."""
    effort = np.where(track.gait.running, track.effort_mps, np.nan)[track.clock.real]
    best: dict[int, float] = {}
    for seconds in limits.value("measures.best_durations"):
        means = trailing_mean(effort, int(seconds))
        if np.isfinite(means).any():
            best[int(seconds)] = round(float(np.nanmax(means)), 4)
    return best


def climb(track: Track, limits: Limits) -> tuple[float | None, float | None]:
    """Metres up and down, counted only when the altitude has turned by more than its own noise."""
    altitude = track.ground.altitude_m[np.isfinite(track.ground.altitude_m)]
    if len(altitude) < 60:
        return None, None
    step = max(limits.number("ground.turn_m"), 4.0 * track.ground.noise_m)
    turns = _turning_points(altitude[::5], step)
    change = np.diff(turns)
    return float(change[change > 0].sum()), float(abs(change[change < 0].sum()))


def _turning_points(altitude: Floats, step: float) -> Floats:
    """First, last, and every extreme that the altitude has left by `step` or more."""
    points, extreme, direction = [float(altitude[0])], float(altitude[0]), 0
    for value in altitude.tolist():
        if (direction >= 0 and value > extreme) or (direction <= 0 and value < extreme):
            direction = direction or (1 if value > points[0] + step else -1 if value < points[0] - step else 0)
            if direction:
                extreme = value
        elif direction and abs(value - extreme) >= step:
            points.append(extreme)
            direction, extreme = -direction, value
    if direction:
        points.append(extreme)
    return np.array(points)
