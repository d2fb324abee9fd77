"""The scanner that the loop calls: made when first needed, and its priority over the board."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

from monitor.daemon.protocols import Delivered, Scanner, Timed
from monitor.home import Home
from monitor.roster.types import Roster
from monitor.values import Refused, Seen

# A pass has priority over drawing the board, which asks between its steps whether to wait.

LONGEST_SECONDS = 20.0
"""How long one drawing of the board waits in all: a first import takes an hour, and people look meanwhile."""


class ScanPriority:
    """Both share one interpreter lock, and a pass with hundreds of small queries would wait for it after each."""

    def __init__(self) -> None:
        self._free = threading.Event()
        self._free.set()

    @contextmanager
    def taken(self) -> Iterator[None]:
        """Work that has priority."""
        self._free.clear()
        try:
            yield
        finally:
            self._free.set()

    def giver(self, seconds: float = LONGEST_SECONDS) -> Callable[[], None]:
        """Called between steps of the other task: waits while work has priority, up to the limit in all."""
        left = seconds

        def give() -> None:
            nonlocal left
            if left > 0 and not self._free.is_set():
                begun = time.monotonic()
                self._free.wait(left)
                left -= time.monotonic() - begun

        return give


# The scanner is made when first needed: importing what reads and judges would delay the daemon's start.


class LazyScanner:
    """Says which files are known from the store alone; makes the real scanner for everything else."""

    def __init__(
        self, home: Home, roster: Roster, make: Callable[[Roster], Scanner], way: ScanPriority | None = None
    ) -> None:
        self._home = home
        self._roster = roster
        self._make = make
        self._way = way or ScanPriority()
        self._making = threading.Lock()
        self._real: Scanner | None = None
        self.on_judged: Callable[[], object] = lambda: None
        """Called whenever there may be something to send, while there is still something to read."""

    def known_of(self, athlete_ids: Iterable[str], /) -> dict[str, dict[str, tuple[int, int]]]:
        if self._real is not None:
            return self._real.known_of(athlete_ids)
        if not self._home.store.exists():
            return {athlete_id: {} for athlete_id in athlete_ids}
        from monitor.store import intake  # noqa: PLC0415 - a new home goes without the database
        from monitor.store.database import Store  # noqa: PLC0415 - brought only where it is needed

        with Store(self._home.store).reading() as con:
            asked = [athlete for athlete in map(self._roster.athlete, athlete_ids) if athlete is not None]
            return {athlete.id: intake.known(con, athlete.id, athlete.options.fingerprint) for athlete in asked}

    def warm(self) -> None:
        self._scanner().warm()

    def take(self, ready: Sequence[tuple[str, Seen]], refused: Mapping[str, Sequence[Refused]] | None = None, /) -> Any:
        with self._way.taken():
            return self._scanner().take(ready, refused)

    @property
    def slow(self) -> int:
        return self._real.slow if self._real is not None else 0

    def take_slow(self) -> Any:
        with self._way.taken():
            return self._scanner().take_slow()

    def roots(self, missing: Mapping[str, str], /) -> None:
        self._scanner().roots(missing)

    def timers(self) -> Timed:
        return self._scanner().timers()

    def deliver(self) -> Delivered:
        return self._scanner().deliver()

    def wake_up(self) -> None:
        if self._real is not None:
            self._real.wake_up()

    def notice(self, text: str, /) -> None:
        self._scanner().notice(text)

    def use(self, roster: Roster, /) -> None:
        self._roster = roster
        self._scanner().use(roster)

    def rebuild(self, broken: int | None = None, /) -> Any:
        return self._scanner().rebuild(broken)

    def close(self) -> None:
        if self._real is not None:
            self._real.close()

    def _scanner(self) -> Scanner:
        with self._making:
            if self._real is None:
                self._real = self._make(self._roster)
                self._real.on_judged = self.on_judged
            return self._real
