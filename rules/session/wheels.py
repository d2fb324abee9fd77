"""Wheels: a vehicle that carried the watch, and rides under an open label."""

from __future__ import annotations

import numpy as np

from rules.limits import Limits
from rules.session.gait import ON_FOOT
from rules.session.labels import Family
from rules.session.rolling import Flags, Floats, rolling_mean, spread
from rules.session.stretches import flagged, stretches


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
    fastest = float(np.nanpercentile(smooth, 95))
    if np.isfinite(spm[moving]).mean() <= 0.5:
        beats = _beats_when_quick(smooth, hr[moving], limits)
        working = beats is not None and beats >= limits.number("vehicle.working_bpm")
        if fastest > limits.number("gait.fastest_foot_mps" if working else "vehicle.ride_mps"):
            return True
        if beats is not None:
            return beats < limits.number("vehicle.calm_bpm")
        return kind != "gym" and float(np.nanmedian(smooth)) > limits.number("vehicle.ride_median_mps")
    uneven = spread(turning) > limits.number("vehicle.pedal_spread_spm")
    if stepping.mean() > 0.5 and coasting.mean() < 0.02 and not uneven:
        return False
    return fastest > limits.number("vehicle.ride_mps") or float(coasting.mean()) > 0.05


def _beats_when_quick(speed: Floats, hr: Floats, limits: Limits) -> float | None:
    """Usual heart rate at speeds that no runner holds calmly; None where too little is known."""
    with np.errstate(invalid="ignore"):
        quick = (speed > limits.number("vehicle.calm_above_mps")) & np.isfinite(hr)
    return float(np.median(hr[quick])) if quick.sum() >= 120 else None
