"""Fewer points, no peak lost: the least and the greatest of each slice of time, in the order in which they came."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
SLICES = 240
"""So many slices give at most twice as many points."""
LONGEST_STEP = 30.0
"""Seconds between two known values that a line still bridges."""


def thinned(time_s: Floats, values: Floats, slices: int = SLICES) -> list[Floats]:
    """Pieces with a row (second, value) a point, broken where values are missing; at most two points a slice."""
    known = np.isfinite(values) & np.isfinite(time_s)
    time, value = time_s[known], values[known]
    if len(time) == 0:
        return []
    kept = _extremes(time, value, slices)
    gaps = np.concatenate(([0], np.cumsum(np.diff(time) > LONGEST_STEP)))
    breaks = np.flatnonzero(np.diff(gaps[kept]) > 0) + 1
    return np.split(np.column_stack((time[kept], value[kept])), breaks)


def _extremes(time: Floats, value: Floats, slices: int) -> npt.NDArray[np.int64]:
    """Indices of the first least and the first greatest value of each slice, and of the very first and last."""
    if len(time) <= 2 * slices:
        return np.arange(len(time))
    width = max((time[-1] - time[0]) / slices, 1e-9)
    slice_of = np.minimum(((time - time[0]) / width).astype(np.int64), slices - 1)
    least = np.lexsort((value, slice_of))
    greatest = np.lexsort((-value, slice_of))
    first = np.concatenate(([True], np.diff(slice_of[least]) > 0))
    return np.unique(np.concatenate((least[first], greatest[first], [0, len(time) - 1])))
