"""What time it is, as a seam: the real clock, or one that stands at --as-of; and by which data of the zones."""

from __future__ import annotations

import os
import time
import zoneinfo
from collections.abc import Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

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
        return time.monotonic()


class FixedClock:
    """Judges as of one moment; pauses still use the real clock."""

    def __init__(self, as_of: datetime) -> None:
        self._as_of = as_of.astimezone(UTC)

    def now(self) -> datetime:
        return self._as_of

    def monotonic(self) -> float:
        return time.monotonic()


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
