"""Cadence in steps a minute, and moving time where a file has no timer."""

from __future__ import annotations

import numpy as np

from monitor.intake.facts import Samples
from monitor.intake.geodesy import Floats
from monitor.intake.remarks import Remarks
from rules.limits import default_limits

ON_FOOT = frozenset({"running", "walking", "hiking"})
UNLABELLED = frozenset({"generic", "training"})
WALK_BELOW_MPS = 2.0
WHEELS_ABOVE_MPS = 5.5
ONE_LEG_BELOW_SPM = {"walk": 78.0, "run": 115.0, "unknown": 110.0}


def in_steps(samples: Samples, sport: str, remarks: Remarks) -> Samples:
    """Cadence of one leg doubled to steps a minute, on foot and where the file has no label.

    Devices write either strides (one leg) or steps. A runner takes 140 steps or more and a walker 80 or more, so a
    median while moving under 115 (running pace), 78 (walking pace) or 110 (pace unknown) can only be one leg. Without
    a label, a median speed over 5.5 m/s is taken for wheels, whose turns are not steps.
    """
    cadence = samples.get("cadence_spm")
    if cadence is None or (sport not in ON_FOOT and sport not in UNLABELLED):
        return samples
    pace = _pace(samples)
    moving = cadence[cadence > 0]
    if not len(moving) or (pace == "wheels" and sport not in ON_FOOT):
        return samples
    if float(np.median(moving)) >= ONE_LEG_BELOW_SPM.get(pace, ONE_LEG_BELOW_SPM["run"]):
        return samples
    remarks.add("cadence was of one leg and is doubled to steps a minute")
    return samples | {"cadence_spm": cadence * 2}


def _pace(samples: Samples) -> str:
    speed = samples.get("speed_mps")
    moving = speed[speed > default_limits().number("intake.standing_mps")] if speed is not None else np.empty(0)
    if not len(moving):
        return "unknown"
    median = float(np.median(moving))
    if median > WHEELS_ABOVE_MPS:
        return "wheels"
    return "walk" if median < WALK_BELOW_MPS else "run"


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
