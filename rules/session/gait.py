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
from rules.session.rolling import Flags, Floats, rolling_mean, rolling_median
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
    slow = rolling_median(speed, 31, least=8, every=5)
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
        return np.asarray(rolling_median(speed, 31, least=8, every=5) > limits.number("gait.fastest_race_walk_mps"))
