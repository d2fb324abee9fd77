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

import re
from collections.abc import Sequence
from datetime import date, datetime, timedelta

import numpy as np
import numpy.typing as npt

from monitor import words
from monitor.errors import Unreadable
from monitor.intake import plausible
from monitor.intake.plausible import BOUNDS, MOST, is_plausible
from monitor.intake.track import Floats
from monitor.intake.untrusted import shown
from monitor.values import FileFacts, IntakeOptions
from rules.facts import Morning
from rules.limits import default_limits

Marks = npt.NDArray[np.bool_]

LEAST_INTERVALS = 3  # two differences
LONGEST_MS = 60000.0
MOST_ROUNDS = 5


def rmssd_after_correction(rr_ms: Sequence[float]) -> float | None:
    """RMSSD in ms of intervals as a device writes them, without artefacts.

    None with fewer than three intervals, or where artefacts leave too few. Intervals that are no heart beat's (outside
    300-2000 ms) take no part.
    """
    intervals = np.asarray(rr_ms, dtype=np.float64)
    intervals = intervals[np.isfinite(intervals) & (intervals > 0) & (intervals <= LONGEST_MS)]
    if len(intervals) < LEAST_INTERVALS:
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
    return float(np.sqrt(np.mean(differences**2))) if len(differences) >= LEAST_INTERVALS - 1 else None


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


AT_ONCE = 4096
"""Windows that are put in order together: a night has tens of thousands."""


def _quantiles(windows: npt.NDArray[np.float64], quantile: float) -> Floats:
    """Of the known values of each window, straight between two; NaN where none is known."""
    ordered = np.sort(windows, axis=1)  # NaN go last
    last = np.isfinite(ordered).sum(axis=1) - 1
    place = np.maximum(last, 0) * quantile
    low = place.astype(np.int64)
    rows = np.arange(len(ordered))
    below, above = ordered[rows, low], ordered[rows, np.minimum(low + 1, np.maximum(last, 0))]
    return np.where(last >= 0, below + (place - low) * (above - below), np.nan)


def _rolling(values: Floats, width: int, quantile: float) -> Floats:
    """Quantile of the known values around each; where none is near, that of the nearest place that has one."""
    beside = np.full(width // 2, np.nan)
    windows = np.lib.stride_tricks.sliding_window_view(np.concatenate((beside, values, beside)), 2 * len(beside) + 1)
    parts = [_quantiles(windows[begin : begin + AT_ONCE], quantile) for begin in range(0, len(values), AT_ONCE)]
    rolled = np.concatenate((*parts, np.zeros(0)))
    known = np.flatnonzero(np.isfinite(rolled))
    filled: Floats = (
        np.interp(np.arange(len(rolled)), known, rolled[known]) if len(known) else np.full(len(rolled), 0.0)
    )
    return filled


# Text files of RR intervals, one a line: milliseconds, or seconds where it is plain that they are. The day comes from
# a date in the comments or in front of the first interval, else from the file's name (YYYY-MM-DD).

__all__ = ["looks_like_rr", "read_rr", "rmssd_after_correction"]

INTERVAL = re.compile(r"\d{1,6}(?:[.,]\d{1,6})?")
STAMP = re.compile(r"\d{4}-\d{2}-\d{2}(?:[T ]\d{2}[:.]\d{2}(?:[:.]\d{2}(?:\.\d+)?)?(?:Z|[+-]\d{2}:?\d{2})?)?")
NAME_DATE = re.compile(r"(?<!\d)(\d{4})[-_.]?(\d{2})[-_.]?(\d{2})(?!\d{3,})")
COMMENT = ("#", ";", "//", "%")
DATE_LETTERS = len("2026-10-06")
SECONDS_BELOW = 10.0  # a median below this must be in seconds
LOOKED_AT_LINES = 200


def looks_like_rr(text: str) -> bool:
    """Whether the lines, comments and dates aside, are one number each."""
    lines = [line for line in (raw.strip() for raw in text.splitlines()[:LOOKED_AT_LINES]) if line]
    values = [line for line in lines if not line.startswith(COMMENT) and not STAMP.fullmatch(line)]
    numbers = sum(INTERVAL.fullmatch(line) is not None for line in values)
    return numbers > 1 and numbers >= 0.9 * (len(values) - 1)


def read_rr(name: str, text: str, options: IntakeOptions) -> FileFacts:
    """A morning's RMSSD from a file of intervals. Unreadable without a date, with too few beats, or not at rest."""
    intervals, stamp, skipped = _intervals(text)
    remarks = [words.files.LINES_LEFT_OUT.format(skipped=skipped)] if skipped else []
    if len(intervals) > MOST.beats:
        raise Unreadable(words.files.TOO_MANY_RR_INTERVALS.format(intervals=len(intervals), beats=MOST.beats))
    least_beats = default_limits().plausible.least_beats
    if len(intervals) < least_beats:
        raise Unreadable(words.files.TOO_FEW_RR_INTERVALS.format(intervals=len(intervals), least_beats=least_beats))
    if float(np.median(intervals)) < SECONDS_BELOW:
        intervals = intervals * 1000.0
    rate = 60000.0 / float(np.median(intervals))
    if not is_plausible(BOUNDS.resting_hr, rate):
        least, highest = BOUNDS.resting_hr
        raise Unreadable(words.files.RR_INTERVALS_NOT_AT_REST.format(rate=rate, least=least, highest=highest))
    day = _day(stamp, float(intervals.sum()), options.timezone) or _named_day(name)
    if day is None:
        raise Unreadable(words.files.RR_FILE_WITHOUT_DATE)
    rmssd = rmssd_after_correction(intervals.tolist())
    if rmssd is None or not is_plausible(BOUNDS.rmssd, rmssd):
        raise Unreadable(words.files.RR_INTERVALS_IRREGULAR)
    return FileFacts(kind="rr", mornings=(Morning(date=day, rmssd_ms=round(rmssd, 3)),), remarks=tuple(remarks))


def _intervals(text: str) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], str | None, int]:
    """The intervals, the first date found beside them, and how many lines were neither."""
    values: list[float] = []
    stamp: str | None = None
    skipped = 0
    for line in (raw.strip() for raw in text.splitlines()):
        if INTERVAL.fullmatch(line):
            values.append(float(line.replace(",", ".")))
        elif (found := STAMP.search(line)) is not None:
            stamp = stamp or found[0]
        elif line and not line.startswith(COMMENT):
            skipped += 1
    return np.array(values, dtype=np.float64), stamp, skipped


def _day(stamp: str | None, length_ms: float, timezone: str) -> date | None:
    """The local day on which the recording ended: a night's recording counts for its morning."""
    if stamp is None:
        return None
    on, clock = stamp[:DATE_LETTERS], stamp[DATE_LETTERS + 1 :].replace(".", ":", 2)
    began = plausible.parsed(f"{on}T{clock}" if clock else on)
    if began is None:
        return None
    if not clock:
        return began.date()
    return plausible.local_date(plausible.in_utc(began, timezone) + timedelta(milliseconds=length_ms), timezone)


def _named_day(name: str) -> date | None:
    for year, month, day in NAME_DATE.findall(shown(name.rpartition("/")[2], 255)):
        least, most = BOUNDS.year
        try:
            found = datetime(int(year), int(month), int(day))  # noqa: DTZ001 - only its date is used
        except ValueError:
            continue
        if least <= found.year <= most:
            return found.date()
    return None
