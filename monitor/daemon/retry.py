"""Retries with growing pauses; a file on which the scanner fails is put off alone."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence

from monitor import logs
from monitor.daemon.protocols import Scanner
from monitor.errors import WorkFailed
from monitor.values import Seen

# Pauses that grow with each failure, so that a lasting error neither ends the loop nor keeps it busy.

FIRST_SECONDS = 1.0
LONGEST_SECONDS = 300.0
ENDING = (KeyboardInterrupt, SystemExit, GeneratorExit)
"""Exceptions that are never caught; everything else is, also panics of libraries (BaseException)."""


class Backoff:
    """Pauses by the name of the step: each failure in a row doubles the pause, a success ends it."""

    def __init__(self, first_seconds: float = FIRST_SECONDS, longest_seconds: float = LONGEST_SECONDS) -> None:
        self._first_seconds = first_seconds
        self._longest_seconds = longest_seconds
        self._until: dict[str, float] = {}
        self._seconds: dict[str, float] = {}

    def failed(self, name: str, now: float) -> float:
        """Seconds until the next try."""
        seconds = min(self._seconds.get(name, self._first_seconds / 2) * 2, self._longest_seconds)
        self._seconds[name], self._until[name] = seconds, now + seconds
        return seconds

    def worked(self, name: str) -> bool:
        """True when it had failed before."""
        self._until.pop(name, None)
        return self._seconds.pop(name, None) is not None

    def until(self, name: str) -> float | None:
        return self._until.get(name)

    def over(self, name: str, now: float) -> bool:
        until = self._until.get(name)
        return until is None or now >= until

    def keep(self, names: Collection[str]) -> None:
        """Forget the pauses of all others, which no longer exist."""
        for name in [paused for paused in self._seconds if paused not in names]:
            self.worked(name)

    @property
    def failing(self) -> tuple[str, ...]:
        return tuple(sorted(self._seconds))


class StepGuard:
    """Runs the steps of a loop. A failure is logged once, and its step tried again after a pause that grows."""

    def __init__(self, monotonic: Callable[[], float], failed: Callable[[BaseException], None]) -> None:
        self._monotonic = monotonic
        self._heard = failed
        self._pauses = Backoff()
        self._said: dict[str, str] = {}

    def run(self, step: str, act: Callable[[], None]) -> bool:
        """Run a step; False when it is in a pause or failed."""
        if not self._pauses.over(step, self._monotonic()):
            return False
        try:
            act()
        except ENDING:
            raise
        except BaseException as error:  # noqa: BLE001 - a library's panic is no Exception, and must not end the daemon
            first = step not in self._pauses.failing
            pause_seconds = self._pauses.failed(step, self._monotonic())
            if first:
                logs.failure("failed", error, step=step, pause_seconds=pause_seconds)
            self._said[step] = error.reason if isinstance(error, WorkFailed) else ""
            self._heard(error)
            return False
        if self._pauses.worked(step):
            logs.event("works_again", step=step)
        return True

    @property
    def failing(self) -> tuple[str, ...]:
        return self._pauses.failing

    def said(self, step: str) -> str:
        """The last error of a failing step, where it is a message for users."""
        return self._said.get(step, "")

    def next_tries(self) -> list[float]:
        return [until for step in self._pauses.failing if (until := self._pauses.until(step)) is not None]

    def not_before(self, step: str, due: float) -> float:
        """When a step that is due then may run."""
        return max(due, self._pauses.until(step) or due)


# Settled files are handed to the scanner so that one on which it fails does not stop the others.

MOST_FAILURES = 8
"""From so many single failures in a pass the cause is not the files."""
FAILED_PASSES = 3
"""After so many passes in which storing failed, the files are halved until the one that causes it is found."""

FILE_PAUSE_SECONDS = 30.0
"""Pause of a failed file: long enough for later passes to reach the good files behind several broken ones."""
LONGEST_FILE_PAUSE_SECONDS = 3600.0

Item = tuple[str, Seen]


class FileRetry:
    """Remembers the files that failed, each with its own growing pause."""

    def __init__(self, scanner: Scanner) -> None:
        self._scanner = scanner
        self._pauses = Backoff(FILE_PAUSE_SECONDS, LONGEST_FILE_PAUSE_SECONDS)
        self._failed = 0  # passes in a row that failed as a whole

    def due(self, ready: Sequence[Item], now: float) -> list[Item]:
        """The settled files that are not in a pause; `ready` must be all settled files."""
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

    def take(self, items: Sequence[Item], now: float, taken: Callable[[Sequence[Item]], None]) -> int:
        """Hand files to the scanner, `taken` each part that worked; how many. Raises errors that concern all files."""
        blamed: list[tuple[Item, BaseException]] = []
        done = 0
        parts = [list(items)] if items else []
        while parts and len(blamed) < MOST_FAILURES:
            part = parts.pop()
            try:
                self._scanner.take(part)
            except ENDING:
                raise
            except BaseException as error:  # panics of libraries are not Exceptions
                if _is_of_all(error) or (_of_the_store(error) and self._failed < FAILED_PASSES):
                    self._failed += 1
                    raise
                if len(part) > 1:
                    middle = len(part) // 2
                    parts += [part[middle:], part[:middle]]
                else:
                    blamed.append((part[0], error))
            else:
                done += len(part)
                taken(part)
                for item in part:
                    self._pauses.worked(_name(item))
        self._settle(blamed, now, fair=bool(done) or len(items) == 1)
        return done

    def _settle(self, blamed: Sequence[tuple[Item, BaseException]], now: float, *, fair: bool) -> None:
        """Put off the files that failed, unless nothing else could be stored either."""
        fair = fair or not any(_of_the_store(error) for _, error in blamed)
        if fair:
            for item, error in blamed:
                self._put_off(item, error, now)
        if len(blamed) >= MOST_FAILURES or (blamed and not fair):
            self._failed += 1
            raise blamed[-1][1]
        self._failed = 0

    def _put_off(self, item: Item, error: BaseException, now: float) -> None:
        new = self._pauses.until(_name(item)) is None
        pause_seconds = self._pauses.failed(_name(item), now)
        if new:
            logs.failure("file_failed", error, athlete=item[0], pause_seconds=pause_seconds)


def _of_the_store(error: BaseException) -> bool:
    return isinstance(error, WorkFailed | MemoryError)


def _is_of_all(error: BaseException) -> bool:
    """Whether an error has nothing to do with a file: a full disk, a damaged store, a newer one."""
    from monitor.store.database import StoreBroken, StoreFull, StoreNewer  # noqa: PLC0415 - the loop needs no database

    return isinstance(error, StoreBroken | StoreFull | StoreNewer)


def _name(item: Item) -> str:
    athlete, seen = item
    return f"{athlete}\0{seen.relative}\0{seen.size}\0{seen.mtime_ns}"
