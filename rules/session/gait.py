"""Second by second: running, walking, standing, or carried by wheels.

Cadence tells walking from running better than speed (135-140 steps/min: 93 % right, 2.1 m/s: 55 %; Hum Mov Sci 2023
90:103117), so it leads where it is known; speed and the label move the border. A race walk has the speed and the
cadence of a run and is known by its label only.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rules import words
from rules.limits import Limits
from rules.session.labels import Family
from rules.session.timeline import Flags, Floats, flagged, mostly, rolling_mean, rolling_median, stretches

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
    by = words.findings.CADENCE_AND_SPEED if has_cadence and has_speed else "cadence" if has_cadence else "speed"
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
        steps = np.clip((spm - middle) / width, -3.0, 3.0)
        if not has_speed:
            labelled = kind in ("run", "walk")
            fewest = limits.gait.running_spm_alone if labelled else limits.gait.running_spm_alone_unlabelled
            return flagged(len(spm), stretches(spm >= fewest, bridge=5, least=limits.gait.least_running_by_cadence_s))
        both = steps + np.clip((brisk - border) / spread, -3.0, 3.0) + bias > 0.0
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
