"""What a cleaned session comes to: steps and impact, seconds at each heart rate, best speeds."""

from __future__ import annotations

import numpy as np

from rules.limits import Limits
from rules.session.clean import Track
from rules.session.rolling import Flags, Floats, trailing_mean


def peak_force_bw(speed_mps: Floats, running: Flags, limits: Limits) -> Floats:
    """Peak vertical force a step, body weights. Walking and running are two levels; nothing is put between them."""
    line = limits.impact.running_bw_at_3 + limits.impact.running_bw_per_mps * (speed_mps - 3.0)
    least = limits.impact.running_bw_least
    run = np.maximum(np.nan_to_num(line, nan=least), least)
    return np.where(running, run, limits.impact.walking_bw)


def steps_and_impact(track: Track, limits: Limits) -> tuple[float, float]:
    """Steps on foot, and steps x peak force in body weights."""
    run, walk = track.gait.running, track.gait.walking
    guess = np.where(run, limits.impact.running_spm_guess, limits.impact.walking_spm_guess)
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
    for seconds in limits.measures.best_durations:
        means = trailing_mean(effort, int(seconds))
        if np.isfinite(means).any():
            best[int(seconds)] = round(float(np.nanmax(means)), 4)
    return best
