"""Heart rate for its speed: at easy running, drifting, fading, erratic. Evidence of the day, no finding by itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from rules.limits import Limits
from rules.session.clean import Track
from rules.session.timeline import Floats, rolling_mean, spread


@dataclass(frozen=True, slots=True)
class SteadyPart:
    """Level running after the first minutes, a row a second: minute means of speed, half-minute means of heart rate."""

    time_s: Floats
    speed_mps: Floats
    hr_bpm: Floats

    @property
    def hr_per_mps(self) -> Floats:
        return np.asarray(self.hr_bpm / self.speed_mps)

    def even(self, share: float) -> SteadyPart:
        """Without what was much faster or slower than most of it."""
        if len(self.speed_mps) == 0:
            return self
        usual = np.abs(self.speed_mps / np.median(self.speed_mps) - 1.0) <= share
        return SteadyPart(self.time_s[usual], self.speed_mps[usual], self.hr_bpm[usual])


def settled(track: Track, limits: Limits) -> SteadyPart:
    """The part of a session in which heart rate can be compared with speed."""
    speed = rolling_mean(np.where(track.gait.running, track.effort_mps, np.nan), 61, least=50)
    heart = rolling_mean(track.heart.rows_bpm, 31, least=20)
    slope = np.nan_to_num(track.ground.slope, nan=0.0)
    with np.errstate(invalid="ignore"):
        told = (speed > limits.gait.slowest_running_mps) & (np.abs(slope) <= limits.measures.easy_slope)
    told &= np.isfinite(heart)
    told &= track.gait.running & (track.clock.rows_s >= limits.measures.settle_s)
    return SteadyPart(track.clock.rows_s[told], speed[told], heart[told])


def easy_hr_per_mps(run: SteadyPart, limits: Limits) -> float | None:
    """Median heart rate over speed, bits much faster or slower left out."""
    even = run.even(limits.measures.even_share)
    if len(even.time_s) < limits.measures.least_easy_s:
        return None
    return round(float(np.median(even.hr_per_mps)), 3)


def decoupling(before: Floats, after: Floats) -> float:
    """Heart rate per speed, after over before (Smyth 2022 Sports Med 52:2283); 1.0 = none."""
    return float(np.mean(after) / np.mean(before))


def drift(run: SteadyPart, limits: Limits) -> float | None:
    """Heart rate per level-ground speed in the second half over the first half of even running."""
    ratio = run.even(limits.measures.even_share).hr_per_mps
    if len(ratio) < limits.measures.least_drift_s - limits.measures.settle_s:
        return None
    half = len(ratio) // 2
    return round(decoupling(ratio[:half], ratio[half:]), 4)


def remarks(track: Track, run: SteadyPart, limits: Limits) -> dict[str, Any]:
    """A session that fades after three quarters of an hour, a heart rate that is erratic for its speed."""
    found: dict[str, Any] = {}
    late = run.time_s >= limits.measures.fade_after_s
    if late.sum() >= limits.measures.late_s and (~late).sum() >= limits.measures.early_s:
        faded = decoupling(run.hr_per_mps[~late], run.hr_per_mps[late])
        if faded >= limits.measures.fade_ratio:
            found["fades_after_45_min"] = round(faded, 3)
    scatter = _scatter(track, limits) if len(run.time_s) >= limits.measures.scatter_s else None
    if scatter is not None:
        found["hr_scatter_bpm"] = round(scatter, 1)
        if scatter > limits.measures.erratic_bpm:
            found["hr_erratic_for_speed"] = True
    return found


def _scatter(track: Track, limits: Limits) -> float | None:
    """Robust scatter of heart rate about its own five minutes where speed is even."""
    speed = np.where(track.gait.running, track.effort_mps, np.nan)
    even = np.abs(rolling_mean(speed, 15, least=8) - rolling_mean(speed, 61, least=50)) < limits.measures.even_mps
    heart = track.heart.rows_bpm
    rest = np.where(even, rolling_mean(heart, 5, least=3) - rolling_mean(heart, 301, least=120), np.nan)
    rest[track.clock.rows_s < limits.measures.settle_s] = np.nan
    return spread(rest) if np.isfinite(rest).sum() >= limits.measures.scatter_s else None
