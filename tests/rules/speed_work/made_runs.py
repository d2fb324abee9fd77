"""Invented recordings of runs with the errors that devices make, and what is told of them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from rules.facts import Digest, SampleContext, Session, Threshold
from rules.findings import Breach
from rules.limits import default_limits
from rules.session.digest import digest
from rules.session.heart import followed
from rules.session_rules import judge_samples

LIMITS = default_limits()
START = datetime(2026, 10, 20, 16, tzinfo=UTC)
THRESHOLD_MPS = 3.85
EASY_MPS = 2.7
Floats = np.ndarray
Table = dict[str, np.ndarray]


def smooth_noise(rng: np.random.Generator, size: int, tau_s: float) -> Floats:
    """Noise of unit variance that errs in the same way for so many seconds."""
    kernel = np.exp(-np.arange(0, 6 * tau_s) / tau_s)
    made = np.convolve(rng.normal(size=size + len(kernel)), kernel, "valid")[:size]
    return np.asarray(made / np.sqrt(np.sum(kernel**2)))


def run(*pieces: tuple[float, float], wander: float = 0.0) -> Floats:
    """Speeds a second of (seconds, m/s) pieces."""
    speed = np.concatenate([np.full(int(seconds), mps) for seconds, mps in pieces])
    return speed * (1 + wander * np.sin(np.arange(len(speed)) / 40))


def heart(effort: Floats, easy_bpm: float = 135.0) -> Floats:
    """What a heart makes of it, from rest."""
    level = followed(np.concatenate((np.zeros(400), effort)))[400:]
    return np.rint(easy_bpm + 24 * (level - EASY_MPS))


def by_device(speed: Floats, **more: Floats) -> Table:
    """A watch that tells its own speed every second."""
    t = np.arange(float(len(speed)))
    table = {"t_s": t, "speed_mps": speed, "distance_m": np.cumsum(speed), "hr_bpm": heart(speed)} | more
    return {name: values for name, values in table.items() if values is not None}


def by_positions(speed: Floats, error_m: float, every: int, seed: int, **more: Floats) -> Table:
    """A phone that keeps a position every few seconds, wrong by metres that wander."""
    rng = np.random.default_rng(seed)
    size = len(speed)
    east = np.cumsum(speed) + error_m * smooth_noise(rng, size, 12)
    north = error_m * smooth_noise(rng, size, 12)
    table: Table = {
        "t_s": np.arange(float(size)),
        "lat_deg": 60.0 + np.degrees(north / 6371008.8),
        "lon_deg": 10.0 + np.degrees(east / 6371008.8 / np.cos(np.radians(60.0))),
        "hr_bpm": heart(speed),
    } | more
    return {name: values[::every] for name, values in table.items() if values is not None}


def made(table: Table, pauses: tuple[tuple[float, float], ...] = ()) -> tuple[Digest, Session]:
    size = float(table["t_s"][-1]) + 1
    timer = size - sum(b - a for a, b in pauses)
    one = digest("running", "generic", timer, size, pauses, table, LIMITS)
    end = START + timedelta(seconds=size)
    session = Session("key", START, end, "running", "generic", timer, size, None, None, one, pauses=pauses)
    return one, session


def findings(
    table: Table, threshold: float | None = THRESHOLD_MPS, pauses: tuple[tuple[float, float], ...] = ()
) -> dict[str, Breach]:
    known = None if threshold is None else Threshold(threshold, "roster", "high")
    _, session = made(table, pauses)
    context = SampleContext(None, "none", True, known)
    return {one.rule: one for one in judge_samples(session, table, context, LIMITS)}


def told(
    table: Table, threshold: float | None = THRESHOLD_MPS, **more: tuple[tuple[float, float], ...]
) -> Breach | None:
    return findings(table, threshold, **more).get("no_speed_work")


BOTH = pytest.mark.parametrize("threshold", [THRESHOLD_MPS, None])
REPEATS = run((900, EASY_MPS), *[(90, 4.3), (120, 2.4)] * 6, (400, EASY_MPS))
STRIDES = run((900, EASY_MPS), *[(20, 4.9), (70, 2.5)] * 6, (400, EASY_MPS))
