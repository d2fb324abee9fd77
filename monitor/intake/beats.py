"""RMSSD from intervals between heart beats, after the artefacts are corrected.

The correction is that of Lipponen and Tarvainen (2019, J Med Eng Technol 43:173): beats are told apart by how their
interval differs from the one before (dRR) and from the median of 11 (mRR), against thresholds that move with the
quartiles of 91 beats. A compact version of our own, because the libraries that have it bring hundreds of megabytes of
plotting and statistics; the tests hold it against neurokit2, which implements the same paper. A plain "20 % off the one
before" would delete one real beat in thirteen of a calm heart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor.intake.geodesy import Floats
from monitor.intake.plausible import bounds

Indices = npt.NDArray[np.int64]

ALPHA = 5.2  # quartile deviations; this and the next four are the paper's
QUARTILE_BEATS = 91
MEDIAN_BEATS = 11
C1, C2 = 0.13, 0.17
FAR_FROM_MEDIAN = 3.0
LEAST_TO_CORRECT = 30  # fewer beats have no spread to measure by, and real ones would be "corrected"
LONGEST_MS = 60000.0
MOST_ROUNDS = 20


@dataclass(frozen=True, slots=True)
class Artefacts:
    """Indices of beats that are wrong, by what is wrong with them."""

    extra: Indices
    missed: Indices  # a beat is missing before this one
    ectopic: Indices
    shifted: Indices  # too long or too short

    def __len__(self) -> int:
        return len(self.extra) + len(self.missed) + len(self.ectopic) + len(self.shifted)


def rmssd_after_correction(rr_ms: Sequence[float]) -> float | None:
    """RMSSD in ms of intervals as a device writes them; None with fewer than three.

    Intervals that are no heart beat's even after correction (outside 300-2000 ms) take no part.
    """
    intervals = np.asarray(rr_ms, dtype=np.float64)
    intervals = intervals[np.isfinite(intervals) & (intervals > 0) & (intervals <= LONGEST_MS)]
    if len(intervals) < 3:
        return None
    least, most = bounds("rr")
    nn = np.diff(corrected(np.concatenate(([0.0], np.cumsum(intervals)))))
    return rmssd(np.where((nn >= least) & (nn <= most), nn, np.nan))


def rmssd(nn_ms: Floats) -> float | None:
    """Root mean square of successive differences (Task Force 1996), over those where both intervals are known."""
    differences = np.diff(nn_ms)
    differences = differences[np.isfinite(differences)]
    return float(np.sqrt(np.mean(differences**2))) if len(differences) >= 2 else None


def corrected(beats_ms: Floats) -> Floats:
    """Times of the beats with artefacts corrected, again and again as long as there are fewer each time."""
    found = artefacts(beats_ms)
    beats_ms = _mended(found, beats_ms)
    for _ in range(MOST_ROUNDS):
        left = artefacts(beats_ms)
        if len(left) >= len(found):
            break
        found, beats_ms = left, _mended(left, beats_ms)
    return beats_ms


def artefacts(beats_ms: Floats) -> Artefacts:
    """Beats that are extra, missing, ectopic, or too long or short (figure 1 of the paper)."""
    if len(beats_ms) <= LEAST_TO_CORRECT:
        none = np.empty(0, np.int64)
        return Artefacts(none, none, none, none)
    rr = np.concatenate(([np.mean(np.diff(beats_ms))], np.diff(beats_ms)))
    drr = np.concatenate(([0.0], np.diff(rr)))
    drr[0] = np.mean(drr[1:])
    drr = _over(drr, _threshold(drr))
    median = _rolling(rr, MEDIAN_BEATS, 0.5)
    mrr = rr - median
    mrr[mrr < 0] *= 2
    limit = _threshold(mrr)
    return _classified(rr, drr, median, _over(mrr, limit), limit)


def _classified(rr: Floats, drr: Floats, median: Floats, mrr: Floats, limit: Floats) -> Artefacts:
    before, after, second = _neighbours(drr)
    up = drr > 0
    s12 = np.where(up, np.maximum(before, after), np.minimum(before, after))
    s22 = np.where(drr >= 0, np.minimum(after, second), np.maximum(after, second))
    is_ectopic = ((drr > 1) & (s12 < -C1 * drr - C2)) | ((drr < -1) & (s12 > -C1 * drr + C2))
    is_long, is_short = (drr > 1) & (s22 < -1), (drr < -1) & (s22 > 1)
    is_off = is_long | is_short | (np.abs(mrr) > FAR_FROM_MEDIAN)
    following = np.concatenate((rr[1:], [np.nan]))
    is_extra = is_short & (np.abs(rr + following - median) < limit)
    is_missed = is_long & (np.abs(rr / 2 - median) < limit)
    extra: list[int] = []
    missed: list[int] = []
    ectopic: list[int] = []
    shifted: list[int] = []
    done = -1
    for i in np.flatnonzero(np.abs(drr[:-2]) > 1).tolist():
        if i <= done:
            continue
        if is_ectopic[i]:
            ectopic.append(i)
            continue
        candidates = [i, i + 1] if abs(drr[i + 1]) < abs(drr[i + 2]) else [i]
        done = candidates[-1]
        for j in candidates:
            if is_off[j]:
                (extra if is_extra[j] else missed if is_missed[j] else shifted).append(j)
    return Artefacts(*(np.array(sorted(set(found)), np.int64) for found in (extra, missed, ectopic, shifted)))


def _neighbours(drr: Floats) -> tuple[Floats, Floats, Floats]:
    """The value before, after and the second after; at the ends those on the other side stand in."""
    padded = np.pad(drr, 2, "reflect")
    return padded[1:-3], padded[3:-1], padded[4:]


def _threshold(values: Floats) -> Floats:
    """5.2 quartile deviations of the 91 values around each."""
    size = np.abs(values)
    return ALPHA * (_rolling(size, QUARTILE_BEATS, 0.75) - _rolling(size, QUARTILE_BEATS, 0.25)) / 2


def _over(values: Floats, threshold: Floats) -> Floats:
    """Values in units of their threshold; NaN where there is no spread to measure by."""
    scaled: Floats = np.divide(values, threshold, out=np.full(len(values), np.nan), where=threshold != 0)
    return scaled


def _rolling(values: Floats, width: int, quantile: float) -> Floats:
    import polars as pl  # noqa: PLC0415 - only where beats are read

    series = pl.Series(values).rolling_quantile(quantile, "linear", window_size=width, min_samples=1, center=True)
    rolled: Floats = series.to_numpy().astype(np.float64)
    return rolled


def _mended(found: Artefacts, beats: Floats) -> Floats:
    """Extra beats out, missing ones put in the middle, the others moved to the middle of their neighbours."""
    missed, ectopic, shifted = found.missed, found.ectopic, found.shifted
    if len(found.extra):
        beats = np.delete(beats, found.extra)
        missed, ectopic, shifted = (_moved(found.extra, one, -1) for one in (missed, ectopic, shifted))
    missed = missed[(missed > 1) & (missed < len(beats))]
    if len(missed):
        beats = np.insert(beats, missed, (beats[missed - 1] + beats[missed]) / 2)
        ectopic, shifted = (_moved(missed, one, 1) for one in (ectopic, shifted))
    for wrong in (ectopic, shifted):
        inner = wrong[(wrong > 1) & (wrong < len(beats) - 1)]
        middles = (beats[inner - 1] + beats[inner + 1]) / 2
        beats = beats.copy()
        beats[inner] = middles
        beats.sort()
    return beats


def _moved(at: Indices, others: Indices, by: int) -> Indices:
    return others + by * np.searchsorted(at, others, side="left")
