"""What a cleaned session comes to: impact, heart rate at easy speed, drift, best speeds, climb."""

from __future__ import annotations

from typing import Any

import numpy as np

from rules.limits import Limits
from rules.session.clean import Track
from rules.session.rolling import Flags, Floats, rolling_mean, spread, trailing_mean


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
    return float(change[change > 0].sum()), float(-change[change < 0].sum())


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


def easy_hr_per_mps(track: Track, limits: Limits) -> float | None:
    """Median heart rate over speed on level running after the first minutes, faster bits left out."""
    ratio, at = _settled(track, limits)
    if len(ratio) < 240:
        return None
    speed = track.effort_mps[at]
    easy = speed <= np.median(speed) * 1.1
    return round(float(np.median(ratio[easy])), 3) if easy.sum() >= 180 else None


def decoupling(before: Floats, after: Floats) -> float:
    """Heart rate per speed, after over before (Smyth 2022); 1.0 = none."""
    return float(np.mean(after) / np.mean(before))


def drift(track: Track, limits: Limits) -> float | None:
    """Heart rate per level-ground speed in the second half of the settled running over the first half."""
    ratio, _at = _settled(track, limits)
    if len(ratio) < limits.number("measures.least_drift_s") - limits.number("measures.settle_s"):
        return None
    half = len(ratio) // 2
    return round(decoupling(ratio[:half], ratio[half:]), 4)


def remarks(track: Track, limits: Limits) -> dict[str, Any]:
    """Evidence of the day: a session that fades, a heart rate that is erratic for its speed."""
    found: dict[str, Any] = {}
    ratio, at = _settled(track, limits)
    if len(ratio) == 0:
        return found
    late = track.clock.rows_s[at] >= limits.number("measures.fade_after_s")
    if late.sum() >= 300 and (~late).sum() >= 600:
        faded = decoupling(ratio[~late], ratio[late])
        if faded >= limits.number("measures.fade_ratio"):
            found["fades_after_45_min"] = round(faded, 3)
    scatter = _scatter(track, limits)
    if scatter is not None:
        found["hr_scatter_bpm"] = round(scatter, 1)
        if scatter > limits.number("measures.erratic_bpm"):
            found["hr_erratic_for_speed"] = True
    return found


def _settled(track: Track, limits: Limits) -> tuple[Floats, np.ndarray[Any, np.dtype[np.int64]]]:
    """Heart rate per level-ground speed in settled running, and its rows."""
    speed = rolling_mean(np.where(track.gait.running, track.effort_mps, np.nan), 61, least=50)
    heart = rolling_mean(track.heart.rows_bpm, 31, least=20)
    slope = np.nan_to_num(track.ground.slope, nan=0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        ok = (speed > 1.5) & np.isfinite(heart) & (np.abs(slope) <= limits.number("measures.easy_slope"))
        ok &= track.gait.running & (track.clock.rows_s >= limits.number("measures.settle_s"))
        ratio = heart / speed
    at = np.flatnonzero(ok)
    return ratio[at], at


def _scatter(track: Track, limits: Limits) -> float | None:
    """Robust scatter of heart rate about its own quarter hour where speed is even."""
    speed = rolling_mean(np.where(track.gait.running, track.effort_mps, np.nan), 61, least=50)
    even = np.abs(rolling_mean(track.effort_mps, 15, least=8) - speed) < 0.25
    heart = rolling_mean(track.heart.rows_bpm, 5, least=3)
    rest = np.where(even & track.gait.running, heart - rolling_mean(track.heart.rows_bpm, 301, least=120), np.nan)
    rest[track.clock.rows_s < limits.number("measures.settle_s")] = np.nan
    return spread(rest) if np.isfinite(rest).sum() >= 300 else None
