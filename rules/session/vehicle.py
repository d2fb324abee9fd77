"""Wheels: a vehicle that carried the watch, rides under an open label, and the run within or after such a ride.

Wheels, boats and cable cars are told by speeds no runner holds, by a step rate that works elsewhere in the recording
and is silent here, and by a heart that does not answer.
"""

from __future__ import annotations

import numpy as np

from rules.limits import Limits
from rules.session.gait import ON_FOOT, Motion, fastest_walk, too_long
from rules.session.labels import Family
from rules.session.timeline import Flags, Floats, Stretch, flagged, mostly, rolling_mean, spread, stretches

OPEN: frozenset[Family] = frozenset({"open", "unlabelled", "gym"})
"""Labels under which anything may have been recorded."""


def on_wheels(kind: Family, moves: Motion, limits: Limits) -> tuple[Family, Flags, float]:
    """The family, a ride where an open label hides one; of any other the rows in which wheels carried the watch, and
    the seconds of them that were ridden for exercise."""
    none = np.zeros(len(moves.real), dtype=np.bool_)
    if kind not in ON_FOOT or not np.isfinite(moves.speed).any():
        return kind, none, 0.0
    if kind in OPEN and like_a_ride(kind, moves, limits):
        afoot = _run_beside_the_ride(moves, limits)
        riding = moves.real & ~afoot
        return (kind, riding, float(riding.sum())) if afoot.any() else ("ride", none, 0.0)
    return kind, carried(kind, moves, limits), 0.0


def carried(kind: Family, moves: Motion, limits: Limits) -> Flags:
    """Where the watch was carried by wheels: what no runner does, and what hangs together with it."""
    speed, real = moves.speed, moves.real
    steps = np.isfinite(moves.spm) & (moves.spm > limits.gait.fewest_running_spm)
    smooth = rolling_mean(speed, 15, least=5)
    with np.errstate(invalid="ignore"):
        fast = (smooth > limits.vehicle.surely_mps) | ((smooth > limits.vehicle.without_steps_mps) & ~steps)
        if moves.has_cadence and kind != "run":
            fast |= (smooth > fastest_walk(kind, limits)) & np.isfinite(moves.spm) & ~steps
    cores = stretches(fast, bridge=5, least=limits.vehicle.least_s)
    if kind != "run" and not moves.has_cadence:
        cores += _unanswered(kind, moves, limits)
    if not cores:
        return np.zeros(len(real), dtype=np.bool_)
    found = stretches(flagged(len(real), cores), bridge=limits.vehicle.bridge_s)
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
    joined = stretches(carried_rows, bridge=limits.vehicle.bridge_s)
    with np.errstate(invalid="ignore"):
        walked = (moves.spm > limits.gait.fewest_turns_spm) & (smooth <= fastest_walk(kind, limits))
    return flagged(len(real), joined) & real & ~steps & ~walked | flagged(len(real), cores)


def _unanswered(kind: Family, moves: Motion, limits: Limits) -> list[Stretch]:
    """Faster than anyone walks for minutes, and the heart beats no faster than at a walk: a boat, a bus, a cable car.

    A descent is left out, where runners' hearts calm down.
    """
    smooth = rolling_mean(moves.speed, 15, least=5)
    with np.errstate(invalid="ignore"):
        fast = smooth > fastest_walk(kind, limits)
        walking = (smooth > limits.gait.standing_mps) & (smooth < limits.gait.border_mps)
    answer = limits.vehicle.answer_s
    settled = flagged(len(fast), [(a + answer, b) for a, b in stretches(walking, bridge=10, least=2 * answer)])
    at_a_walk = moves.heart[settled & np.isfinite(moves.heart)]
    if len(at_a_walk) < answer:
        return []
    found = []
    for a, b in stretches(fast, bridge=30, least=answer):
        heart = moves.heart[a + 60 : b]
        known, slope = heart[np.isfinite(heart)], moves.slope[a:b]
        down = np.isfinite(slope).any() and np.nanmedian(slope) < -limits.measures.easy_slope
        calm = min(float(np.median(at_a_walk)), limits.vehicle.calm_bpm)
        if not down and 2 * len(known) >= len(heart) and np.median(known) <= calm:
            found.append((a, b))
    return found


def _between_stops(speed: Floats, real: Flags) -> list[Stretch]:
    with np.errstate(invalid="ignore"):
        still = ~real | (speed < 1.0)
    stops = flagged(len(real), stretches(still, least=3))
    return stretches(~stops)


def _like_wheels(speed: Floats, steps: Flags, limits: Limits) -> bool:
    """A piece between two stops that no one ran: too fast, or far too short for a run and without a step."""
    known = speed[np.isfinite(speed)]
    if len(known) == 0 or steps.mean() > limits.vehicle.most_stepping:
        return False
    return bool(np.percentile(known, 90) > limits.vehicle.piece_mps) or len(known) < limits.vehicle.piece_s


def like_a_ride(kind: Family, moves: Motion, limits: Limits) -> bool:
    """Coasting, or the speeds of a ride without the steps of a run, in a session whose label is open."""
    spm, speed = moves.spm, moves.speed
    with np.errstate(invalid="ignore"):
        moving = speed > 1.0
        leaps = moving & (rolling_mean(speed, 31, least=10) > limits.vehicle.surely_mps)
        if leaps.sum() <= limits.vehicle.most_leaps * moving.sum():
            moving &= ~leaps  # positions that jump, a train home: not what the rest of it was
        if moving.sum() < limits.gait.least_known_s:
            return False
        stepping = spm[moving] >= limits.gait.running_spm_alone
        coasting = (speed[moving] > limits.vehicle.coasting_mps) & (spm[moving] < limits.gait.fewest_turns_spm)
        turned = moving & (spm > limits.gait.fewest_turns_spm)
    turning = spm[turned]
    if _walked_beside_wheels(moves, limits):
        return False
    smooth = rolling_mean(speed, 31, least=10)[moving]
    fastest = float(np.nanpercentile(smooth, 95))
    if not mostly(np.isfinite(spm[moving])):
        return _ride_without_cadence(kind, smooth, fastest, moves.heart[moving], limits)
    uneven = spread(turning) > limits.vehicle.pedal_spread_spm
    most_coasting = limits.vehicle.most_coasting
    pedalled = too_long(spm, speed, limits)[turned] & (turning < limits.gait.running_spm_alone)
    if len(turning) and float(pedalled.mean()) > most_coasting:
        return True
    if mostly(stepping) and coasting.mean() <= most_coasting and not uneven:
        return False
    return fastest > limits.vehicle.ride_mps or float(coasting.mean()) > most_coasting


def _ride_without_cadence(kind: Family, smooth: Floats, fastest: float, hr: Floats, limits: Limits) -> bool:
    beats = _beats_when_quick(smooth, hr, limits)
    working = beats is not None and beats >= limits.gait.working_bpm
    if fastest > (limits.gait.fastest_foot_mps if working else limits.vehicle.ride_mps):
        return True
    if beats is not None:
        return beats < limits.vehicle.calm_bpm
    return kind != "gym" and float(np.nanmedian(smooth)) > limits.vehicle.ride_median_mps


def _walked_beside_wheels(moves: Motion, limits: Limits) -> bool:
    """Whether the watch counts the steps of a walk, and none of a run where it goes faster than anyone walks."""
    with np.errstate(invalid="ignore"):
        fast = rolling_mean(moves.speed, 15, least=5) > fastest_walk("walk", limits)
        walked = (moves.spm > limits.gait.fewest_turns_spm) & (moves.spm < limits.gait.border_spm)
        walked &= (moves.speed > limits.gait.standing_mps) & (moves.speed < limits.gait.border_mps)
    if walked.sum() < limits.vehicle.walked_s:
        return False
    pedalled = too_long(moves.spm, moves.speed, limits)[walked].mean() > limits.vehicle.most_long_steps
    ran = np.nan_to_num(moves.spm[fast]).mean() > limits.gait.fewest_running_spm if fast.any() else False
    even = spread(moves.spm[walked]) <= limits.vehicle.pedal_spread_spm
    return bool(even and not pedalled and not ran)


def _run_beside_the_ride(moves: Motion, limits: Limits) -> Flags:
    """Minutes of even running at one end of a ride: a brick, a run home. Slow riding is uneven, or climbs."""
    smooth = rolling_mean(moves.speed, 61, least=30)
    with np.errstate(invalid="ignore"):
        pace = (smooth >= limits.gait.border_mps) & (smooth <= limits.vehicle.piece_mps)
    least = limits.vehicle.least_run_s
    spans = stretches(pace & moves.real, bridge=20, least=least)
    with np.errstate(invalid="ignore"):
        moved = np.flatnonzero(moves.speed > 1.0)
    return flagged(
        len(moves.real),
        [(a, b) for a, b in spans if min(a - moved[0], moved[-1] - b) <= least / 4 and _even_run(moves, a, b, limits)],
    )


def _even_run(moves: Motion, a: int, b: int, limits: Limits) -> bool:
    speed, spm, slope = moves.speed[a:b], moves.spm[a:b], moves.slope[a:b]
    minutes = rolling_mean(speed, 61, least=30)[30::60]
    climbs = np.isfinite(slope).any() and abs(np.nanmedian(slope)) > limits.measures.easy_slope
    uneven = spread(minutes) > limits.vehicle.even_run * np.nanmedian(minutes)
    elsewhere = np.concatenate((moves.speed[:a], moves.speed[b:]))
    riding = float(np.nanmedian(elsewhere[elsewhere > 1.0])) if (elsewhere > 1.0).any() else 0.0
    if climbs or uneven or float(np.nanmedian(speed)) > limits.vehicle.run_of_ride * riding:
        return False
    turning = spm[np.isfinite(spm) & (spm > limits.gait.fewest_turns_spm)]
    if 2 * len(turning) < b - a:
        return not np.isfinite(moves.spm).any()
    steps = np.median(turning) * (1 if np.median(turning) >= limits.gait.fewest_running_spm else 2)
    return bool(steps >= limits.gait.running_spm_alone and spread(turning) <= limits.vehicle.pedal_spread_spm / 2)


def _beats_when_quick(speed: Floats, hr: Floats, limits: Limits) -> float | None:
    """Usual heart rate at speeds that no runner holds calmly; None where too little is known."""
    with np.errstate(invalid="ignore"):
        quick = (speed > limits.vehicle.calm_above_mps) & np.isfinite(hr)
    return float(np.median(hr[quick])) if quick.sum() >= limits.vehicle.answer_s else None
