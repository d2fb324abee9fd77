"""Second by second: running, walking, standing, or carried by wheels.

Cadence tells walking from running better than speed (135-140 steps/min: 93 % right, 2.1 m/s: 55 %; Hum Mov Sci 2023
90:103117), so it leads where it is known; speed and the label move the border. A race walk has the speed and the
cadence of a run and is known by its label only.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rules.limits import Limits
from rules.session.labels import Family
from rules.session.rolling import Flags, Floats, rolling_mean, rolling_median, spread
from rules.session.stretches import flagged, stretches

ON_FOOT: frozenset[Family] = frozenset(
    {"run", "walk", "race_walk", "game", "gym", "open", "unlabelled", "strength", "mobility", "yoga"}
)
"""Families in which there may be running; a ride, a row, a swim or an elliptical never holds any."""


@dataclass(frozen=True, slots=True)
class Gait:
    """Flags a second a row; at most one of them is set."""

    running: Flags
    walking: Flags
    vehicle: Flags
    by: str  # cadence, speed, cadence and speed, label, nothing


def gait(kind: Family, spm: Floats, speed: Floats, real: Flags, vehicle: Flags, limits: Limits) -> Gait:
    """Tell the gait from cadence and speed, the label moving the border."""
    none = np.zeros(len(real), dtype=np.bool_)
    with np.errstate(invalid="ignore"):
        moving = real & ~vehicle & ((speed > 0.5) | (~np.isfinite(speed) & (spm > 50)))
    if kind not in ON_FOOT:
        return Gait(none, none, vehicle, "nothing")
    has_cadence = bool((np.isfinite(spm) & (spm > 30)).sum() >= 0.2 * max(real.sum(), 1))
    has_speed = bool(np.isfinite(speed).sum() >= 0.2 * max(real.sum(), 1))
    if not has_cadence and not has_speed:
        running = real & ~vehicle if kind == "run" else none
        return Gait(running, none, vehicle, "label" if kind == "run" else "nothing")
    if kind == "race_walk":
        running = _race_walk_broken(speed, limits)
    else:
        running = _running(kind, spm, speed, has_cadence, has_speed, limits)
    running &= real & ~vehicle
    if kind == "run":
        running |= real & ~vehicle & ~np.isfinite(speed) & ~np.isfinite(spm)
    least = limits.whole("gait.least_running_s" if has_cadence else "gait.least_running_by_speed_s")
    kept = stretches(running, bridge=limits.whole("gait.bridge_s"), least=least)
    fast = stretches(
        _too_fast_to_walk(kind, speed, limits) & real & ~vehicle, least=limits.whole("gait.least_running_s")
    )
    running = (flagged(len(real), kept) | flagged(len(real), fast)) & real
    by = "cadence and speed" if has_cadence and has_speed else "cadence" if has_cadence else "speed"
    return Gait(running, moving & ~running, vehicle, by)


def _running(kind: Family, spm: Floats, speed: Floats, has_cadence: bool, has_speed: bool, limits: Limits) -> Flags:
    bias = limits.value("gait.label_bias").get(kind, limits.value("gait.label_bias")["other"])
    slow = rolling_median(speed, 31, least=8)
    middle, width = limits.number("gait.border_spm"), limits.number("gait.width_spm")
    border, spread = limits.number("gait.border_mps"), limits.number("gait.width_mps")
    brisk = rolling_mean(speed, 11)
    with np.errstate(invalid="ignore"):
        by_speed = (slow - border) / spread + bias > 0.0
        if kind == "run":
            by_speed = slow > limits.number("gait.slowest_labelled_run_mps")
        if not has_cadence:
            return np.asarray(by_speed)
        steps = np.clip((spm - middle) / width, -3.0, 3.0)
        if not has_speed:
            fewest = limits.number(
                "gait.running_spm_alone" if kind in ("run", "walk") else "gait.running_spm_alone_unlabelled"
            )
            return flagged(
                len(spm), stretches(spm >= fewest, bridge=5, least=limits.whole("gait.least_running_by_cadence_s"))
            )
        both = steps + np.clip((brisk - border) / spread, -3.0, 3.0) + bias > 0.0
        both &= (spm >= limits.number("gait.fewest_running_spm")) & (brisk >= limits.number("gait.slowest_running_mps"))
        alone = ~np.isfinite(spm) & by_speed
        still_steps = ~np.isfinite(speed) & (spm >= limits.number("gait.running_spm_alone"))
    return np.asarray(both | alone | still_steps)


def _too_fast_to_walk(kind: Family, speed: Floats, limits: Limits) -> Flags:
    """Short fast stretches that a slow median would miss."""
    fastest = limits.value("gait.fastest_walk_mps").get(kind, limits.value("gait.fastest_walk_mps")["other"])
    with np.errstate(invalid="ignore"):
        return np.asarray(rolling_mean(speed, 7, least=4) > fastest)


def _race_walk_broken(speed: Floats, limits: Limits) -> Flags:
    with np.errstate(invalid="ignore"):
        return np.asarray(rolling_median(speed, 31, least=8) > limits.number("gait.fastest_race_walk_mps"))


def carried(kind: Family, spm: Floats, speed: Floats, real: Flags, limits: Limits) -> Flags:
    """Where the watch was carried by wheels: speeds no runner holds, and what hangs together with them."""
    none = np.zeros(len(real), dtype=np.bool_)
    if kind not in ON_FOOT or not np.isfinite(speed).any():
        return none
    steps = np.isfinite(spm) & (spm > limits.number("gait.fewest_running_spm"))
    smooth = rolling_mean(speed, 15, least=5)
    with np.errstate(invalid="ignore"):
        fast = (smooth > limits.number("vehicle.surely_mps")) | (
            (smooth > limits.number("vehicle.without_steps_mps")) & ~steps
        )
    cores = stretches(fast, bridge=5, least=limits.whole("vehicle.least_s"))
    if not cores:
        return none
    found = stretches(flagged(len(real), cores), bridge=limits.whole("vehicle.bridge_s"))
    pieces = _between_stops(speed, real)
    carried_rows = flagged(len(real), found)
    for _ in range(len(pieces)):
        grown = carried_rows.copy()
        for a, b in pieces:
            touches = carried_rows[max(a - 60, 0) : min(b + 60, len(real))].any()
            if touches and not grown[a:b].all() and _like_wheels(speed[a:b], steps[a:b], limits):
                grown[a:b] = True
        if (grown == carried_rows).all():
            break
        carried_rows = grown
    joined = stretches(carried_rows, bridge=limits.whole("vehicle.bridge_s"))
    return flagged(len(real), joined) & real & ~steps | flagged(len(real), cores)


def _between_stops(speed: Floats, real: Flags) -> list[tuple[int, int]]:
    with np.errstate(invalid="ignore"):
        still = ~real | (speed < 1.0)
    stops = flagged(len(real), stretches(still, least=3))
    return stretches(~stops)


def _like_wheels(speed: Floats, steps: Flags, limits: Limits) -> bool:
    """A piece between two stops that no one ran: too fast, or far too short for a run and without a step."""
    known = speed[np.isfinite(speed)]
    if len(known) == 0 or steps.mean() > 0.3:
        return False
    return bool(np.percentile(known, 90) > limits.number("vehicle.piece_mps")) or len(known) < 60


def like_a_ride(kind: Family, spm: Floats, speed: Floats, hr: Floats, limits: Limits) -> bool:
    """Coasting, or the speeds of a ride without the steps of a run, in a session whose label is open."""
    with np.errstate(invalid="ignore"):
        moving = speed > 1.0
        if moving.sum() < 60:
            return False
        stepping = spm[moving] >= limits.number("gait.running_spm_alone")
        coasting = (speed[moving] > 3.0) & (spm[moving] < 30)
        turning = spm[moving & (spm > 30)]
    smooth = rolling_mean(speed, 31, least=10)[moving]
    fast = float(np.nanpercentile(smooth, 95)) > limits.number("vehicle.ride_mps")
    if np.isfinite(spm[moving]).mean() <= 0.5:
        return fast or _too_calm(kind, smooth, hr[moving], limits)
    uneven = spread(turning) > limits.number("vehicle.pedal_spread_spm")
    if stepping.mean() > 0.5 and coasting.mean() < 0.02 and not uneven:
        return False
    return fast or float(coasting.mean()) > 0.05


def _too_calm(kind: Family, speed: Floats, hr: Floats, limits: Limits) -> bool:
    """Does the heart say that no one ran so fast? Where it says nothing, a speed that few hold is taken for a ride."""
    with np.errstate(invalid="ignore"):
        quick = (speed > limits.number("vehicle.calm_above_mps")) & np.isfinite(hr)
    if quick.sum() >= 120:
        return float(np.median(hr[quick])) < limits.number("vehicle.calm_bpm")
    return kind != "gym" and float(np.nanmedian(speed)) > limits.number("vehicle.ride_median_mps")
