"""Cadence in steps a minute, and moving time where a file has no timer."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from monitor import words
from monitor.intake.plausible import Remarks
from monitor.intake.track import METRES_A_DEGREE, Floats
from monitor.values import Samples
from rules.limits import default_limits
from rules.session.timeline import stretches

GRID_SECONDS = 5.0
WALKS = frozenset({"walking", "hiking"})
ON_FOOT = frozenset({"running", *WALKS})
UNLABELLED = frozenset({"generic", "training"})


def in_steps(samples: Samples, sport: str, remarks: Remarks) -> Samples:
    """Cadence of one leg doubled to steps a minute, on foot and where the file has no label."""
    if (sport not in ON_FOOT and sport not in UNLABELLED) or not counts_one_leg(samples, sport):
        return samples
    remarks.add(words.files.CADENCE_DOUBLED)
    return samples | {"cadence_spm": samples["cadence_spm"] * 2}


def counts_one_leg(samples: Samples, sport: str) -> bool:
    """Whether the cadence is of strides (one leg), two steps each; devices of every format write the one or the other.

    A runner takes 140 steps or more and a walker 80 or more, so a median while moving under the limit of its pace (of
    its label, where no speed is known) can only be one leg. Without a label, a median speed that only wheels reach is
    taken for them; their turns are not steps.
    """
    cadence = samples.get("cadence_spm")
    pace = _pace(samples)
    if cadence is None or (pace == "wheels" and sport not in ON_FOOT):
        return False
    moving = cadence[cadence > 0]
    if pace == "unknown":
        pace = "walk" if sport in WALKS else "run"
    below = default_limits().intake.one_leg_below_spm
    return len(moving) > 0 and float(np.median(moving)) < below.get(pace, below["run"])


def _pace(samples: Samples) -> str:
    speed = samples.get("speed_mps")
    moving = speed[speed > default_limits().intake.standing_mps] if speed is not None else np.empty(0)
    if not len(moving):
        return "unknown"
    median = float(np.median(moving))
    if median > default_limits().intake.wheels_above_mps:
        return "wheels"
    return "walk" if median < default_limits().intake.walk_below_mps else "run"


def moving_seconds(samples: Samples, elapsed_s: float) -> float:
    """Elapsed time less the stops: stretches of `stop_seconds` or more in which the athlete stood, and longer ones in
    which the positions only drifted about one place.

    A gap in which ground was covered is lost signal and counts as moving; one that ends where it began is a stop. Where
    less than a tenth would be left, the positions tell nothing of moving (a hall, a room) and all of it counts.
    """
    distance = samples.get("distance_m")
    if distance is None:
        return elapsed_s
    known = np.flatnonzero(np.isfinite(distance))
    durations = np.diff(samples["t_s"][known])
    standing = np.diff(distance[known]) < default_limits().intake.standing_mps * durations
    standing |= _at_one_place(samples)[known[1:]]
    stops = _lengths_of_runs(standing, durations)
    stopped = float(stops[stops >= default_limits().intake.stop_seconds].sum())
    moving = elapsed_s - stopped
    return moving if moving >= 0.1 * elapsed_s else elapsed_s


def _at_one_place(samples: Samples) -> npt.NDArray[np.bool_]:
    """Points within a few minutes spent in a box of a few dozen metres: positions of a device at rest drift."""
    time_s = samples["t_s"]
    at_rest = np.zeros(len(time_s), dtype=np.bool_)
    lat, lon = samples.get("lat_deg"), samples.get("lon_deg")
    minutes, box_m = default_limits().intake.at_one_place
    if lat is None or lon is None or len(time_s) <= 1:
        return at_rest
    known = np.flatnonzero(np.isfinite(lat) & np.isfinite(lon))
    grid = np.arange(time_s[known[0]], time_s[known[-1]], GRID_SECONDS)
    rows = int(minutes * 60 / GRID_SECONDS)
    if len(grid) < rows:
        return at_rest
    after = np.clip(np.searchsorted(time_s[known], grid), 1, len(known) - 1)
    in_gap = np.diff(time_s[known])[after - 1] > default_limits().intake.stop_seconds
    north = np.interp(grid, time_s[known], lat[known]) * METRES_A_DEGREE
    east = np.interp(grid, time_s[known], np.unwrap(lon[known], period=360.0)) * METRES_A_DEGREE
    axes = tuple(np.where(in_gap, np.nan, axis) for axis in (north, east * np.cos(np.radians(lat[known[0]]))))
    sides = [np.ptp(np.lib.stride_tricks.sliding_window_view(axis, rows), axis=1) for axis in axes]
    begins = np.flatnonzero(np.nan_to_num(np.maximum(*sides), nan=np.inf) <= box_m)
    inside = np.zeros(len(grid) + 1, dtype=np.int64)
    np.add.at(inside, begins, 1)
    np.add.at(inside, begins + rows, -1)
    resting = np.cumsum(inside)[:-1] > 0
    for a, b in stretches(resting):  # on the way to the place and from it the athlete still moved
        away = np.hypot(*(axis[a:b] - np.median(axis[a:b]) for axis in axes)) > box_m / 4
        there = a + np.flatnonzero(~away) if not away.all() else np.array([a, b - 1])
        resting[a : there[0]] = resting[there[-1] + 1 : b] = False
    place = np.clip(np.rint((time_s - grid[0]) / GRID_SECONDS).astype(np.int64), 0, len(grid) - 1)
    at_rest[:] = resting[place]
    return at_rest


def _lengths_of_runs(flags: np.ndarray[tuple[int], np.dtype[np.bool_]], durations: Floats) -> Floats:
    """Seconds of each unbroken run of true flags."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    total = np.concatenate(([0.0], np.cumsum(durations)))
    lengths: Floats = total[edges[1::2]] - total[edges[::2]]
    return lengths
