"""What a coach would call it."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from rules.session.clean import Track
from rules.session.rolling import Floats
from rules.speed_work.bouts import Bout

HILL = 0.04
STRIDE_S = 35  # with its first and last seconds
ALIKE, UNEVEN = 0.2, 0.5  # SD of the lengths over their mean: repeats are alike, a fartlek is not, and between is open


def kind_of(track: Track, hard: Floats, found: Sequence[Bout]) -> str:
    """Strides, hill repeats, repeats, a fartlek; of one stretch alone what `_kind_of_effort` says."""
    if len(found) == 1:
        return _kind_of_effort(track, hard, found[0])
    lengths = np.array([b.seconds for b in found], dtype=np.float64)
    if float(np.median([b.slope for b in found])) >= HILL:
        return "hill repeats"
    uneven = float(lengths.std() / lengths.mean())
    if uneven > ALIKE and lengths.max() > STRIDE_S:
        return "a fartlek" if uneven > UNEVEN and len(found) >= 4 else "fast running"
    return "strides" if float(np.median(lengths)) <= STRIDE_S else "repeats"


def _kind_of_effort(track: Track, hard: Floats, effort: Bout) -> str:
    """A time trial, a progression, a fast finish, a long climb, or plain fast running."""
    rows = np.flatnonzero(track.gait.running)
    if effort.slope >= HILL:
        return "a hard climb"
    share = effort.seconds / max(len(rows), 1)
    if share >= 0.7:
        return "a time trial"
    parts = [float(np.nanmean(part)) if np.isfinite(part).any() else 0.0 for part in np.array_split(hard[rows], 4)]
    if all(later > earlier * 1.02 for earlier, later in itertools.pairwise(parts)):
        return "a progression"
    if len(rows) and effort.end >= rows[-1] - 180 and share <= 0.45:
        return "a fast finish"
    return "sustained fast running" if effort.seconds >= 300 else "fast running"
