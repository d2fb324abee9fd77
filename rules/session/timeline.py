"""The clock of one recording: what a sample stands for in time, moving means and medians, unbroken stretches."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from rules.limits import Limits

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


@lru_cache(maxsize=16)
def _window_lengths(length: int, half: int) -> Floats:
    """How many rows are around each row, itself among them."""
    lengths = _window_sums(np.ones(length), half)
    lengths.flags.writeable = False
    return lengths


def rolling_mean(values: Floats, window: int, least: int = 1) -> Floats:
    """Centred mean over `window` rows (odd), NaN left out; NaN where fewer than `least` are known."""
    if len(values) == 0:
        return values.copy()
    known, half = np.isfinite(values), window // 2
    whole = bool(known.all())
    sums = _window_sums(values if whole else np.where(known, values, 0.0), half)
    count = _window_lengths(len(values), half) if whole else _window_sums(known.astype(np.float64), half)
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
    known = np.isfinite(values)
    count = _window_sums(known.astype(np.float64), half).astype(np.int64)[every // 2 :: every]
    if len(windows) == 0:
        windows, count = padded[None, :], known.sum(keepdims=True)
    ordered = np.sort(windows, axis=1)  # NaN go last
    rows = np.arange(len(ordered))
    low, high = ordered[rows, np.maximum(count - 1, 0) // 2], ordered[rows, np.minimum(count // 2, 2 * half)]
    middle = np.where(count >= max(least, 1), (low + high) / 2, np.nan)
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


Samples = Mapping[str, Floats]
PAD = 16  # empty rows at each gap, so that no window reaches over it


@dataclass(frozen=True, slots=True)
class Timeline:
    """`rows_s` has a whole second a row where the recording runs; `real` is false for the empty rows at gaps."""

    kept: Flags  # which samples of the table lie in running time
    time_s: Floats  # of the kept samples
    broken: Flags  # no running time between this sample and the next: pause or gap
    until_s: Floats  # how far the sample reaches at most: the next one, the pause, the longest gap
    rows_s: Floats
    real: Flags
    longest_gap_s: float
    limits: Limits
    sample_of_row: np.ndarray[Any, np.dtype[np.int64]] | None = None  # where every second has a sample of its own

    @property
    def seconds(self) -> float:
        """Recorded running time."""
        return float(np.sum(self.until_s - self.time_s))

    def weights(self, known: Flags) -> Floats:
        """Seconds each known sample stands for: to the next known one, ten at the most, never over a pause or gap.

        A channel that the device keeps more seldom by itself has its own longest gap.
        """
        weight = np.zeros(len(self.time_s))
        at = np.flatnonzero(known)
        if len(at) == 0:
            return weight
        longest = self._longest_gap_of(self.time_s[at])
        gaps_before = np.concatenate(([0], np.cumsum(self.broken)))
        following = np.append(at[1:], at[-1])
        unbroken = (gaps_before[following] == gaps_before[at]) & (following > at)
        to_next = np.where(unbroken, self.time_s[following] - self.time_s[at], self._rest_of_piece(at))
        weight[at] = np.clip(to_next, 0.0, longest)
        return weight

    def _longest_gap_of(self, time_s: Floats) -> float:
        return max(self.longest_gap_s, longest_gap(time_s, self.limits))

    def _rest_of_piece(self, at: np.ndarray[Any, np.dtype[np.int64]]) -> Floats:
        """Seconds from a sample to the end of its unbroken piece."""
        ends = np.flatnonzero(self.broken)
        last = np.append(ends, len(self.time_s) - 1)[np.searchsorted(ends, at)]
        return np.asarray(self.until_s[last] - self.time_s[at])

    def on_rows(self, values: Floats) -> Floats:
        """A channel a second, straight between known samples no further apart than the longest gap."""
        known = np.isfinite(values)
        if not known.any():
            return np.full(len(self.rows_s), np.nan)
        if self.sample_of_row is not None and known.all():
            return np.where(self.real, values[self.sample_of_row], np.nan)
        time, value = self.time_s[known], values[known]
        longest = self._longest_gap_of(time)
        after = np.searchsorted(time, self.rows_s, side="left")
        right = np.minimum(after, len(time) - 1)
        left = np.maximum(np.where(time[right] == self.rows_s, right, after - 1), 0)
        inside = (after < len(time)) & (time[left] <= self.rows_s) & (time[right] - time[left] <= longest)
        return np.where(self.real & inside, np.interp(self.rows_s, time, value), np.nan)

    def row_of_samples(self) -> np.ndarray[Any, np.dtype[np.int64]]:
        """The row nearest to each kept sample, at or after it."""
        return np.minimum(np.searchsorted(self.rows_s, self.time_s, side="left"), max(len(self.rows_s) - 1, 0))


def columns(samples: Samples) -> dict[str, Floats]:
    """Samples as float64 arrays, NaN where nothing was recorded."""
    return {name: np.asarray(values, dtype=np.float64) for name, values in samples.items()}


def timeline(time_s: Floats, elapsed_s: float, pauses: Sequence[tuple[float, float]], limits: Limits) -> Timeline:
    """Where the recording runs. Samples inside a pause, or whose time falls back, are left out."""
    with np.errstate(invalid="ignore"):
        kept = np.isfinite(time_s) & (time_s >= np.fmax.accumulate(np.nan_to_num(time_s, nan=-np.inf)))
    for begin, end in pauses:
        kept &= ~((time_s > begin) & (time_s < end))
    time = time_s[kept]
    longest = longest_gap(time, limits)
    if len(time) == 0:
        empty = np.zeros(0)
        return Timeline(kept, empty, empty.astype(np.bool_), empty, empty, empty.astype(np.bool_), longest, limits)
    step = np.diff(time)
    last = float(np.clip(elapsed_s - time[-1], 0.0, longest)) if np.isfinite(elapsed_s) else 0.0
    until = np.append(time[:-1] + np.minimum(step, longest), time[-1] + last)
    broken = np.append(step > longest, True)
    for begin, end in pauses:
        before = int(np.searchsorted(time, begin, side="right")) - 1
        if before >= 0 and end > begin:
            broken[before] = True
            until[before] = min(until[before], max(begin, float(time[before])))
    rows, real = _rows(time, broken)
    return Timeline(kept, time, broken, until, rows, real, longest, limits, _own_samples(time, rows, real))


def longest_gap(time: Floats, limits: Limits) -> float:
    """Ten seconds; more where the device itself keeps a record only every so often, as some do to save space."""
    longest = limits.cleaning.longest_gap_s
    usual = float(np.median(np.diff(time))) if len(time) > limits.cleaning.least_records else 0.0
    if usual <= longest:
        return longest
    return min(usual * limits.cleaning.sparse_factor, limits.cleaning.longest_sparse_gap_s)


def _own_samples(time: Floats, rows: Floats, real: Flags) -> np.ndarray[Any, np.dtype[np.int64]] | None:
    at = np.minimum(np.searchsorted(time, rows), len(time) - 1)
    return at if (time[at] == rows)[real].all() else None


def _rows(time: Floats, broken: Flags) -> tuple[Floats, Flags]:
    """Whole seconds inside the unbroken pieces, with PAD empty rows at each break."""
    first = np.ceil(time[np.concatenate(([True], broken[:-1]))])
    last = np.floor(time[broken])
    lengths = np.maximum(last - first + 1, 0).astype(np.int64)
    sizes = lengths + PAD
    total = int(sizes.sum())
    begin = np.concatenate(([0], np.cumsum(sizes)[:-1]))
    within = np.arange(total) - np.repeat(begin, sizes)
    real = within < np.repeat(lengths, sizes)
    rows = np.repeat(first, sizes) + within
    follow = np.append(first[1:], last[-1] + PAD + 1)
    piece_end = np.maximum(first + lengths - 1, first - 1)
    over = within - np.repeat(lengths, sizes) + 1
    share = over / (PAD + 1)
    span = np.repeat(np.maximum(follow - piece_end, 0.0), sizes)
    rows = np.where(real, rows, np.repeat(piece_end, sizes) + share * span)
    return rows, real
