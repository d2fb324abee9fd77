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
from rules.session.timeline import (
    Flags,
    Floats,
    Stretch,
    flagged,
    mostly,
    rolling_mean,
    rolling_median,
    spread,
    stretches,
)

# Wheels: a vehicle that carried the watch, rides under an open label, and the run within or after such a ride.
# Wheels, boats and cable cars are told by speeds no runner holds, by a step rate that works elsewhere in the
# recording and is silent here, and by a heart that does not answer.

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
            moving &= ~leaps  # positions that jump belong to a train home, not to the rest of the session
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


# Steps a minute, also where the device counted strides of one leg.
def steps_per_minute(cadence: Floats, speed_mps: Floats, limits: Limits) -> Floats:
    """Cadence as steps a minute, doubled where the length of a step says that one leg was counted."""
    with np.errstate(invalid="ignore"):
        turning = cadence > limits.gait.fewest_turns_spm
    if not turning.any():
        return cadence
    return cadence * 2 if _counts_one_leg(cadence, speed_mps, limits) else cadence


def calm(spm: Floats, limits: Limits) -> Floats:
    """Cadence without single wrong counts."""
    return np.where(np.isfinite(spm), rolling_median(spm, limits.gait.cadence_median_s), np.nan)


def _counts_one_leg(cadence: Floats, speed_mps: Floats, limits: Limits) -> bool:
    """Steps longer than anyone makes at that speed mean that only one leg was counted."""
    with np.errstate(invalid="ignore"):
        both = (cadence > limits.gait.fewest_turns_spm) & (speed_mps > limits.gait.one_leg_least_mps)
    if both.sum() < limits.gait.one_leg_least_records:
        return False  # without a speed the step stays as the file has it, lest it be doubled twice
    return bool(
        mostly(too_long(cadence, speed_mps, limits)[both]) and np.median(speed_mps[both]) < limits.gait.fastest_foot_mps
    )


def too_long(spm: Floats, speed_mps: Floats, limits: Limits) -> Flags:
    """Where a step would be longer than anyone makes at that speed: pedalled, or counted of one leg."""
    with np.errstate(invalid="ignore", divide="ignore"):
        faster = np.maximum(speed_mps - limits.gait.longer_steps_above_mps, 0.0)
        longest = limits.gait.longest_walking_step_m + limits.gait.longer_steps_m_per_mps * faster
        return np.asarray((spm > limits.gait.fewest_turns_spm) & (speed_mps / (spm / 60) > longest))


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


@dataclass(frozen=True, slots=True)
class Motion:
    """What the gait is told from, a second a row."""

    spm: Floats
    speed: Floats
    heart: Floats  # believed bpm
    slope: Floats
    real: Flags
    apart_s: float  # usual time between records
    limits: Limits

    @property
    def has_cadence(self) -> bool:
        """Whether a cadence works in this recording: then its silence or a 0 says that nobody ran."""
        return self._for_long(np.isfinite(self.spm) & (self.spm > self.limits.gait.fewest_turns_spm))

    @property
    def has_speed(self) -> bool:
        return self._for_long(np.isfinite(self.speed))

    def _for_long(self, told: Flags) -> bool:
        return bool(told.sum() >= self.limits.gait.least_share_known * max(self.real.sum(), 1))


def gait(kind: Family, moves: Motion, vehicle: Flags, limits: Limits) -> Gait:
    """Tell the gait from cadence and speed, the label and the heart moving the border."""
    spm, speed, real = moves.spm, moves.speed, moves.real
    none = np.zeros(len(real), dtype=np.bool_)
    with np.errstate(invalid="ignore"):
        stepping = ~np.isfinite(speed) & (spm > limits.gait.walking_spm_alone)
        moving = real & ~vehicle & ((speed > limits.gait.standing_mps) | stepping)
    if kind not in ON_FOOT:
        return Gait(none, none, vehicle, "nothing")
    has_cadence, has_speed = moves.has_cadence, moves.has_speed
    if not has_cadence and not has_speed:
        running = real & ~vehicle if kind == "run" else none
        return Gait(running, none, vehicle, "label" if kind == "run" else "nothing")
    running = _race_walk_broken(speed, limits) if kind == "race_walk" else _running(kind, moves, limits)
    running &= real & ~vehicle
    if kind == "run":
        running |= real & ~vehicle & ~np.isfinite(speed) & ~np.isfinite(spm)
    records = 0 if kind == "run" else int(np.ceil(limits.gait.least_records * moves.apart_s))
    least = limits.gait.least_running_s if has_cadence else limits.gait.least_running_by_speed_s
    kept = stretches(running, bridge=limits.gait.bridge_s, least=max(least, 0 if has_cadence else records))
    fast = stretches(
        _too_fast_to_walk(kind, moves, limits) & real & ~vehicle,
        least=max(limits.gait.least_running_s, records),
    )
    running = (flagged(len(real), kept) | flagged(len(real), fast)) & real
    by = "cadence and speed" if has_cadence and has_speed else "cadence" if has_cadence else "speed"
    return Gait(running, moving & ~running, vehicle, by)


def _running(kind: Family, moves: Motion, limits: Limits) -> Flags:
    spm, speed, has_cadence, has_speed = moves.spm, moves.speed, moves.has_cadence, moves.has_speed
    bias = limits.gait.label_bias.get(kind, limits.gait.label_bias["other"])
    slow = rolling_median(speed, 31, least=8, every=5)
    middle, width = limits.gait.border_spm, limits.gait.width_spm
    border, spread = limits.gait.border_mps, limits.gait.width_mps
    brisk = rolling_mean(speed, 11)
    with np.errstate(invalid="ignore"):
        by_speed = (slow - border) / spread + bias + _works(moves, limits) > 0.0
        if kind == "run":
            by_speed = slow > limits.gait.slowest_labelled_run_mps
        if not has_cadence:
            return np.asarray(by_speed)
        steps = np.minimum((spm - middle) / width, 3.0)
        if not has_speed:
            labelled = kind in ("run", "walk")
            fewest = limits.gait.running_spm_alone if labelled else limits.gait.running_spm_alone_unlabelled
            return flagged(len(spm), stretches(spm >= fewest, bridge=5, least=limits.gait.least_running_by_cadence_s))
        both = steps + np.minimum((brisk - border) / spread, 3.0) + bias > 0.0
        both &= (spm >= limits.gait.fewest_running_spm) & (brisk >= limits.gait.slowest_running_mps)
        alone = ~np.isfinite(spm) & by_speed
        still_steps = ~np.isfinite(speed) & (spm >= limits.gait.running_spm_alone)
    return np.asarray(both | alone | still_steps)


def _works(moves: Motion, limits: Limits) -> Flags:
    """Where the heart works as no walk on the level makes it: the border lies a width lower there.

    Held against what it does where the athlete surely walked; where nobody knows that, against what few hearts do.
    """
    heart = rolling_median(moves.heart, 61, least=10, every=5)
    with np.errstate(invalid="ignore"):
        level = np.abs(np.nan_to_num(moves.slope)) <= limits.measures.easy_slope
        walked = (moves.speed > 1.0) & (moves.speed < limits.gait.border_mps - limits.gait.width_mps)
    settled = [(a + limits.vehicle.answer_s, b) for a, b in stretches(walked & level, bridge=limits.gait.bridge_s)]
    at_a_walk = heart[flagged(len(heart), [(a, b) for a, b in settled if b > a]) & np.isfinite(heart)]
    known = len(at_a_walk) >= limits.vehicle.answer_s
    most = float(np.median(at_a_walk)) + limits.gait.over_walking_bpm if known else limits.gait.working_bpm
    with np.errstate(invalid="ignore"):
        return np.asarray((heart >= most) & level)


def _too_fast_to_walk(kind: Family, moves: Motion, limits: Limits) -> Flags:
    """Short fast stretches that a slow median would miss; where a cadence works, it must say so too."""
    with np.errstate(invalid="ignore"):
        fast = rolling_mean(moves.speed, 7, least=4) > fastest_walk(kind, limits)
        stepping = ~np.isfinite(moves.spm) | (moves.spm >= limits.gait.fewest_running_spm)
    return np.asarray(fast & (stepping | (kind == "run") | (not moves.has_cadence)))


def fastest_walk(kind: Family, limits: Limits) -> float:
    """Speed in m/s that no walk of this label holds for a dozen seconds."""
    by_label = limits.gait.fastest_walk_mps
    return float(by_label.get(kind, by_label["other"]))


def own_speed(spm: Floats, speed: Floats, limits: Limits) -> Floats:
    """Speed, unknown where the steps of a run would be shorter than anyone's: a treadmill under drifting positions."""
    with np.errstate(invalid="ignore"):
        on_the_spot = (spm >= limits.gait.running_spm_alone_unlabelled) & (
            speed < limits.gait.shortest_running_step_m * spm / 60
        )
    spots = stretches(on_the_spot, bridge=5, least=limits.gait.least_running_by_cadence_s)
    return np.where(flagged(len(spm), spots), np.nan, speed)


def _race_walk_broken(speed: Floats, limits: Limits) -> Flags:
    with np.errstate(invalid="ignore"):
        return np.asarray(rolling_median(speed, 31, least=8, every=5) > limits.gait.fastest_race_walk_mps)
