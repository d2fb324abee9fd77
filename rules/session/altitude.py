"""Whether an altitude is to be believed: it is doubted by what contradicts it, never by the name of a device."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from rules.limits import Limits
from rules.session.answer import heart_answer
from rules.session.grade import Ground
from rules.session.rolling import Floats, rolling_mean
from rules.session.timeline import Timeline

EARTH_RADIUS_M = 6371008.8


def doubted(
    under: Ground, effort: Floats, speed: Floats, heart: Floats, recorded: Mapping[str, Floats], clock: Timeline,
    limits: Limits,
) -> str:  # fmt: skip
    """Why the altitude of a session on foot is not believed; empty where nothing contradicts it."""
    if not np.isfinite(under.slope).any():
        return ""
    smooth = np.nan_to_num(rolling_mean(speed, 15, least=5), nan=0.0)
    extra = np.nan_to_num(rolling_mean(effort - speed, 15, least=5), nan=0.0)
    answer = heart_answer(heart, extra, [smooth], slice(0, len(smooth)), limits)
    asked = limits.altitude.heart_swing_bpm
    if answer is not None and answer.known >= 0.5 and answer.swing_bpm >= asked:
        given = answer.given(limits.altitude.heart_answers)
        if given is False:
            return f"heart rate gives {max(answer.share, 0) * 100:.0f} % of what its climbs ask for"
        if given and answer.swing_bpm >= 1.5 * asked:
            return ""
    longest = limits.altitude.nobody_s
    level = rolling_mean(effort, longest + 1 - longest % 2, least=longest // 2)
    ground = rolling_mean(speed, longest + 1 - longest % 2, least=longest // 2)
    with np.errstate(invalid="ignore"):
        beyond = (level > limits.altitude.nobody_mps) & (ground < limits.altitude.nobody_mps)
    if beyond.any():
        return f"its climbs would be worth {float(np.nanmax(level)):.1f} m/s on the level"
    apart = apart_at_one_place(under.altitude_m, recorded, clock)
    if apart is not None and apart >= limits.altitude.same_place_m:
        return f"the same places lie {apart:.0f} m apart"
    return ""


def apart_at_one_place(altitude: Floats, recorded: Mapping[str, Floats], clock: Timeline) -> float | None:
    """Median of how far apart, m, the altitudes of one place are that was passed more than once; None for too few."""
    if "lat_deg" not in recorded or "lon_deg" not in recorded:
        return None
    lat, lon = clock.on_rows(recorded["lat_deg"])[::5], clock.on_rows(recorded["lon_deg"])[::5]
    height, when = altitude[::5], clock.rows_s[::5]
    known = np.isfinite(lat) & np.isfinite(lon) & np.isfinite(height)
    if known.sum() < 20:
        return None
    lat, lon, height, when = lat[known], lon[known], height[known], when[known]
    north = np.radians(lat) * EARTH_RADIUS_M
    east = np.radians(lon) * EARTH_RADIUS_M * np.cos(np.radians(np.median(lat)))
    cell = np.round(north / CELL_M).astype(np.int64) * 10_000_019 + np.round(east / CELL_M).astype(np.int64)
    order = np.lexsort((when, cell))
    cell, height, when = cell[order], height[order], when[order]
    again = (np.diff(cell) == 0) & (np.diff(when) > LATER_S)
    if again.sum() < LEAST_PLACES:
        return None
    return float(np.median(np.abs(np.diff(height))[again]))


def not_believed(under: Ground, why: str) -> Ground:
    """The ground of a session whose altitude tells nothing."""
    empty = np.full(len(under.altitude_m), np.nan)
    masked = float(np.isfinite(under.altitude_m).sum()) + under.masked_s
    return replace(under, altitude_m=empty, slope=empty, sure_slope=empty, masked_s=masked, doubt=why)


CELL_M = 20.0
LATER_S = 120.0
LEAST_PLACES = 40
