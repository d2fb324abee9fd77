"""Speed over ground: which source, what of it is not believed, and how noisy the rest is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from rules.limits import Limits
from rules.session.timeline import (
    Flags,
    Floats,
    Timeline,
    flagged,
    held,
    rolling_mean,
    rolling_median,
    spread,
    stretches,
)

APART = 13  # rows of the means whose differences are the noise
EARTH_RADIUS_M = 6371008.8  # mean radius; error of the sphere is below 0.6 %


@dataclass(frozen=True, slots=True)
class Pace:
    """Speed a row a second. `source` is device, distance, position or none."""

    speed_mps: Floats  # lightly smoothed; NaN where unknown or masked
    masked: Flags
    source: str
    noise_mps: float  # robust sd of its 12 s means against the next ones, on the move

    @property
    def known(self) -> Flags:
        return np.isfinite(self.speed_mps)


def pace(columns: Mapping[str, Floats], clock: Timeline, limits: Limits) -> Pace:
    """The device's own speed, else from distance, else from positions."""
    raw, source = _source(columns, clock, limits)
    apart = float(np.median(np.diff(clock.time_s))) if len(clock.time_s) > 1 else 1.0
    wrong = _spikes(raw, apart, limits)
    believed = np.where(wrong, np.nan, raw)
    width = limits.pace.median_device_s if source == "device" else limits.pace.median_derived_s
    smooth = np.where(np.isfinite(believed), rolling_median(believed, width), np.nan)
    return Pace(smooth, wrong & np.isfinite(raw), source, _noise(smooth))


def _source(columns: Mapping[str, Floats], clock: Timeline, limits: Limits) -> tuple[Floats, str]:
    """The first source known for long enough; a speed that only differences distance is no source of its own."""
    least = max(limits.pace.least_share_known * clock.real.sum(), 1)
    for name in _in_order(columns, clock, limits):
        if name == "device":
            speed = clock.on_rows(columns["speed_mps"])
        elif name == "position":
            speed = _from_positions(columns, clock, limits)
            if not _agrees(speed, columns.get("distance_m"), limits):
                continue
        else:
            speed = _chord(clock.on_rows(columns["distance_m"]), None, limits)
        if (np.isfinite(speed) & clock.real).sum() >= least and np.nanmax(speed) > 0:
            return speed, name
    return np.full(len(clock.rows_s), np.nan), "none"


def _agrees(speed: Floats, distance_m: Floats | None, limits: Limits) -> bool:
    """Do positions tell of about as much ground as the distance? Noise makes the distance longer, never shorter."""
    if distance_m is None or not np.isfinite(distance_m).any():
        return True
    covered = float(np.nanmax(distance_m) - np.nanmin(distance_m))
    least, most = limits.pace.agreeing_shares
    return covered == 0.0 or least <= float(np.nansum(speed)) / covered <= most


def _in_order(columns: Mapping[str, Floats], clock: Timeline, limits: Limits) -> list[str]:
    has = {"device": "speed_mps" in columns, "distance": "distance_m" in columns, "position": "lat_deg" in columns}
    order = ["device", "distance", "position"]
    return [name for name in (order[::-1] if _differenced(columns, clock, limits) else order) if has[name]]


def _differenced(columns: Mapping[str, Floats], clock: Timeline, limits: Limits) -> bool:
    """Is the speed nothing but the way to each sample over its time? Then it has all the noise of the positions."""
    if "speed_mps" not in columns or "distance_m" not in columns:
        return False
    with np.errstate(invalid="ignore", divide="ignore"):
        over = np.diff(columns["distance_m"]) / np.diff(clock.time_s)
        off = np.abs(columns["speed_mps"][1:] - over)
    told = np.isfinite(off) & (over > 0)
    exact_mps, exact_share = limits.pace.differenced
    alike = off[told] <= exact_mps + exact_share * over[told]
    least = limits.pace.least_differenced
    return bool(told.sum() >= least and alike.mean() > limits.pace.differenced_share)


def _from_positions(columns: Mapping[str, Floats], clock: Timeline, limits: Limits) -> Floats:
    """Speed from positions on a local plane."""
    lat, lon = columns["lat_deg"], columns.get("lon_deg", np.full(len(clock.time_s), np.nan))
    known = np.isfinite(lat) & np.isfinite(lon)
    if not known.any():
        return np.full(len(clock.rows_s), np.nan)
    lat, lon = np.where(known, lat, np.nan), np.where(known, lon, np.nan)
    middle = np.radians(float(np.median(lat[known])))
    turned = (lon - float(np.median(lon[known])) + 540.0) % 360.0 - 180.0  # across the date line too
    east = clock.on_rows(np.radians(turned) * np.cos(middle) * EARTH_RADIUS_M)
    north = clock.on_rows(np.radians(lat) * EARTH_RADIUS_M)
    return _chord(east, north, limits)


def _chord(east: Floats, north: Floats | None, limits: Limits) -> Floats:
    """Length of the straight line over a few seconds, jumps of a single second taken out first."""
    steps = np.zeros((1 if north is None else 2, len(east)))
    for axis, channel in enumerate([east] if north is None else [east, north]):
        steps[axis, 1:] = np.diff(channel)
    length = np.sqrt(np.sum(steps**2, axis=0))
    known = np.isfinite(length)
    usual = held(rolling_median(np.where(known, length, np.nan), 31, every=5))
    jump = known & (length > usual + limits.pace.jump_mps)
    steps[:, jump | ~known] = 0.0
    half = limits.pace.chord_s // 2
    path = np.cumsum(steps, axis=1)
    good = np.concatenate(([0], np.cumsum(known & ~jump)))
    rows = np.arange(len(east))
    low, high = np.maximum(rows - half, 0), np.minimum(rows + half, len(east) - 1)
    seconds = good[high + 1] - good[low + 1]
    chord = np.sqrt(np.sum((path[:, high] - path[:, low]) ** 2, axis=0))
    with np.errstate(invalid="ignore", divide="ignore"):
        speed = chord / seconds
    return np.where(known & (seconds >= half), speed, np.nan)


def _spikes(speed: Floats, apart_s: float, limits: Limits) -> Flags:
    """Speeds that no runner makes, when they last only seconds; what lasts is a vehicle and judged as such."""
    with np.errstate(invalid="ignore"):
        fast = speed > limits.pace.fastest_runner_mps
        calm = held(rolling_median(speed, 31, every=5))
        sudden = speed > calm + limits.pace.jump_mps
    longest = max(limits.pace.spike_s, limits.pace.spike_records * apart_s)
    brief = [(a, b) for a, b in stretches(fast | sudden, bridge=2) if b - a <= longest]
    return flagged(len(speed), [(max(a - 1, 0), min(b + 1, len(speed))) for a, b in brief])


def _noise(speed: Floats) -> float:
    """How much 12 s means differ from the next ones, robustly, while moving; strides and stops are the minority."""
    mean = rolling_mean(speed, APART, least=10)
    with np.errstate(invalid="ignore"):
        moving = np.where(mean > 1.0, mean, np.nan)
    return spread(moving[APART:] - moving[:-APART]) / float(np.sqrt(2)) if len(moving) > 2 * APART else 0.0
