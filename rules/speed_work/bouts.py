"""Bouts of fast running: where they begin and end, how fast they were."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from rules.limits import Limits
from rules.session.clean import Track
from rules.session.rolling import Flags, Floats, rolling_mean, trailing_mean
from rules.session.stretches import stretches


@dataclass(frozen=True, slots=True)
class Bout:
    start: int
    end: int
    speed_mps: float  # over ground
    effort_mps: float  # level-ground speed
    slope: float
    spm: float | None = None

    @property
    def seconds(self) -> int:
        return self.end - self.start


def bout(track: Track, start: int, end: int) -> Bout:
    """Means over the rows of one bout."""
    slope = track.ground.slope[start:end]
    spm = track.spm[start:end]
    return Bout(
        start,
        end,
        float(np.nanmean(track.pace.speed_mps[start:end])),
        float(np.nanmean(track.effort_mps[start:end])),
        float(np.nanmean(slope)) if np.isfinite(slope).any() else 0.0,
        float(np.nanmean(spm)) if np.isfinite(spm).any() else None,
    )


def bouts_above(
    track: Track, hard: Floats, level: float, easy: float | None, limits: Limits, bridge: int = 2
) -> list[Bout]:
    """Bouts whose core is above the level for some seconds, their ends halfway down to easy running."""
    if not np.isfinite(level):
        return []
    smooth = rolling_mean(hard, 7, least=4)
    foot = (level + min(level * 0.8 if easy is None else easy, level)) / 2
    with np.errstate(invalid="ignore"):
        wide, core = smooth >= foot, smooth >= level
    found = []
    for a, b in stretches(wide, bridge=bridge, least=limits.whole("speed_work.least_bout_s")):
        if _longest(core[a:b]) >= limits.whole("speed_work.least_core_s"):
            one = bout(track, a, b)
            if one.speed_mps >= foot or _climbs(track, one, limits):
                found.append(one)
    return found


def _climbs(track: Track, one: Bout, limits: Limits) -> bool:
    """Is the climb that makes it fast longer and higher than the altitude's own wandering?"""
    climbed = one.slope * one.speed_mps * one.seconds
    doubt = limits.number("speed_work.climb_sd") * track.ground.noise_m * float(np.sqrt(one.seconds / 10))
    enough = climbed >= max(limits.number("speed_work.least_climb_m"), doubt)
    return one.seconds >= limits.whole("speed_work.least_climb_s") and enough


def _longest(flags: Flags) -> int:
    return max((b - a for a, b in stretches(flags, bridge=2)), default=0)


def sustained(track: Track, hard: Floats, wanted: dict[int, float]) -> Bout | None:
    """The longest fast effort whose mean over so many running seconds reaches the speed wanted; pauses join."""
    rows = np.flatnonzero(track.clock.real)
    running = hard[rows]
    for seconds, least in sorted(wanted.items(), reverse=True):
        means = trailing_mean(running, seconds)
        with np.errstate(invalid="ignore"):
            reached = means >= least
        if reached.any():
            ends = np.flatnonzero(reached)
            first = int(ends[0]) - seconds + 1
            last = int(ends[0])
            for end in ends[1:].tolist():
                if end - seconds + 1 > last:
                    break
                last = int(end)
            return bout(track, int(rows[first]), int(rows[last]) + 1)
    return None


def progression(track: Track, hard: Floats, limits: Limits) -> Bout | None:
    """Each fifth of the running faster than the one before, the last far faster than the first: its last two fifths."""
    rows = np.flatnonzero(np.isfinite(hard))
    if len(rows) < limits.number("speed_work.least_progression_s"):
        return None
    fifths = np.array_split(rows, 5)
    means = [float(hard[part].mean()) for part in fifths]
    steps = all(later >= earlier * 1.02 for earlier, later in pairwise(means))
    if not steps or means[-1] < means[0] * limits.number("speed_work.progression"):
        return None
    return bout(track, int(fifths[3][0]), int(fifths[4][-1]) + 1)
