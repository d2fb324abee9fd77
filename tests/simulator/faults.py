"""What goes wrong on a wrist, under a bridge and in a pocket."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

Table = dict[str, np.ndarray]
Fault = Callable[[Table, np.random.Generator], None]


def _window(table: Table, rng: np.random.Generator, seconds: float, after: float = 300.0) -> np.ndarray:
    t = table["t_s"]
    latest = max(t[-1] - seconds - 200, after + 1)
    begin = rng.uniform(after, latest)
    return np.flatnonzero((t >= begin) & (t < begin + seconds))


def cadence_lock(table: Table, rng: np.random.Generator) -> None:
    """The optical sensor follows the feet for some minutes."""
    if "cadence_spm" not in table or "hr_bpm" not in table:
        return
    at = _window(table, rng, rng.uniform(120, 600))
    spm = table["cadence_spm"][at]
    moving = table["cadence_spm"][table["cadence_spm"] > 30]
    spm = spm * 2 if len(moving) and np.median(moving) < 95 else spm
    foot = spm > 100
    table["hr_bpm"][at] = np.where(foot, np.rint(spm + rng.normal(0, 1.0, len(at))), table["hr_bpm"][at])


def spikes(table: Table, rng: np.random.Generator) -> None:
    for _ in range(int(rng.integers(2, 7))):
        at = _window(table, rng, rng.uniform(2, 25), after=60)
        table["hr_bpm"][at] = np.rint(rng.uniform(190, 250))


def dropouts(table: Table, rng: np.random.Generator) -> None:
    for _ in range(int(rng.integers(2, 8))):
        at = _window(table, rng, rng.uniform(3, 40), after=30)
        table["hr_bpm"][at] = 0.0 if rng.random() < 0.5 else np.nan


def stuck(table: Table, rng: np.random.Generator) -> None:
    at = _window(table, rng, rng.uniform(200, 600))
    if len(at):
        table["hr_bpm"][at] = table["hr_bpm"][at[0]] + np.rint(rng.uniform(0, 12))


def false_start(table: Table, rng: np.random.Generator) -> None:
    """A dry strap counts too much until it is wet."""
    at = np.flatnonzero(table["t_s"] < rng.uniform(60, 300))
    table["hr_bpm"][at] = np.rint(np.clip(rng.normal(190, 8) + rng.normal(0, 4, len(at)), 0, 225))


def gps_jump(table: Table, rng: np.random.Generator) -> None:
    at = _window(table, rng, rng.uniform(2, 7))
    if len(at) == 0:
        return
    if "speed_mps" in table:
        table["speed_mps"][at] += rng.uniform(3, 25)
        table["distance_m"][at[0] :] += rng.uniform(20, 150)
    elif "lat_deg" in table:
        table["lat_deg"][at] += rng.uniform(30, 200) / 111000
    elif "distance_m" in table:
        table["distance_m"][at[0] :] += rng.uniform(20, 120)


def acquisition(table: Table, rng: np.random.Generator) -> None:
    """The first positions lie far off and slide into place within a minute."""
    if "lat_deg" not in table:
        return
    off, settled_s = rng.uniform(20, 150) / 111000, rng.uniform(15, 60)
    table["lat_deg"] += off * np.clip(1 - table["t_s"] / settled_s, 0, 1)


def teleports(table: Table, rng: np.random.Generator) -> None:
    """Single positions that lie elsewhere, many in an hour."""
    if "lat_deg" not in table:
        return
    at = rng.integers(30, len(table["t_s"]), int(rng.integers(3, 25)))
    table["lat_deg"][at] += rng.uniform(-1, 1, len(at)) * rng.uniform(50, 4000) / 111000


def tunnel(table: Table, rng: np.random.Generator) -> None:
    at = _window(table, rng, rng.uniform(15, 90))
    for name in ("speed_mps", "lat_deg", "lon_deg"):
        if name in table:
            table[name][at] = np.nan


def bridge(table: Table, rng: np.random.Generator) -> None:
    """A map's altitude falls into the valley under the bridge."""
    if "altitude_m" in table:
        table["altitude_m"][_window(table, rng, rng.uniform(15, 50))] -= rng.uniform(15, 40)


def lost_records(table: Table, rng: np.random.Generator) -> None:
    keep = np.ones(len(table["t_s"]), dtype=bool)
    for _ in range(int(rng.integers(1, 5))):
        keep[_window(table, rng, rng.uniform(5, 60))] = False
    for name in list(table):
        table[name] = table[name][keep]


HEART_FAULTS: tuple[Fault, ...] = (cadence_lock, spikes, dropouts, stuck, false_start)
PLACE_FAULTS: tuple[Fault, ...] = (gps_jump, tunnel, bridge, lost_records, acquisition, teleports)
