"""Messages under way: each is carried in a thread of its own, so that a slow channel keeps no other waiting."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from queue import Empty, SimpleQueue

from monitor.alerts.answers import SendResult
from monitor.alerts.claims import Claimed

SHORTEST_WAIT_SECONDS = 0.2


class Bell:
    """Rings when a message has arrived, and when somebody has news to be sent."""

    def __init__(self) -> None:
        self._rung = threading.Event()

    def ring(self) -> None:
        self._rung.set()

    def hush(self) -> None:
        self._rung.clear()

    def wait(self, seconds: float | None = None) -> None:
        """Until it rings, or so long; what is over by now waits a moment all the same."""
        self._rung.wait(None if seconds is None else max(seconds, SHORTEST_WAIT_SECONDS))


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a row that was claimed; `journaled` when the journal has it."""

    claimed: Claimed
    result: SendResult
    journaled: bool


class Post:
    """Sends claimed rows and books what became of them; what that raises is raised where outcomes are asked for."""

    def __init__(
        self, send: Callable[[Claimed], SendResult], book: Callable[[Claimed, SendResult], Outcome], bell: Bell
    ) -> None:
        self._send = send
        self._book = book
        self._bell = bell
        self._books = threading.Lock()
        self._back: SimpleQueue[Outcome | BaseException] = SimpleQueue()
        self.under_way = 0

    def carry(self, claimed: Claimed) -> None:
        self.under_way += 1
        threading.Thread(target=self._run, args=(claimed,), name="fallow-post", daemon=True).start()

    def _run(self, claimed: Claimed) -> None:
        try:
            result = self._send(claimed)
            with self._books:
                self._back.put(self._book(claimed, result))
        except BaseException as error:  # noqa: BLE001 - raised again in the thread that asks
            self._back.put(error)
        self._bell.ring()

    def settle(self) -> None:
        """Wait for what is being booked: a message that was answered is in the books before the next one leaves."""
        with self._books:
            return

    def arrived(self) -> list[Outcome]:
        """What came back since this was asked last."""
        outcomes: list[Outcome] = []
        while True:
            try:
                back = self._back.get_nowait()
            except Empty:
                return outcomes
            self.under_way -= 1
            if isinstance(back, BaseException):
                raise back
            outcomes.append(back)
