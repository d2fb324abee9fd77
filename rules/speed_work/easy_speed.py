"""From which speed on running is fast in this session."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from rules import words
from rules.facts import Threshold
from rules.limits import Limits
from rules.session.clean import Track
from rules.session.pace import held_for
from rules.session.timeline import Flags, Floats, flagged, rolling_mean, stretches, trailing_mean
from rules.speed_work.bouts import Bout

# The easy running of a session: what it is run at where the effort is least, not where the speed is.

CALM_S = 31


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
    lag = limits.speed_work.heart_lag_s
    after = np.append(heart[lag:], np.full(min(lag, len(heart)), np.nan))[: len(heart)]
    known = told & np.isfinite(after)
    share = limits.speed_work.easy_share
    slow = float(np.percentile(calm[told], 100 * share))
    if known.sum() < limits.speed_work.heart_known * told.sum():
        return slow
    easiest = known & (after <= np.percentile(after[known], 100 * share))
    return float(min(np.median(calm[easiest]), np.percentile(calm[told], 50)))


def _level_running(track: Track, limits: Limits) -> Flags:
    slope = np.nan_to_num(track.ground.slope, nan=0.0)
    afoot = stretches(track.gait.running, bridge=2)
    settled = flagged(track.size, [(a + 10, b - 5) for a, b in afoot if b - a > limits.speed_work.least_level_s])
    return np.asarray(settled & (np.abs(slope) <= limits.speed_work.level_slope))


Scale = Literal["bouts", "sustained", "climbs"]


@dataclass(frozen=True, slots=True)
class Levels:
    """Speeds on level ground, m/s. `own_easy` is None where the session has no easy running to compare with."""

    threshold: Threshold | None  # None where none is known well enough to be held against
    own_easy: float | None
    easy: float  # the session's own, else what easy running would be at most
    fast: float
    noise_mps: float  # measured error of a mean over 12 s
    error_sd: float
    sure: float  # x easy speed, see `plain`
    alike_s: float  # for so long it errs in the same way

    @property
    def reference(self) -> float:
        """Threshold speed, else what is fast for most."""
        return self.fast if self.threshold is None else self.threshold.speed_mps

    def error(self, seconds: float) -> float:
        """Error of a mean over so many seconds."""
        return self.noise_mps * float(np.sqrt(min(self.alike_s / max(seconds, 1.0), 1.0)))

    def plain(self, effort_mps: float) -> bool:
        """Does it stand out of easy running as no steady running does?"""
        return self.own_easy is None or effort_mps >= self.sure * self.own_easy

    def stands_out(self, b: Bout) -> bool:
        """Is it faster than easy by more than the measured error explains, anywhere in a session?"""
        return b.effort_mps - self.easy >= self.error_sd * self.error(b.seconds)


def _refuted(track: Track, hard: Floats, known: Threshold, limits: Limits) -> bool:
    """Was twenty minutes of it run faster than that threshold allows anyone (Riegel 1981)? Then it is too slow."""
    seconds = limits.speed_work.refuting_s
    mean = trailing_mean(hard[track.clock.real], seconds, share_known=0.9)
    if not np.isfinite(mean).any():
        return False
    return bool(np.nanmax(mean) > limits.speed_work.refuted * held_for(known.speed_mps, seconds))


def levels(track: Track, hard: Floats, threshold: Threshold | None, scale: Scale, limits: Limits) -> Levels:
    """By the session's own easy running; where all of it is fast, by the threshold or by what is fast for most."""
    known = threshold if threshold is not None and threshold.confidence != "low" else None
    most = known.speed_mps if known else limits.speed_work.fast_for_most_mps
    noise, sd = track.pace.noise_mps, limits.speed_work.error_sd
    alike = limits.speed_work.alike_s.get(track.pace.source, 12.0)
    sure = limits.speed_work.contrast[words.findings.NO_THRESHOLD]
    easy = easy_speed(track, hard, limits)
    if known and easy is not None and easy > most and _refuted(track, hard, known, limits):
        known, most = None, limits.speed_work.fast_for_most_mps
    if easy is None or easy > most:
        at_most = most / limits.speed_work.contrast["no threshold"]
        return Levels(known, None, at_most, most, noise, sd, sure, alike)
    name = f"{scale}, no threshold" if known is None else scale
    least = limits.speed_work.contrast[name.removeprefix("bouts, ")] * easy
    floor = limits.speed_work.of_threshold[scale] * known.speed_mps if known else 0.0
    if known is None and threshold is not None:
        floor = threshold.speed_mps
    return Levels(known, easy, easy, max(least, floor), noise, sd, sure, alike)
