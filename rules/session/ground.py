"""Speed over ground and the slope under it: from which source, what of it is not believed, and what a slope costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from rules.findings import Said, say
from rules.limits import Limits
from rules.session.heart import heart_answer
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

# Speed over ground: which source, what of it is not believed, and how noisy the rest is.

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


# Slope from altitude, and what it costs. Energy cost of running on a slope i (rise over run), J/kg/m, |i| <= 0.45: Cr
# = 155.4 i^5 - 30.4 i^4 - 43.3 i^3 + 46.3 i^2 + 19.5 i + 3.6 (Minetti et al. 2002, J Appl Physiol 93:1039; the
# coefficients from memory, within an SD of what was measured). Cost falls downhill exactly where the damage to muscle
# is greatest, so a descent is always judged by its raw speed.
_COST_OF_RUNNING = np.polynomial.Polynomial([3.6, 19.5, 46.3, -43.3, -30.4, 155.4])
STEEPEST = 0.45  # what was measured


def cost_of_running(slope: Floats) -> Floats:
    """J/kg/m; slopes beyond +-0.45 count as 0.45."""
    return np.asarray(_COST_OF_RUNNING(np.clip(slope, -STEEPEST, STEEPEST)))


def effort_speed(speed_mps: Floats, slope: Floats, limits: Limits) -> Floats:
    """Speed on level ground that costs as much; on a descent the raw speed, never less.

    A climb never makes it faster than anyone runs for minutes.
    """
    uphill = np.clip(np.nan_to_num(slope, nan=0.0), 0.0, STEEPEST)
    level = np.asarray(speed_mps * cost_of_running(uphill) / 3.6)
    return np.maximum(np.minimum(level, limits.grade.fastest_level_mps), speed_mps)


@dataclass(frozen=True, slots=True)
class Ground:
    """Altitude that is believed, and its slope, a row a second."""

    altitude_m: Floats  # smoothed; NaN where unknown or not believed
    slope: Floats  # best estimate
    sure_slope: Floats  # the part of the slope that the altitude's own noise cannot explain
    noise_m: float  # how far the altitude wanders by itself in ten seconds
    masked_s: float
    doubt: Said = ""  # why the whole of it is not believed


def ground(altitude_m: Floats, speed_mps: Floats, limits: Limits) -> Ground:
    """Smooth the altitude, leave out what no one on foot does, and take the slope over some 30 s."""
    empty = np.full(len(altitude_m), np.nan)
    if np.isfinite(altitude_m).sum() < limits.grade.least_known_s:
        return Ground(empty, empty, empty, 0.0, 0.0)
    wrong = _impossible_climb(altitude_m, limits)
    wrong |= _not_settled(altitude_m, speed_mps, wrong, limits)
    believed = np.where(wrong, np.nan, altitude_m)
    smooth = rolling_mean(believed, 11, least=6)
    second = smooth[20:] - 2 * smooth[10:-10] + smooth[:-20]
    noise = spread(second) / np.sqrt(2)
    quiet, wandering = limits.grade.window_s
    window = quiet if noise <= limits.grade.quiet_m else wandering
    slope = _slope(smooth, speed_mps, window, limits.grade.least_speed_mps)
    run = np.maximum(rolling_mean(speed_mps, window), limits.grade.least_speed_mps) * window
    doubt = limits.grade.doubt_sd * noise * np.sqrt(window / 10) / run
    sure = np.sign(slope) * np.maximum(np.abs(slope) - doubt, 0.0)
    return Ground(smooth, slope, sure, float(noise), float(np.sum(wrong & np.isfinite(altitude_m))))


def _slope(altitude_m: Floats, speed_mps: Floats, window: int, least_mps: float) -> Floats:
    """Regression of altitude on time over the window, divided by the mean speed in it."""
    half = window // 2
    lag = np.arange(-half, half + 1, dtype=np.float64)
    known = np.isfinite(altitude_m)
    filled = held(altitude_m)
    filled = filled - filled.mean()
    padded = np.concatenate((np.full(half, filled[0]), filled, np.full(half, filled[-1])))
    rise_per_s = np.convolve(padded, lag[::-1], mode="valid") / np.sum(lag**2)
    whole = np.convolve(
        np.concatenate((np.zeros(half), known, np.zeros(half))), np.ones(window + 1 - window % 2), "valid"
    )
    speed = rolling_mean(speed_mps, 2 * half + 1)
    with np.errstate(invalid="ignore", divide="ignore"):
        slope = rise_per_s / np.maximum(speed, least_mps)
    return np.where(known & (whole >= half), np.clip(slope, -STEEPEST, STEEPEST), np.nan)


def _impossible_climb(altitude_m: Floats, limits: Limits) -> Flags:
    """Where altitude moves faster than legs can: a map's bridge, a door, a change of pressure."""
    fastest = limits.grade.fastest_climb_mps
    reach = 4
    change = np.full(len(altitude_m), np.nan)
    change[reach:-reach] = (altitude_m[2 * reach :] - altitude_m[: -2 * reach]) / (2 * reach)
    with np.errstate(invalid="ignore"):
        fast = np.abs(change) > fastest
    wrong = np.zeros(len(altitude_m), dtype=np.bool_)
    spans = stretches(fast, bridge=limits.grade.bridge_s)
    for a, b in spans:
        wrong[max(a - reach, 0) : b + reach] = True
    return wrong


def _not_settled(altitude_m: Floats, speed_mps: Floats, wrong: Flags, limits: Limits) -> Flags:
    """The first minutes of an altitude that began far off and creeps towards what it should be."""
    creeping = np.zeros(len(altitude_m), dtype=np.bool_)
    first = int(np.argmax(np.isfinite(altitude_m)))
    filled, half = held(altitude_m), limits.grade.settling_window_s // 2
    ahead = np.concatenate((filled[half:], np.full(half, filled[-1])))
    behind = np.concatenate((np.full(half, filled[0]), filled[:-half]))
    climb_mps = np.abs(ahead - behind) / (2 * half)
    forward = np.fmax(rolling_mean(speed_mps, 2 * half + 1), limits.grade.least_speed_mps)
    begin = slice(first, first + limits.grade.settling_begins_s)
    beyond_legs = np.flatnonzero(wrong[begin] | (climb_mps[begin] > STEEPEST * forward[begin]))
    if len(beyond_legs) == 0:
        return creeping
    after = first + int(beyond_legs[-1])
    calm = np.flatnonzero(climb_mps[after : first + limits.grade.settling_s] <= limits.grade.settled_mps)
    creeping[first : after + int(calm[0]) if len(calm) else first + limits.grade.settling_s] = True
    return creeping


# Whether an altitude is to be believed: it is doubted by what contradicts it, never by the name of a device; where that
# lists its sensors and no barometer, something has to speak for it.


def doubted(
    under: Ground, effort: Floats, speed: Floats, heart: Floats, recorded: Mapping[str, Floats], clock: Timeline,
    limits: Limits, barometer: bool | None = None,
) -> Said:  # fmt: skip
    """Why the altitude of a session on foot is not believed; empty where nothing contradicts it.

    Where the device lists its sensors and no barometer among them, something has to confirm it.
    """
    if not np.isfinite(under.slope).any():
        return ""
    smooth = np.nan_to_num(rolling_mean(speed, 15, least=5), nan=0.0)
    extra = np.nan_to_num(rolling_mean(effort - speed, 15, least=5), nan=0.0)
    answer = heart_answer(heart, extra, [smooth], slice(0, len(smooth)), limits)
    asked = limits.altitude.heart_swing_bpm
    if answer is not None and answer.known >= limits.altitude.least_share_known and answer.swing_bpm >= asked:
        given = answer.given(limits.altitude.heart_answers)
        if given is False:
            return say("heart_denies_climbs", percent=max(answer.share, 0) * 100)
        if given and answer.swing_bpm >= 1.5 * asked:
            return ""
    return _contradicted(under, effort, speed, recorded, clock, limits) or _unconfirmed(
        under, recorded, clock, limits, barometer=barometer
    )


def _contradicted(
    under: Ground, effort: Floats, speed: Floats, recorded: Mapping[str, Floats], clock: Timeline, limits: Limits
) -> Said:
    longest = limits.altitude.nobody_s
    level = rolling_mean(effort, longest + 1 - longest % 2, least=longest // 2)
    ground = rolling_mean(speed, longest + 1 - longest % 2, least=longest // 2)
    with np.errstate(invalid="ignore"):
        beyond = (level > limits.altitude.nobody_mps) & (ground < limits.altitude.nobody_mps)
    if beyond.any():
        return say("climbs_beyond_anyone", speed=np.nanmax(level))
    apart = apart_at_one_place(under.altitude_m, recorded, clock, limits)
    if apart is not None and apart >= limits.altitude.same_place_m:
        return say("places_apart", apart=apart)
    return ""


def _unconfirmed(
    under: Ground, recorded: Mapping[str, Floats], clock: Timeline, limits: Limits, *, barometer: bool | None
) -> Said:
    if barometer is not False or apart_at_one_place(under.altitude_m, recorded, clock, limits) is not None:
        return ""
    return say("no_barometer")


def apart_at_one_place(
    altitude: Floats, recorded: Mapping[str, Floats], clock: Timeline, limits: Limits
) -> float | None:
    """Median of how far apart, m, the altitudes of one place are that was passed more than once; None for too few."""
    if "lat_deg" not in recorded or "lon_deg" not in recorded:
        return None
    lat, lon = clock.on_rows(recorded["lat_deg"])[::5], clock.on_rows(recorded["lon_deg"])[::5]
    height, when = altitude[::5], clock.rows_s[::5]
    known = np.isfinite(lat) & np.isfinite(lon) & np.isfinite(height)
    if known.sum() < limits.altitude.least_places:
        return None
    lat, lon, height, when = lat[known], lon[known], height[known], when[known]
    north = np.radians(lat) * EARTH_RADIUS_M
    east = np.radians(lon) * EARTH_RADIUS_M * np.cos(np.radians(np.median(lat)))
    cell_m = limits.altitude.one_place_m
    cell = np.round(north / cell_m).astype(np.int64) * 10_000_019 + np.round(east / cell_m).astype(np.int64)
    order = np.lexsort((when, cell))
    cell, height, when = cell[order], height[order], when[order]
    again = (np.diff(cell) == 0) & (np.diff(when) > limits.altitude.later_s)
    if again.sum() < limits.altitude.least_places:
        return None
    return float(np.median(np.abs(np.diff(height))[again]))


def not_believed(under: Ground, why: Said) -> Ground:
    """The ground of a session whose altitude tells nothing."""
    empty = np.full(len(under.altitude_m), np.nan)
    masked = float(np.isfinite(under.altitude_m).sum()) + under.masked_s
    return replace(under, altitude_m=empty, slope=empty, sure_slope=empty, masked_s=masked, doubt=why)
