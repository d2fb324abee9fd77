"""Cadence in steps a minute, and moving time where a file has no timer."""

from __future__ import annotations

import numpy as np

from monitor.intake.facts import Samples
from monitor.intake.geodesy import Floats
from monitor.intake.remarks import Remarks
from rules.limits import default_limits

ON_FOOT = frozenset({"running", "walking", "hiking"})
UNLABELLED = frozenset({"generic", "training"})


def in_steps(samples: Samples, sport: str, remarks: Remarks) -> Samples:
    """Cadence of one leg doubled to steps a minute, on foot and where the file has no label.

    Devices write either strides (one leg) or steps. A runner takes 140 steps or more and a walker 80 or more, so a
    median while moving under the limit of its pace can only be one leg. Without a label, a median speed that only
    wheels reach is taken for them; their turns are not steps.
    """
    cadence = samples.get("cadence_spm")
    if cadence is None or (sport not in ON_FOOT and sport not in UNLABELLED):
        return samples
    pace = _pace(samples)
    moving = cadence[cadence > 0]
    if not len(moving) or (pace == "wheels" and sport not in ON_FOOT):
        return samples
    below = default_limits().value("intake.one_leg_below_spm")
    if float(np.median(moving)) >= below.get(pace, below["run"]):
        return samples
    remarks.add("cadence was of one leg and is doubled to steps a minute")
    return samples | {"cadence_spm": cadence * 2}


def _pace(samples: Samples) -> str:
    speed = samples.get("speed_mps")
    moving = speed[speed > default_limits().number("intake.standing_mps")] if speed is not None else np.empty(0)
    if not len(moving):
        return "unknown"
    median = float(np.median(moving))
    if median > default_limits().number("intake.wheels_above_mps"):
        return "wheels"
    return "walk" if median < default_limits().number("intake.walk_below_mps") else "run"


def moving_seconds(samples: Samples, elapsed_s: float) -> float:
    """Elapsed time less the stops: stretches of `stop_seconds` or more in which the athlete stood.

    A gap in which ground was covered is lost signal and counts as moving; one that ends where it began is a stop. Where
    less than a tenth would be left, the positions tell nothing of moving (a hall, a room) and all of it counts.
    """
    distance = samples.get("distance_m")
    if distance is None:
        return elapsed_s
    known = np.flatnonzero(np.isfinite(distance))
    durations = np.diff(samples["t_s"][known])
    standing = np.diff(distance[known]) < default_limits().number("intake.standing_mps") * durations
    stops = _lengths_of_runs(standing, durations)
    stopped = float(stops[stops >= default_limits().number("intake.stop_seconds")].sum())
    moving = elapsed_s - stopped
    return moving if moving >= 0.1 * elapsed_s else elapsed_s


def _lengths_of_runs(flags: np.ndarray[tuple[int], np.dtype[np.bool_]], durations: Floats) -> Floats:
    """Seconds of each unbroken run of true flags."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    total = np.concatenate(([0.0], np.cumsum(durations)))
    lengths: Floats = total[edges[1::2]] - total[edges[::2]]
    return lengths
