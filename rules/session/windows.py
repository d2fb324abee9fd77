"""Means and medians over a moving window that know what is missing, and unbroken stretches of a condition."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

# Means and medians over a moving window that know what is missing.

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]


def mostly(flags: Flags) -> bool:
    """Whether more than half of them are set; false of none at all."""
    return bool(2 * flags.sum() > len(flags))


def _window_sums(values: Floats, half: int) -> Floats:
    """Sum of the rows around each row, shorter at both ends."""
    sums = np.cumsum(values)
    padded = np.concatenate((np.zeros(half + 1), sums, np.full(half, sums[-1])))
    return np.asarray(padded[2 * half + 1 :] - padded[: len(values)])


def rolling_mean(values: Floats, window: int, least: int = 1) -> Floats:
    """Centred mean over `window` rows (odd), NaN left out; NaN where fewer than `least` are known."""
    if len(values) == 0:
        return values.copy()
    known, half = np.isfinite(values), window // 2
    sums = _window_sums(np.where(known, values, 0.0), half)
    count = _window_sums(known.astype(np.float64), half)
    return np.where(count >= max(least, 1) - 0.5, sums / np.maximum(count, 1.0), np.nan)


def rolling_median(values: Floats, window: int, least: int = 1, every: int = 1) -> Floats:
    """Centred median over `window` rows (odd), NaN left out; NaN where fewer than `least` are known.

    With `every`, it is taken at each so many rows only and stands for the rows around.
    """
    if len(values) == 0:
        return values.copy()
    half = window // 2
    padded = np.concatenate((np.full(half, np.nan), values, np.full(half, np.nan)))
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1)[every // 2 :: every]
    if len(windows) == 0:
        windows = padded[None, :]
    ordered = np.sort(windows, axis=1)  # NaN go last
    count = np.isfinite(ordered).sum(axis=1)
    rows = np.arange(len(ordered))
    low, high = ordered[rows, np.maximum(count - 1, 0) // 2], ordered[rows, np.minimum(count // 2, 2 * half)]
    middle = np.where(count >= max(least, 1), np.where(count % 2 == 1, low, (low + high) / 2), np.nan)
    if every == 1:
        return np.asarray(middle)
    return np.asarray(middle[np.minimum(np.arange(len(values)) // every, len(middle) - 1)])


def trailing_mean(values: Floats, window: int, share_known: float = 0.95) -> Floats:
    """Mean over the `window` rows that end at each row; NaN where too few of them are known."""
    known = np.isfinite(values)
    sums = np.concatenate(([0.0], np.cumsum(np.where(known, values, 0.0))))
    counts = np.concatenate(([0], np.cumsum(known)))
    mean = np.full(len(values), np.nan)
    if window > len(values):
        return mean
    count = counts[window:] - counts[:-window]
    with np.errstate(invalid="ignore", divide="ignore"):
        over = (sums[window:] - sums[:-window]) / count
    mean[window - 1 :] = np.where(count >= share_known * window, over, np.nan)
    return mean


def held(values: Floats) -> Floats:
    """Each missing value as the last known one before it; leading ones as the first known."""
    known = np.flatnonzero(np.isfinite(values))
    if len(known) == 0:
        return values.copy()
    at = np.searchsorted(known, np.arange(len(values)), side="right") - 1
    return np.asarray(values[known[np.maximum(at, 0)]])


def spread(values: Floats) -> float:
    """Robust standard deviation: 1.4826 x median absolute deviation; 0 where nothing is known."""
    known = values[np.isfinite(values)]
    if len(known) == 0:
        return 0.0
    return float(1.4826 * np.median(np.abs(known - np.median(known))))


# Unbroken stretches of a condition over rows of a track, and how they read as times.

Stretch = tuple[int, int]
"""Rows from (included) and to (left out)."""


def stretches(flags: Flags, bridge: int = 0, least: int = 1) -> list[Stretch]:
    """Stretches where the flag is set, joined over breaks of up to `bridge` rows, of `least` rows or more."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False])).astype(np.int8)))
    starts, ends = edges[::2], edges[1::2]
    if len(starts) == 0:
        return []
    apart = starts[1:] - ends[:-1] > bridge
    starts = starts[np.concatenate(([True], apart))]
    ends = ends[np.concatenate((apart, [True]))]
    long = ends - starts >= least
    return [(int(a), int(b)) for a, b in zip(starts[long], ends[long], strict=True)]


def flagged(size: int, spans: Sequence[Stretch]) -> Flags:
    """The stretches as flags again."""
    flags = np.zeros(size, dtype=np.bool_)
    for a, b in spans:
        flags[a:b] = True
    return flags


def as_times(spans: Sequence[Stretch], time_s: Floats, most: int = 40) -> list[list[float]]:
    """[[from_s, to_s], ...] of the longest stretches, in the order of time."""
    kept = sorted(sorted(spans, key=lambda span: span[0] - span[1])[:most])
    return [[round(float(time_s[a]), 1), round(float(time_s[b - 1]) + 1.0, 1)] for a, b in kept]
