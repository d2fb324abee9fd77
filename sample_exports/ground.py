"""The way and the instruments: where the outing goes, and what a receiver and a barometer make of it.

The ways are drawn on an empty moor; no street, house or race is there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from sample_exports.physiology import Series, Truth, wandering

Shape = Literal["loop", "line", "indoors"]

MOOR_LAT_DEG, MOOR_LON_DEG = 61.452, 8.917
METRES_PER_DEGREE = 111_320.0
GRID_M = 5.0


@dataclass(frozen=True)
class Recorded:
    """What the device wrote down, at one value a second; None where it has no such sensor."""

    hr_bpm: Series
    cadence_spm: Series | None
    speed_mps: Series | None
    distance_m: Series | None
    altitude_m: Series | None
    lat_deg: Series | None
    lon_deg: Series | None
    watts: Series | None

    def at(self, seconds: npt.NDArray[np.int64]) -> Recorded:
        """The same at some of the seconds only."""

        def kept(column: Series | None) -> Series | None:
            return None if column is None else column[seconds]

        rest = (self.distance_m, self.altitude_m, self.lat_deg, self.lon_deg, self.watts)
        return Recorded(self.hr_bpm[seconds], kept(self.cadence_spm), kept(self.speed_mps), *map(kept, rest))


def _way(longest_m: float, shape: Shape, rng: np.random.Generator) -> tuple[Series, Series, Series]:
    """Metres along a way, and metres east and north of its beginning: long bends, closed if a loop."""
    along = np.arange(0.0, longest_m + 2 * GRID_M, GRID_M)
    phases = rng.uniform(0, 2 * np.pi, 3)
    heading = np.full(len(along), rng.uniform(0, 2 * np.pi))
    for phase, length, swing in zip(phases, (173.0, 431.0, 1270.0), (0.25, 0.45, 0.5), strict=True):
        heading += swing * np.sin(2 * np.pi * along / length + phase)
    if shape == "loop":
        heading += 2 * np.pi * along / longest_m
    return along, np.cumsum(np.sin(heading)) * GRID_M, np.cumsum(np.cos(heading)) * GRID_M


def record(
    truth: Truth, rng: np.random.Generator, *, shape: Shape, start_altitude_m: float, has_power: bool
) -> Recorded:
    """The truth through the instruments: GNSS speed and place with errors that last, a barometer's altitude."""
    count = len(truth.speed_mps)
    cadence = truth.cadence_spm if truth.cadence_spm.any() else None
    watts = truth.watts if has_power else None
    if shape == "indoors":
        distance = np.cumsum(truth.speed_mps) if truth.speed_mps.any() else None
        return Recorded(truth.hr_bpm, cadence, None, distance, None, None, None, watts)
    # Doppler speed is good to some 0.1-0.2 m/s under an open sky and its error lasts some seconds.
    moving = truth.speed_mps > 0.3
    speed = np.where(moving, np.maximum(truth.speed_mps + wandering(rng, count, 0.11, 0.85), 0.0), 0.0)
    altitude = start_altitude_m + np.cumsum(truth.grade * truth.speed_mps * np.sign(truth.speed_mps))
    altitude = altitude + wandering(rng, count, 0.35, 0.98)
    along, east, north = _way(float(truth.along_m.max()), shape, rng)
    east_m = np.interp(truth.along_m, along, east) + wandering(rng, count, 2.0, 0.985)
    north_m = np.interp(truth.along_m, along, north) + wandering(rng, count, 2.0, 0.985)
    lat = MOOR_LAT_DEG + north_m / METRES_PER_DEGREE
    lon = MOOR_LON_DEG + east_m / (METRES_PER_DEGREE * np.cos(np.radians(MOOR_LAT_DEG)))
    return Recorded(truth.hr_bpm, cadence, speed, np.cumsum(speed), altitude, lat, lon, watts)


def locked_to_steps(recorded: Recorded, rng: np.random.Generator, from_s: int, to_s: int) -> Recorded:
    """The fault of optical sensors: for a while the heart rate shown is the step rate."""
    assert recorded.cadence_spm is not None
    hr = recorded.hr_bpm.copy()
    steps = recorded.cadence_spm[from_s:to_s] + wandering(rng, to_s - from_s, 0.6, 0.5)
    hr[from_s:to_s] = steps
    for second, share in enumerate((0.3, 0.6, 0.85)):  # the display slides over within seconds
        hr[from_s + second] = recorded.hr_bpm[from_s + second] * (1 - share) + steps[second] * share
    return replace(recorded, hr_bpm=hr)
