"""What a device makes of the truth: sampling, noise, missing channels.

Sizes and memories of the noise were measured on real recordings (`tests/bench/recording_noise.py`). The speed of a
watch errs by 0.03 to 0.14 m/s about its own half minute. A phone that writes a position in some 4 s errs by 0.19 to
0.44 m/s (the middle half, at most 0.9), with no memory from one record to the next. An altitude from satellites is
smooth by the second and off by 1 to 4 m (the middle half, at most 14) where the same place is passed again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.simulator.athletes import Body
from tests.simulator.motion import OTHER, RUN, STILL, WALK, Truth, smooth_noise


@dataclass(frozen=True)
class Device:
    """How a recording is made."""

    name: str
    every: tuple[int, int] = (1, 1)  # least and most seconds between records
    speed: str = "device"  # device, distance, position, none
    cadence: bool = True
    altitude: str = "barometer"  # barometer, gnss, none
    hr: bool = True
    speed_sd: float = 0.15
    one_leg: bool = False
    rough_m: float = 0.2
    white_m: float = 0.15
    digits: int = 6


SENSORS = (
    Device("watch, 1 s"),
    Device("watch, 1 s, noisy", speed_sd=0.3),
    Device("watch, 1 s, no noise", speed_sd=0.0),
    Device("watch, smart", every=(1, 8)),
    Device("watch, slow", every=(5, 8)),
    Device("watch, strides of one leg", one_leg=True),
    Device("watch, rough barometer", rough_m=0.8),
    Device("tcx", every=(1, 4), speed="distance", cadence=False),
    Device("tcx with cadence", every=(1, 5), speed="distance", altitude="none"),
    Device("gpx", every=(1, 1), speed="position", cadence=False, altitude="gnss"),
    Device("gpx, sparse", every=(2, 6), speed="position", cadence=False, altitude="gnss"),
    Device("gpx, white noise", speed="position", cadence=False, altitude="none", white_m=1.2),
    Device("gpx, five digits", speed="position", cadence=False, altitude="gnss", digits=5),
    Device("gpx with cadence", speed="position", altitude="barometer"),
    Device("watch, altitude from satellites", altitude="gnss", speed_sd=0.1),
    Device("tcx, altitude from satellites", every=(1, 4), altitude="gnss", speed_sd=0.1),
    Device("gpx of a phone", every=(2, 6), speed="position", cadence=False, altitude="gnss", white_m=0.9),
    Device("gpx of a phone, noisy", every=(3, 5), speed="position", cadence=False, altitude="gnss", white_m=1.3),
)
WEAK = frozenset({"gpx, sparse", "gpx, white noise", "gpx of a phone", "gpx of a phone, noisy"})
"""Devices with positions alone, and few or noisy ones: what they show is asked about rather than told."""


def heart(truth: Truth, body: Body, rng: np.random.Generator, target: np.ndarray | None = None) -> np.ndarray:
    """First-order answer to effort with a slow drift; `target` replaces the effort for other sports."""
    run, walk = body.running_hr(truth.effort), body.walking_hr(truth.effort)
    aim = np.select(
        [truth.gait == RUN, truth.gait == WALK, truth.gait == STILL], [run, walk, body.hr_rest + 25], body.hr_rest + 20
    )
    if target is not None:
        aim = target
    aim = np.minimum(aim + rng.uniform(0, 4) * np.arange(truth.size) / 3600, body.hr_max + 2)
    out = np.empty(truth.size)
    value = body.hr_rest + 25.0
    for i, goal in enumerate(aim.tolist()):
        value += (goal - value) / body.tau_s
        out[i] = value
    return out + smooth_noise(rng, truth.size, 4.0) * body.hr_noise


def steps(truth: Truth, body: Body, rng: np.random.Generator, turns: float | None = None) -> np.ndarray:
    walk = 70 + 32 * truth.speed
    clean = np.select(
        [truth.gait == RUN, truth.gait == WALK, truth.gait == OTHER], [body.spm(truth.speed), walk, turns or 0.0], 0.0
    )
    noise = rng.normal(0, 1.2, truth.size) + smooth_noise(rng, truth.size, 20.0) * 1.2
    return np.where(clean > 0, np.maximum(np.rint(clean + noise), 0), 0.0)


def record(
    truth: Truth, body: Body, device: Device, hr: np.ndarray, spm: np.ndarray, rng: np.random.Generator
) -> dict[str, np.ndarray]:
    """The table of samples of one recording."""
    at = _when(truth.size, device, rng)
    table: dict[str, np.ndarray] = {"t_s": at.astype(np.float64)}
    if device.hr:
        table["hr_bpm"] = np.clip(np.rint(hr), 0, 255)[at]
    _speed(table, truth, device, at, rng)
    if device.cadence:
        table["cadence_spm"] = (spm / 2 if device.one_leg else spm)[at]
    if device.altitude != "none":
        table["altitude_m"] = _altitude(truth, device, rng)[at]
    return table


def _when(size: int, device: Device, rng: np.random.Generator) -> np.ndarray:
    least, most = device.every
    if most == 1:
        return np.arange(size)
    gaps = rng.integers(least, most + 1, size)
    at = np.cumsum(np.concatenate(([0], gaps)))
    return at[at < size]


def _speed(
    table: dict[str, np.ndarray], truth: Truth, device: Device, at: np.ndarray, rng: np.random.Generator
) -> None:
    noise = smooth_noise(rng, truth.size, float(rng.uniform(3, 9))) * device.speed_sd
    moving = truth.speed > 0.3
    seen = np.where(moving, np.maximum(truth.speed + noise, 0.0), 0.0)
    if device.speed == "device":
        table["speed_mps"] = np.round(seen, 3)[at]
        table["distance_m"] = np.round(np.cumsum(seen), 2)[at]
    elif device.speed == "distance":
        table["distance_m"] = np.round(np.cumsum(seen), 1)[at]
    elif device.speed == "position":
        table |= _positions(truth, device, at, rng)


def _positions(truth: Truth, device: Device, at: np.ndarray, rng: np.random.Generator) -> dict[str, np.ndarray]:
    heading = np.cumsum(smooth_noise(rng, truth.size, 60.0) * rng.uniform(0.005, 0.03))
    east, north = np.cumsum(truth.speed * np.sin(heading)), np.cumsum(truth.speed * np.cos(heading))
    sd = rng.uniform(0.8, 2.5)
    east += smooth_noise(rng, truth.size, 40.0) * sd + rng.normal(0, device.white_m, truth.size)
    north += smooth_noise(rng, truth.size, 40.0) * sd + rng.normal(0, device.white_m, truth.size)
    lat0, lon0 = rng.uniform(-55, 65), rng.uniform(-179, 179)
    lat = np.round(lat0 + np.degrees(north / 6371008.8), device.digits)
    lon = np.round(lon0 + np.degrees(east / 6371008.8 / np.cos(np.radians(lat0))), device.digits)
    return {"lat_deg": lat[at], "lon_deg": lon[at]}


def _altitude(truth: Truth, device: Device, rng: np.random.Generator) -> np.ndarray:
    if device.altitude == "barometer":
        drift = smooth_noise(rng, truth.size, 900.0) * 2.0
        return np.round((truth.altitude + drift + rng.normal(0, device.rough_m, truth.size)) * 5) / 5
    off_m = float(np.clip(rng.lognormal(np.log(1.4), 0.9), 0.3, 14.0))
    return np.round(truth.altitude + smooth_noise(rng, truth.size, 300.0) * off_m, 1)
