"""One outing, from what the athlete set out to do to the columns that her device saved."""

from __future__ import annotations

import zlib
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from sample_exports.ground import Recorded, Shape, locked_to_steps, record
from sample_exports.physiology import Heart, Leg, Series, simulate

ZONE = ZoneInfo("Europe/Oslo")
SEED = 20261004
RESTED = Heart()
Saving = Literal["each second", "when something changes"] | int


@dataclass(frozen=True)
class Outing:
    """What was done, and how it was saved. `start` is aware; `pauses` are (from_s, to_s) with the timer stopped."""

    path: str  # in the athlete's folder; its ending says the format
    start: datetime
    sport: str
    legs: list[Leg] = field(repr=False)
    sub_sport: str = "generic"
    heart: Heart = RESTED
    shape: Shape = "loop"
    start_altitude_m: float = 640.0
    temperature_c: float = 9.0
    saving: Saving = "each second"
    has_power: bool = False
    pauses: tuple[tuple[int, int], ...] = ()
    locked_s: tuple[int, int] | None = None  # heart rate locked to the step rate
    pool_m: float | None = None

    @property
    def lengths(self) -> list[tuple[int, int]]:
        """(from_s, to_s) of each length of the pool."""
        second, out = 0, []
        for leg in self.legs:
            if leg.gait == "swim":
                out.append((second, second + round(leg.seconds)))
            second += round(leg.seconds)
        return out


@dataclass(frozen=True)
class Saved:
    """The columns of a recording: `t_s` counts from `start`, UTC."""

    outing: Outing
    start: datetime
    elapsed_s: float
    timer_s: float
    t_s: Series
    columns: Recorded

    @property
    def end(self) -> datetime:
        return self.start + timedelta(seconds=self.elapsed_s)

    @property
    def utc_offset_s(self) -> int:
        offset = self.start.astimezone(ZONE).utcoffset()
        assert offset is not None
        return round(offset.total_seconds())

    @property
    def distance_m(self) -> float | None:
        return None if self.columns.distance_m is None else float(self.columns.distance_m[-1])


def dice(name: str) -> np.random.Generator:
    """Random numbers of one thing, the same whatever else is made before it."""
    return np.random.default_rng([SEED, zlib.crc32(name.encode())])


def saved(outing: Outing) -> Saved:
    """Live the outing and save it."""
    rng = dice(outing.path)
    truth = simulate(outing.legs, rng, outing.heart)
    full = record(truth, rng, shape=outing.shape, start_altitude_m=outing.start_altitude_m, has_power=outing.has_power)
    if outing.pool_m and full.distance_m is not None:  # a pool counts lengths
        full = replace(full, distance_m=full.distance_m * outing.pool_m * len(outing.lengths) / full.distance_m[-1])
    if outing.locked_s:
        full = locked_to_steps(full, rng, *outing.locked_s)
    count = len(truth.speed_mps)
    kept = _kept(count, outing.saving, rng)
    for begin, end in outing.pauses:
        kept = kept[(kept <= begin) | (kept >= end)]
    columns = full.at(kept)
    elapsed = float(count - 1)
    paused = sum(end - begin for begin, end in outing.pauses)
    start = outing.start.astimezone(UTC)
    return Saved(outing, start, elapsed, elapsed - paused, kept.astype(np.float64), columns)


def _kept(count: int, saving: Saving, rng: np.random.Generator) -> npt.NDArray[np.int64]:
    """Which seconds the device keeps; the first and the last always."""
    if saving == "each second":
        return np.arange(count)
    steps = rng.integers(1, 8, count) if saving == "when something changes" else np.full(count, saving)
    seconds = np.concatenate([[0], np.cumsum(steps)])
    return np.unique(np.concatenate([seconds[seconds < count], [count - 1]]))
