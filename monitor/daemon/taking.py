"""Giving quiet files to the scanner so that one that breaks it costs itself and not the others."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from monitor import logs
from monitor.daemon.pauses import ENDING, Pauses
from monitor.daemon.seams import Scanner
from monitor.errors import WorkFailed
from monitor.folders.seen import Seen

MOST_FAILURES = 8
"""So many single failures in one pass are no longer the files' own."""
FAILED_PASSES = 3
"""After so many passes that failed for a reason of the store's, it may be one file that the store does not like."""

Item = tuple[str, Seen]


class Taker:
    """Remembers the files that failed, each with its own growing pause."""

    def __init__(self, scanner: Scanner) -> None:
        self._scanner = scanner
        self._pauses = Pauses()
        self._failed = 0  # passes in a row that failed as a whole

    def due(self, ready: Sequence[Item], now: float) -> list[Item]:
        """Those of the ready files, which are all there are, that do not stand in a pause."""
        if self._pauses.failing:
            self._pauses.keep({_name(item) for item in ready})
        return [item for item in ready if self._pauses.over(_name(item), now)]

    @property
    def failing(self) -> int:
        """How many files could not be taken when they were last tried."""
        return len(self._pauses.failing)

    def next_due(self, ready: Sequence[Item]) -> float | None:
        """When the first of the files in a pause may be tried again."""
        times = [until for item in ready if (until := self._pauses.until(_name(item))) is not None]
        return min(times, default=None)

    def take(self, items: Sequence[Item], now: float, taken: Callable[[Sequence[Item]], None]) -> None:
        """Hand the files over; `taken` hears which were. Raises what concerns all: store, disk, many failures."""
        failures = 0
        suspicious = self._failed >= FAILED_PASSES
        parts = [list(items)] if items else []
        while parts:
            part = parts.pop()
            try:
                self._scanner.take(part)
            except ENDING:
                raise
            except BaseException as error:  # a library's panic is no Exception
                if isinstance(error, WorkFailed | MemoryError) and not suspicious:
                    self._failed += 1
                    raise
                if len(part) > 1:
                    middle = len(part) // 2
                    parts += [part[middle:], part[:middle]]
                    continue
                failures += 1
                if failures >= MOST_FAILURES:
                    raise
                self._put_off(part[0], error, now)
            else:
                self._failed = 0
                taken(part)
                for item in part:
                    self._pauses.worked(_name(item))

    def _put_off(self, item: Item, error: BaseException, now: float) -> None:
        new = self._pauses.until(_name(item)) is None
        pause_seconds = self._pauses.failed(_name(item), now)
        if new:
            logs.failure("file_failed", error, athlete=item[0], pause_seconds=pause_seconds)


def _name(item: Item) -> str:
    athlete, seen = item
    return f"{athlete}\0{seen.relative}\0{seen.size}\0{seen.mtime_ns}"
