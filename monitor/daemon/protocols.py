"""The interfaces of the program's other parts that the daemon uses."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any, Protocol

from monitor.roster.types import Roster
from monitor.values import Refused, Seen


class Delivered(Protocol):
    @property
    def next_due(self) -> datetime | None:
        """When to deliver again, by the wall clock; None when nothing waits."""
        ...


class Timed(Protocol):
    @property
    def judged(self) -> int:
        """How many athletes were judged again."""
        ...

    @property
    def more(self) -> bool:
        """Whether others wait for the same."""
        ...


class Board(Protocol):
    """Draws board.html in a thread; the loop never waits for it."""

    def start(self) -> None: ...

    def changed(self) -> None:
        """Something that it shows may have changed."""
        ...

    def stop(self) -> None: ...

    @property
    def failing(self) -> tuple[str, ...]: ...


class Scanner(Protocol):
    """Reads, stores, judges, queues and sends; knows nothing of threads or of when to look.

    `deliver` is called from a thread of its own, everything else from the loop's. `on_judged` is called whenever there
    may be something to send while there is still something to read.
    """

    on_judged: Callable[[], object]

    def known_of(self, athlete_ids: Iterable[str], /) -> dict[str, dict[str, tuple[int, int]]]:
        """Athlete -> path -> (size, mtime_ns) of the files that need no second look."""
        ...

    def warm(self) -> None:
        """A file is about to settle: start the processes that read."""
        ...

    def take(
        self, ready: Sequence[tuple[str, Seen]], refused: Mapping[str, Sequence[Refused]] | None = None, /
    ) -> Any: ...

    @property
    def slow(self) -> int:
        """How many files of earlier `take` calls are still being read."""
        ...

    def take_slow(self) -> Any:
        """Store and judge the files of those that are read by now; None where there are none."""
        ...

    def roots(self, missing: Mapping[str, str], /) -> None:
        """Tell, once, which folders cannot be looked into and which came back."""
        ...

    def timers(self) -> Timed:
        """Some of what is due by the clock and not by files: silence, stages that begin, daily messages."""
        ...

    def deliver(self) -> Delivered:
        """Send what waits and is due."""
        ...

    def wake_up(self) -> None:
        """Send new messages also while `deliver` waits for a slow channel."""
        ...

    def notice(self, text: str, /) -> None:
        """Tell the owner of a trouble of the program itself."""
        ...

    def use(self, roster: Roster, /) -> None:
        """Use another roster; `timers` judges again whom it changes."""
        ...

    def rebuild(self, broken: int | None = None, /) -> Any:
        """Begin a new store in place of a damaged one, by its identity; the folders are then read again."""
        ...

    def close(self) -> None: ...
