"""What a cleaned session comes to: metres climbed, steps and impact, seconds at each heart rate."""

from __future__ import annotations

import itertools

import numpy as np

from rules.limits import Limits
from rules.session.clean import Track
from rules.session.windows import Flags, Floats, trailing_mean

# Metres up and down, counted only where the altitude has turned by more than its own wandering.

EVERY = 5  # rows; altitudes change slowly


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
    if len(rows) <= 1:
        return 0.0, 0.0
    step = np.diff(_between_turns(track.ground.altitude_m, rows.astype(np.int64).tolist()), prepend=altitude[0])
    ground = np.cumsum(metres)
    ends = np.minimum(np.searchsorted(ground, ground + within_m, side="right") - 1, track.size - 1)
    most = []
    for sign in (1.0, -1.0):
        total = np.cumsum(np.maximum(sign * step, 0.0))
        most.append(float(np.max(total[ends] - total)))
    return most[0], most[1]


def _between_turns(altitude_m: Floats, rows: list[int]) -> Floats:
    """Altitude that only rises, or only falls, between two turns: each metre counts where it is first reached."""
    known = np.flatnonzero(np.isfinite(altitude_m))
    path = np.interp(np.arange(len(altitude_m)), known, altitude_m[known])
    for a, b in itertools.pairwise(rows):
        leg = path[a : b + 1]
        path[a : b + 1] = (np.maximum if leg[-1] > leg[0] else np.minimum).accumulate(leg)
    path[: rows[0]], path[rows[-1] :] = path[rows[0]], path[rows[-1]]
    return np.asarray(path)


def turns(track: Track, limits: Limits) -> tuple[Floats, Floats]:
    """Rows and altitudes of the first point and of every extreme that the altitude has left by more than a step."""
    known = np.flatnonzero(np.isfinite(track.ground.altitude_m))[::EVERY]
    if len(known) * EVERY < limits.ground.least_known_s:
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


# What a cleaned session comes to: steps and impact, seconds at each heart rate, best speeds.


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
        spm = np.where(track.spm > limits.gait.fewest_turns_spm, track.spm, guess)
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
