"""A pass goes before the board: whoever draws asks between two steps whether to wait."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

LONGEST_SECONDS = 20.0
"""So long one board waits in all: a first import of years takes an hour, and somebody looks at the board meanwhile."""


class RightOfWay:
    """One interpreter runs both, and what asks the database hundreds of small things would wait after each of them."""

    def __init__(self) -> None:
        self._free = threading.Event()
        self._free.set()

    @contextmanager
    def taken(self) -> Iterator[None]:
        """What is done within goes first."""
        self._free.clear()
        try:
            yield
        finally:
            self._free.set()

    def giver(self, seconds: float = LONGEST_SECONDS) -> Callable[[], None]:
        """To be called between the steps of one task: waits while the way is taken, so long in all."""
        left = seconds

        def give() -> None:
            nonlocal left
            if left > 0 and not self._free.is_set():
                begun = time.monotonic()
                self._free.wait(left)
                left -= time.monotonic() - begun

        return give
