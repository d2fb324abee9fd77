"""Text files of RR intervals, one a line: milliseconds, or seconds where it is plain that they are.

The day comes from a date in the comments or in front of the first interval, else from the file's name (YYYY-MM-DD).
A name is never identity, but it may carry a date.
"""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta

import numpy as np

from monitor.errors import Unreadable
from monitor.intake import moments
from monitor.intake.beats import rmssd_after_correction
from monitor.intake.facts import FileFacts, IntakeOptions
from monitor.intake.plausible import BOUNDS, MOST, is_plausible
from monitor.intake.shown import shown
from rules.facts import Morning
from rules.limits import default_limits

__all__ = ["looks_like_rr", "read_rr", "rmssd_after_correction"]

INTERVAL = re.compile(r"\d{1,6}(?:[.,]\d{1,6})?")
STAMP = re.compile(r"\d{4}-\d{2}-\d{2}(?:[T ]\d{2}[:.]\d{2}(?:[:.]\d{2}(?:\.\d+)?)?(?:Z|[+-]\d{2}:?\d{2})?)?")
NAME_DATE = re.compile(r"(?<!\d)(\d{4})[-_.]?(\d{2})[-_.]?(\d{2})(?!\d{3,})")
COMMENT = ("#", ";", "//", "%")
SECONDS_BELOW = 10.0  # a median of so little can only be seconds
LOOKED_AT_LINES = 200


def looks_like_rr(text: str) -> bool:
    """Whether the lines, comments and dates aside, are one number each."""
    lines = [line for line in (raw.strip() for raw in text.splitlines()[:LOOKED_AT_LINES]) if line]
    values = [line for line in lines if not line.startswith(COMMENT) and not STAMP.fullmatch(line)]
    numbers = sum(INTERVAL.fullmatch(line) is not None for line in values)
    return numbers >= 2 and numbers >= 0.9 * (len(values) - 1)


def read_rr(name: str, text: str, options: IntakeOptions) -> FileFacts:
    """A morning's RMSSD from a file of intervals. Unreadable without a date, with too few beats, or not at rest."""
    intervals, stamp, skipped = _intervals(text)
    remarks = [f"{skipped} lines left out: no interval"] if skipped else []
    if len(intervals) > MOST.beats:
        raise Unreadable(f"{len(intervals)} RR intervals: more than the {MOST.beats} of two days")
    least_beats = default_limits().plausible.least_beats
    if len(intervals) < least_beats:
        raise Unreadable(f"{len(intervals)} RR intervals: at least {least_beats} are needed, about a minute")
    if float(np.median(intervals)) < SECONDS_BELOW:
        intervals = intervals * 1000.0
    rate = 60000.0 / float(np.median(intervals))
    if not is_plausible(BOUNDS.resting_hr, rate):
        least, highest = BOUNDS.resting_hr
        raise Unreadable(f"RR intervals at {rate:.0f} beats a minute: not at rest ({least:g} to {highest:g})")
    day = _day(stamp, float(intervals.sum()), options.timezone) or _named_day(name)
    if day is None:
        raise Unreadable("no date: put a first line such as '# 2026-10-06', or the date into the file's name")
    rmssd = rmssd_after_correction(intervals.tolist())
    if rmssd is None or not is_plausible(BOUNDS.rmssd, rmssd):
        raise Unreadable("RR intervals too irregular to take an RMSSD from")
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
    text = stamp if len(stamp) <= 10 else stamp[:10] + "T" + stamp[11:].replace(".", ":", 2)
    began = moments.parsed(text)
    if began is None:
        return None
    if len(stamp) <= 10:
        return began.date()
    return moments.local_date(moments.in_utc(began, timezone) + timedelta(milliseconds=length_ms), timezone)


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
