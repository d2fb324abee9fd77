"""What time it is, as a seam: the real clock, or one that stands at --as-of."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from typing import Protocol


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
