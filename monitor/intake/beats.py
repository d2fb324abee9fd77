"""RMSSD from intervals between heart beats, over those that are between normal beats.

An interval that an artefact made is left out with the differences that touch it; nothing is put in its place, since an
invented beat makes the heart calmer than it was. What is an artefact is told by its shape:

- a notch: an interval shorter than usual and far shorter than both its neighbours, against the spread of such second
  differences nearby; an early (ectopic) beat and the pause after it, or a beat found too late;
- a pair of intervals that together are hardly more than one: a beat found where there is none;
- an interval of well over one and a half: one beat or several were missed.

A heart does slow down within a beat, by half again in a calm young one, so a long interval alone is no artefact; it
does not quicken so. The published correction of Lipponen and Tarvainen (2019, J Med Eng Technol 43:173) was measured
against invented series of known RMSSD and is not used: as libraries have it, it moves a good beat beside each ectopic
one, which raises a low RMSSD by half and more. The tests hold this one against the same truth.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from monitor.intake.geodesy import Floats
from monitor.intake.plausible import BOUNDS
from rules.limits import default_limits

Marks = npt.NDArray[np.bool_]

LONGEST_MS = 60000.0
MOST_ROUNDS = 5


def rmssd_after_correction(rr_ms: Sequence[float]) -> float | None:
    """RMSSD in ms of intervals as a device writes them, without artefacts.

    None with fewer than three intervals, or where artefacts leave too few. Intervals that are no heart beat's (outside
    300-2000 ms) take no part.
    """
    intervals = np.asarray(rr_ms, dtype=np.float64)
    intervals = intervals[np.isfinite(intervals) & (intervals > 0) & (intervals <= LONGEST_MS)]
    if len(intervals) < 3:
        return None
    least, most = BOUNDS.rr
    wrong = artefacts(intervals) | (intervals < least) | (intervals > most)
    differences = np.diff(np.where(wrong, np.nan, intervals))
    if np.isnan(differences).mean() > default_limits().beats.most_left_out_share:
        return None
    return rmssd(np.where(wrong, np.nan, intervals))


def rmssd(nn_ms: Floats) -> float | None:
    """Root mean square of successive differences (Task Force 1996), over those where both intervals are known."""
    differences = np.diff(nn_ms)
    differences = differences[np.isfinite(differences)]
    return float(np.sqrt(np.mean(differences**2))) if len(differences) >= 2 else None


def artefacts(rr_ms: Floats) -> Marks:
    """Which intervals an artefact made; none where there are too few to know what is usual."""
    wrong = np.zeros(len(rr_ms), dtype=bool)
    if len(rr_ms) < default_limits().beats.least_beats:
        return wrong
    for _ in range(MOST_ROUNDS):
        known = np.where(wrong, np.nan, rr_ms)
        usual = _rolling(known, default_limits().beats.usual_beats, 0.5)
        found = _too_long_or_doubled(known, usual)
        found |= _notches(np.where(found, np.nan, known), usual)
        if not (found & ~wrong).any():
            break
        wrong |= found
    return wrong


def _too_long_or_doubled(rr_ms: Floats, usual: Floats) -> Marks:
    """Intervals over a missed beat, and pairs of which an extra beat made two of one."""
    found: Marks = rr_ms > default_limits().beats.missed_share * usual
    doubled = np.flatnonzero(rr_ms[:-1] + rr_ms[1:] < default_limits().beats.doubled_share * usual[:-1])
    found[doubled] = found[doubled + 1] = True
    return found


def _notches(rr_ms: Floats, usual: Floats) -> Marks:
    """Intervals far under both neighbours, with the one after, and with the one before where it is off as well."""
    depths = np.full(len(rr_ms), np.nan)
    depths[1:-1] = rr_ms[:-2] - 2 * rr_ms[1:-1] + rr_ms[2:]
    spread = _rolling(np.abs(depths), default_limits().beats.spread_beats, 0.75)
    least = np.maximum(default_limits().beats.notch * spread, default_limits().beats.least_notch_ms)
    at = np.flatnonzero((depths > least) & (rr_ms < usual))
    off = np.abs(rr_ms - usual)
    early = at[off[at - 1] > off[at] / 2] - 1
    found = np.zeros(len(rr_ms), dtype=bool)
    found[at] = found[at + 1] = found[early] = True
    return found


def _rolling(values: Floats, width: int, quantile: float) -> Floats:
    """Quantile of the known values around each; where none is near, that of the nearest place that has one."""
    import polars as pl  # noqa: PLC0415 - only where beats are read

    series = pl.Series(values, nan_to_null=True)
    rolled = series.rolling_quantile(quantile, "linear", window_size=width, min_samples=1, center=True).to_numpy()
    known = np.flatnonzero(np.isfinite(rolled))
    filled: Floats = (
        np.interp(np.arange(len(rolled)), known, rolled[known]) if len(known) else np.full(len(rolled), 0.0)
    )
    return filled
