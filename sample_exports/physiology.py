"""How an invented body answers to a plan of legs: speed, cadence and heart rate, second by second.

Heart rate follows the metabolic power demanded with a first-order lag; the power comes from speed and grade. Sources
stand beside each number. The aim is recordings that look like an athlete's, not a model of one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

Series = npt.NDArray[np.float64]
Gait = Literal["run", "walk", "stand", "ride", "swim", "lift"]

HEART_LAG_S = 57.0  # Hunt 2015 (Biomed Eng OnLine 14:117): tau 55.7 and 59.5 s for moderate and vigorous steps
BPM_PER_WATT_PER_KG = 6.72  # the same study's 24.2 bpm per m/s, over the 3.6 J/kg/m that a metre of running costs
STANDING_BPM = 78.0  # this athlete: 171 bpm at 4:20/km, her pace for an hour
SADDLE_BPM, BPM_PER_WATT = 70.0, 0.40  # this athlete on a bicycle
HR_MAX = 188.0
WALKING_ECONOMY = 0.8  # Minetti's fit lies over his own measurements for level walking
RUNNING = (155.4, -30.4, -43.3, 46.3, 19.5, 3.6)  # J/kg/m by grade, Minetti 2002 (J Appl Physiol 93:1039)
WALKING = (280.5, -58.7, -76.8, 51.9, 19.6, 2.5)
SPEED_LAG_S, GRADE_LAG_S = 3.0, 6.0


@dataclass(frozen=True)
class Leg:
    """A stretch of one kind of moving. `bpm` sets what the heart tends to where no speed or power tells it."""

    gait: Gait
    seconds: float
    speed_mps: float = 0.0
    grade: float = 0.0
    watts: float = 0.0
    bpm: float | None = None
    back: bool = False  # the way just come, in the other direction


@dataclass(frozen=True)
class Heart:
    """How the heart is today: `offset_bpm` for tiredness, `drift_bpm_per_min` after a quarter of an hour."""

    offset_bpm: float = 0.0
    drift_bpm_per_min: float = 0.03
    start_bpm: float = 74.0


@dataclass(frozen=True)
class Truth:
    """What really happened, at one value a second."""

    speed_mps: Series
    grade: Series
    cadence_spm: Series  # steps a minute on foot, turns or strokes a minute elsewhere
    hr_bpm: Series
    watts: Series
    along_m: Series  # place on the way; falls on the way back


def cost_of_running(grade: float) -> float:
    """Energy to run a metre, J/kg/m (Minetti 2002)."""
    return float(np.polyval(RUNNING, min(max(grade, -0.45), 0.45)))


def cost_of_walking(grade: float) -> float:
    """Energy to walk a metre, J/kg/m (Minetti 2002, level walking brought down to what was measured)."""
    return WALKING_ECONOMY * float(np.polyval(WALKING, min(max(grade, -0.45), 0.45)))


def legs_by_effort(course: list[tuple[float, float]], watts_per_kg: tuple[float, float]) -> list[Leg]:
    """A course of (metres, grade) at an effort that goes from the first to the second figure."""
    total = sum(metres for metres, _ in course)
    done = 0.0
    legs = []
    for metres, grade in course:
        effort = watts_per_kg[0] + (watts_per_kg[1] - watts_per_kg[0]) * done / total
        if grade > 0.12:
            gait: Gait = "walk"
            speed = effort / cost_of_walking(grade)
        else:
            gait = "run"
            speed = min(effort / cost_of_running(grade), 3.3 if grade < -0.05 else 4.0)
        legs.append(Leg(gait, round(metres / speed), speed, grade))
        done += metres
    return legs


def ride_speed(watts: float, grade: float) -> float:
    """Speed of a rider and bicycle of 72 kg from power: rolling and air drag and slope, m/s."""
    low, high = 0.5, 20.0
    for _ in range(40):
        middle = (low + high) / 2
        need = (72 * 9.81 * (0.006 + grade) + 0.5 * 1.2 * 0.42 * middle**2) * middle / 0.97
        low, high = (middle, high) if need < watts else (low, middle)
    return min(low, 13.0)


def wandering(rng: np.random.Generator, length: int, spread: float, persistence: float) -> Series:
    """AR(1) noise with the standard deviation `spread`: errors that last, as those of a receiver do."""
    shocks = rng.standard_normal(length) * spread * (1 - persistence**2) ** 0.5
    out = np.empty(length)
    value = rng.standard_normal() * spread
    for i, shock in enumerate(shocks):
        value = persistence * value + shock
        out[i] = value
    return out


def lagged(target: Series, lag_s: float, start: float) -> Series:
    """First-order answer to a target at one value a second."""
    keep = float(np.exp(-1.0 / lag_s))
    out = np.empty(len(target))
    value = start
    for i, aim in enumerate(target):
        value = aim + (value - aim) * keep
        out[i] = value
    return out


def _demanded_bpm(leg: Leg, speed: float) -> float:
    if leg.bpm is not None:
        return leg.bpm
    if leg.gait == "ride":
        return SADDLE_BPM + BPM_PER_WATT * leg.watts
    if leg.gait == "stand":
        return STANDING_BPM + 4
    cost = cost_of_running(leg.grade) if leg.gait == "run" else cost_of_walking(leg.grade)
    return STANDING_BPM + BPM_PER_WATT_PER_KG * cost * speed


def _cadence(leg: Leg, speed: float) -> float:
    by_gait = {
        "run": 161 + 8 * (speed - 2.4) + 20 * max(leg.grade, 0.0),
        "walk": 112 + 26 * (speed - 1.4),
        "ride": 84.0 if leg.watts > 20 else 0.0,
        "swim": 27.0,
    }
    return by_gait.get(leg.gait, 0.0)


def simulate(legs: list[Leg], rng: np.random.Generator, heart: Heart) -> Truth:
    """The truth of an outing: what was asked, smoothed, with a body's own unevenness."""

    def spread(values: list[float]) -> Series:
        return np.repeat(np.array(values), seconds)

    seconds = np.array([round(leg.seconds) for leg in legs])
    speeds = [ride_speed(leg.watts, leg.grade) if leg.gait == "ride" else leg.speed_mps for leg in legs]
    count = int(seconds.sum())
    moving = spread([float(speed > 0) for speed in speeds])
    speed = np.maximum(lagged(spread(speeds), SPEED_LAG_S, 0.0) + moving * wandering(rng, count, 0.04, 0.97), 0.0)
    grade = lagged(spread([leg.grade for leg in legs]), GRADE_LAG_S, legs[0].grade)
    cadence = spread([_cadence(leg, s) for leg, s in zip(legs, speeds, strict=True)])
    cadence = np.where(cadence > 0, cadence + wandering(rng, count, 1.1, 0.9), 0.0)
    asked = spread([_demanded_bpm(leg, s) for leg, s in zip(legs, speeds, strict=True)])
    minutes = np.arange(count) / 60.0
    asked = asked + heart.offset_bpm + heart.drift_bpm_per_min * np.maximum(minutes - 15, 0.0)
    hr = lagged(np.minimum(asked, HR_MAX - 2), HEART_LAG_S, heart.start_bpm) + wandering(rng, count, 1.2, 0.95)
    watts = spread([leg.watts for leg in legs])
    watts = np.where(watts > 20, np.maximum(watts + wandering(rng, count, 14.0, 0.8), 0.0), watts)
    direction = spread([-1.0 if leg.back else 1.0 for leg in legs])
    return Truth(speed, grade, cadence, np.minimum(hr, HR_MAX), watts, np.cumsum(speed * direction))
