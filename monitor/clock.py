"""What time it is, as a seam: the real clock, or one that stands at --as-of; data of the zones; quiet hours."""

from __future__ import annotations

import os
import zoneinfo
from collections.abc import Sequence
from contextlib import suppress
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from time import monotonic
from typing import Protocol
from zoneinfo import ZoneInfo

import tzdata


class Clock(Protocol):
    def now(self) -> datetime:
        """The moment for judging, quiet hours and lateness; aware, UTC."""
        ...

    def monotonic(self) -> float:
        """Seconds that never run backwards, for waits and pauses between tries."""
        ...


class SystemClock:
    def now(self) -> datetime:
        return datetime.now(UTC)

    def monotonic(self) -> float:
        return monotonic()


class FixedClock:
    """Judges as of one moment; pauses still use the real clock."""

    def __init__(self, as_of: datetime) -> None:
        self._as_of = as_of.astimezone(UTC)

    def now(self) -> datetime:
        return self._as_of

    def monotonic(self) -> float:
        return monotonic()


def use_newest_zones() -> None:
    """Take the system's data of time zones or the package's, whichever is newer, so that all machines agree on a day.

    Python takes the system's wherever there is any, however old. What PYTHONTZPATH names is left as it is.
    """
    if "PYTHONTZPATH" not in os.environ:
        zoneinfo.reset_tzpath(to=newest_zones(zoneinfo.TZPATH, tzdata.IANA_VERSION))


def newest_zones(folders: Sequence[str], packaged: str) -> tuple[str, ...]:
    """The folders whose data are newer than the package's ("2026f"); none where it is as new or nothing tells."""
    return tuple(folder for folder in folders if _version(Path(folder)) > packaged)


def _version(folder: Path) -> str:
    """As the first line of `tzdata.zi` says it: "# version 2025b"; empty where nothing does."""
    with suppress(OSError), (folder / "tzdata.zi").open(encoding="ascii", errors="replace") as file:
        first, _, version = file.readline().partition("# version ")
        return "" if first else version.strip()
    return ""


# Quiet hours on the athlete's clock; they may cross midnight, and the two nights a year when clocks change.

Span = tuple[time, time]


def quiet_until(now: datetime, quiet: Span | None, zone: ZoneInfo) -> datetime | None:
    """The end of the quiet hours that `now` lies in, in UTC; None when it lies in none."""
    if quiet is None:
        return None
    begin, end = quiet
    today = now.astimezone(zone).date()
    for day in (today - timedelta(days=1), today):
        last_day = day + timedelta(days=1) if begin >= end else day
        until = _instant(last_day, end, zone, last=True)
        if _instant(day, begin, zone, last=False) <= now < until:
            return until
    return None


def _instant(day: date, clock: time, zone: ZoneInfo, *, last: bool) -> datetime:
    """The moment at which local clocks show a time.

    Of one that comes twice the first or the last; for one that is left out, the moment the clocks jump over it.
    """
    early, late = (datetime.combine(day, clock, zone).replace(fold=fold).astimezone(UTC) for fold in (0, 1))
    if early > late:  # skipped by the clock: fold 0 gives the later instant
        return _jump(late, early, zone)
    return late if last else early


def _jump(before: datetime, after: datetime, zone: ZoneInfo) -> datetime:
    """The second between two moments at which the clock is changed."""
    offset = before.astimezone(zone).utcoffset()
    while after - before > timedelta(seconds=1):
        middle = before + timedelta(seconds=(after - before) // timedelta(seconds=2))
        if middle.astimezone(zone).utcoffset() == offset:
            before = middle
        else:
            after = middle
    return after
