"""Long or steep ground where the stage asks for easy ground."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rules.findings import Breach, Severity
from rules.limits import Limits
from rules.session.clean import Track
from rules.session.climb import climb, most_within
from rules.session.rolling import Floats
from rules.session.stretches import Stretch, as_times, stretches
from rules.wording import duration


@dataclass(frozen=True, slots=True)
class _Seen:
    metres: Floats  # on foot, a second a row
    steep: list[Stretch]
    up_m: float
    down_m: float
    most_m: float  # up or down on the ground that the limit is for
    limit_m: float
    within_m: float


def steep_ground(track: Track, limits: Limits) -> Breach | None:
    """A steep stretch, or much climb or descent for the distance, on foot."""
    afoot = track.gait.running | track.gait.walking
    metres = np.where(afoot, np.nan_to_num(track.pace.speed_mps), 0.0)
    if metres.sum() < limits.ground.least_m or not np.isfinite(track.ground.slope).any():
        return None
    ground = limits.ground
    if float(track.gait.running.sum()) >= 0.5 * float(afoot.sum()):
        slope, limit = ground.steep_running, ground.most_running_m
    else:
        slope, limit = ground.steep_walking, ground.most_walking_m
    steep = _steep_stretches(track, metres, slope, ground.steep_m)
    within = limit / limits.ground.most_per_km * 1000.0
    most = max(most_within(track, metres, within, limits))
    if not steep and most < limit:
        return None
    up, down = climb(track, limits)
    quiet = track.ground.noise_m <= limits.grade.quiet_m
    return _breach(track, _Seen(metres, steep, up or 0.0, down or 0.0, most, limit, within), quiet=quiet)


def _steep_stretches(track: Track, metres: Floats, least_slope: float, least_m: float) -> list[Stretch]:
    """Stretches on foot, steep throughout, up or down, over enough ground."""
    found: list[Stretch] = []
    for sign in (1.0, -1.0):
        with np.errstate(invalid="ignore"):
            flags = (track.ground.sure_slope * sign >= least_slope) & (metres > 0)
        found += [(a, b) for a, b in stretches(flags, bridge=5) if metres[a:b].sum() >= least_m]
    return sorted(found)


def _breach(track: Track, seen: _Seen, *, quiet: bool) -> Breach:
    said = f"{seen.up_m:.0f} m up and {seen.down_m:.0f} m down in {seen.metres.sum() / 1000:.1f} km"
    steepest = max((float(np.nanmean(track.ground.slope[a:b])) for a, b in seen.steep), key=abs, default=0.0)
    if seen.steep:
        seconds = sum(b - a for a, b in seen.steep)
        way = "down" if steepest < 0 else "up"
        said += f", {duration(seconds)} of it steep, up to {abs(steepest) * 100:.0f} % {way}"
    return Breach(
        rule="steep_ground",
        severity=Severity.CAUTION,
        summary=said,
        observed=round(seen.most_m, 1),
        limit=seen.limit_m,
        unit="m",
        evidence={
            "distance_m": round(float(seen.metres.sum())),
            "ascent_m": round(seen.up_m, 1),
            "descent_m": round(seen.down_m, 1),
            "most_m": round(seen.most_m, 1),
            "within_m": round(seen.within_m),
            "steepest_slope": round(steepest, 3),
            "steep_m": round(sum(float(seen.metres[a:b].sum()) for a, b in seen.steep), 1),
            "times": as_times(seen.steep, track.clock.rows_s),
            "masked_s": track.ground.masked_s,
            "altitude_noise_m": round(track.ground.noise_m, 1),
            "assumed": [] if quiet else ["the altitude of this recording wanders, so climb and descent are rough"],
        },
    )
