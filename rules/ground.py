"""Long or steep ground where the stage asks for easy ground."""

from __future__ import annotations

import numpy as np

from rules.findings import Breach, Severity
from rules.limits import Limits
from rules.session.clean import Track
from rules.session.measures import climb
from rules.session.rolling import Floats
from rules.session.stretches import Stretch, as_times, stretches
from rules.wording import duration


def steep_ground(track: Track, limits: Limits) -> Breach | None:
    """A steep stretch, or much climb or descent for the distance, on foot."""
    afoot = track.gait.running | track.gait.walking
    run = float(track.gait.running.sum()) >= 0.5 * max(float(afoot.sum()), 1.0)
    metres = np.where(afoot, np.nan_to_num(track.pace.speed_mps), 0.0)
    if metres.sum() < limits.number("ground.least_m") or not np.isfinite(track.ground.slope).any():
        return None
    who = "running" if run else "walking"
    steep = _steep_stretches(track, metres, limits.number(f"ground.steep_{who}"), limits.number("ground.steep_m"))
    up, down = climb(track, limits)
    worst = max(up or 0.0, down or 0.0)
    per_km = worst / (float(metres.sum()) / 1000)
    long = worst >= limits.number(f"ground.most_{who}_m") and per_km >= limits.number("ground.most_per_km")
    if not steep and not long:
        return None
    return _breach(track, steep, (up or 0.0, down or 0.0), per_km, metres, limits.number(f"ground.most_{who}_m"))


def _steep_stretches(track: Track, metres: Floats, least_slope: float, least_m: float) -> list[Stretch]:
    """Stretches on foot, steep throughout, up or down, over enough ground."""
    found: list[Stretch] = []
    for sign in (1.0, -1.0):
        with np.errstate(invalid="ignore"):
            flags = (track.ground.sure_slope * sign >= least_slope) & (metres > 0)
        found += [(a, b) for a, b in stretches(flags, bridge=5) if metres[a:b].sum() >= least_m]
    return sorted(found)


def _breach(
    track: Track, steep: list[Stretch], climbed: tuple[float, float], per_km: float, metres: Floats, most: float
) -> Breach:
    up, down = climbed
    said = f"{up:.0f} m up and {down:.0f} m down in {metres.sum() / 1000:.1f} km"
    steepest = 0.0
    if steep:
        mean = [float(np.nanmean(track.ground.slope[a:b])) for a, b in steep]
        steepest = max(mean, key=abs)
        seconds = sum(b - a for a, b in steep)
        way = "down" if steepest < 0 else "up"
        said += f", {duration(seconds)} of it steep, up to {abs(steepest) * 100:.0f} % {way}"
    return Breach(
        rule="steep_ground",
        severity=Severity.CAUTION,
        summary=said,
        observed=round(max(up, down), 1),
        limit=most,
        unit="m",
        evidence={
            "ascent_m": round(up, 1),
            "descent_m": round(down, 1),
            "metres_per_km": round(per_km, 1),
            "steepest_slope": round(steepest, 3),
            "steep_m": round(sum(float(metres[a:b].sum()) for a, b in steep), 1),
            "times": as_times(steep, track.clock.rows_s),
            "masked_s": track.ground.masked_s,
            "assumed": [f"altitude wanders by {track.ground.noise_m:.1f} m in ten seconds by itself"],
        },
    )
