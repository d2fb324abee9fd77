"""Plain constructed recordings with a known truth: steady outings made of stretches, written as FIT."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from tests.fitwriter import activity


@dataclass(frozen=True)
class Stretch:
    """Some seconds at one effort. Speed None: the device knows none."""

    seconds: int
    hr: float | None = None
    speed: float | None = None
    cadence: float | None = None  # steps a minute on foot, turns a minute on a bike
    grade: float = 0.0


def outing(
    start: datetime, sport: str, stretches: list[Stretch], sub_sport: str = "generic", *, noise: int = 1
) -> bytes:
    """One FIT activity with a record a second; a little noise keeps it from looking like a stuck sensor."""
    rng = np.random.default_rng(noise)
    columns: dict[str, np.ndarray] = {}
    length = sum(stretch.seconds for stretch in stretches)
    columns["t_s"] = np.arange(length, dtype=float)

    def spread(name: str) -> np.ndarray:
        values = [getattr(stretch, name) for stretch in stretches]
        return np.concatenate(
            [np.full(s.seconds, np.nan if v is None else float(v)) for s, v in zip(stretches, values, strict=True)]
        )

    hr, speed, cadence, grade = (spread(name) for name in ("hr", "speed", "cadence", "grade"))
    if np.isfinite(hr).any():
        smooth = hr.copy()
        for second in range(1, length):  # a heart follows in about ten seconds here, so that truths stay sharp
            smooth[second] = smooth[second - 1] + (hr[second] - smooth[second - 1]) / 8
        columns["hr_bpm"] = np.round(smooth + rng.normal(0, 0.6, length))
    if np.isfinite(speed).any():
        speed = np.maximum(0, speed + rng.normal(0, 0.08, length))
        columns["speed_mps"] = speed
        columns["distance_m"] = np.cumsum(speed)
        columns["altitude_m"] = 100 + np.cumsum(speed * grade)
        columns["lat_deg"] = 59.9 + columns["distance_m"] / 111_320
        columns["lon_deg"] = np.full(length, 10.7)
    if np.isfinite(cadence).any():
        columns["cadence_spm"] = np.round(cadence + rng.normal(0, 1.0, length))
    return activity(start, sport, sub_sport, columns, utc_offset_s=7200)


def ride(minutes: float, hr: float | None, speed: float = 6.5) -> list[Stretch]:
    return [Stretch(int(minutes * 60), hr, speed, 80)]


def walk(minutes: float, hr: float | None = 95, speed: float = 1.4) -> list[Stretch]:
    return [Stretch(int(minutes * 60), hr, speed, 112)]


def run(minutes: float, hr: float | None = 138, speed: float = 2.7) -> list[Stretch]:
    return [Stretch(int(minutes * 60), hr, speed, 164)]
