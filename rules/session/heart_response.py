"""The heart's answer: how much of the rise that an effort asks for is found in the heart rate.

Heart rate answers running speed with about 24 bpm per m/s and a time constant of 57 s (Hunt 2015). What a stretch of
speed, or a climb, should have done to it is held against what it did, by regression: 1 is the whole answer, 0 none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rules.limits import Limits
from rules.session.timeline import Floats

TAU_S = 57.0  # of the published answer: 55.7 and 59.5 s (Hunt 2015)
UNMOVED = 1e-3  # SD of a cause that is a constant, but for rounding


@dataclass(frozen=True, slots=True)
class HeartAnswer:
    """Share of the expected answer that was given, its standard error, the expected swing, the share of known rows."""

    share: float
    error: float
    swing_bpm: float
    known: float

    def given(self, least: float) -> bool | None:
        """Surely given, surely not, or None where the error leaves it open."""
        if self.share - 2 * self.error >= least:
            return True
        return False if self.share + 2 * self.error <= least else None


def followed(speed: Floats) -> Floats:
    """What a first-order follower with the heart's time constant makes of it."""
    kernel = np.exp(-np.arange(0.0, 6 * TAU_S) / TAU_S)
    kernel /= kernel.sum()
    before = np.full(len(kernel), speed[0])
    return np.asarray(np.convolve(np.concatenate((before, speed)), kernel)[len(kernel) : len(kernel) + len(speed)])


def heart_answer(
    heart: Floats, cause: Floats, beside: Sequence[Floats], window: slice, limits: Limits
) -> HeartAnswer | None:
    """Of `cause` (m/s a row), beside the answer to other causes, the start of a session and a slow drift.

    None where too little heart rate is known in the window.
    """
    if len(cause) == 0:
        return None
    gain, block = limits.cleaning.hr_gain, limits.heart_response.block_s
    rows = np.arange(len(cause), dtype=np.float64)
    asked = gain * followed(cause)
    others = [gain * followed(other) for other in beside]
    table = np.column_stack((asked, *others, np.exp(-rows / (2 * TAU_S)), rows / 3600.0))[window]
    known = np.isfinite(heart[window])
    if known.sum() < 4 * block:
        return None
    table, observed = table[known], heart[window][known]
    used = [0, *[column for column in range(1, table.shape[1]) if table[:, column].std() > UNMOVED]]
    design = np.column_stack((table[:, used], np.ones(len(observed))))
    is_drift = np.array([*(column == table.shape[1] - 1 for column in used), False])
    usual = limits.heart_response.scatter_bpm / limits.heart_response.drift_bpm_per_h
    prior = np.where(is_drift, block * usual**2, 0.0)
    inverse = np.linalg.pinv(design.T @ design + np.diag(prior))
    found = inverse @ (design.T @ observed)
    left = observed - design @ found
    free = max(len(observed) / block - design.shape[1], 1.0)
    error = float(np.sqrt(max(float(left @ left) / free * inverse[0, 0], 0.0)))
    swing = float(asked[window].max() - asked[window].min())
    return HeartAnswer(float(found[0]), error, swing, float(known.mean()))
