"""Sends messages in a thread of its own, since a channel that does not answer must not stop the reading of files."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime
from queue import Empty, SimpleQueue

from monitor import logs
from monitor.daemon.protocols import Delivered
from monitor.daemon.retry import ENDING, Backoff

LONGEST_WAIT_SECONDS = 60.0
"""How often the wall clock is read while waiting for a moment: it may be set meanwhile."""
SHORTEST_WAIT_SECONDS = 0.2
ENDING_SECONDS = 25.0


def real_now() -> datetime:
    return datetime.now(UTC)


class DeliveryThread:
    """`call` makes it deliver at once; else it delivers when the last delivery asked for it."""

    def __init__(
        self,
        deliver: Callable[[], Delivered],
        now: Callable[[], datetime] = real_now,
        monotonic: Callable[[], float] = time.monotonic,
        failed: Callable[[BaseException], object] = lambda error: None,
        wake_up: Callable[[], None] = lambda: None,
    ) -> None:
        self._deliver = deliver
        self._failed = failed
        self._ring = wake_up
        self._now = now
        self._monotonic = monotonic
        self._calls: SimpleQueue[bool] = SimpleQueue()
        self._pauses = Backoff()
        self._thread = threading.Thread(target=self._run, name="fallow-delivery", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def call(self) -> None:
        self._calls.put(True)
        self._ring()

    def stop(self) -> None:
        """End after the message that is being sent; one that hangs is sent by the next start."""
        self._calls.put(False)
        self._thread.join(ENDING_SECONDS)

    @property
    def failing(self) -> tuple[str, ...]:
        return self._pauses.failing

    def _run(self) -> None:
        wait: float | None = 0.0
        while self._wait(wait):
            wait = self.once()

    def _wait(self, seconds: float | None) -> bool:
        """Wait for the next delivery; False when it is time to end. Calls that came together count once."""
        if self._pauses.until("deliver") is not None:  # a call does not shorten the pause after a failure
            return self._rest(seconds or 0.0)
        try:
            going = self._calls.get(timeout=seconds)
            while going:
                going = self._calls.get_nowait()
        except Empty:
            return True
        return False

    def _rest(self, seconds: float) -> bool:
        end = self._monotonic() + seconds
        while (left := end - self._monotonic()) > 0:
            try:
                if not self._calls.get(timeout=left):
                    return False
            except Empty:
                return True
        return True

    def once(self) -> float | None:
        """Deliver; seconds until the next time, None when nothing waits."""
        try:
            due = self._deliver().next_due
        except ENDING:
            raise
        except BaseException as error:  # noqa: BLE001 - a failed delivery is tried again, and never ends the program
            if not self._pauses.failing:
                logs.failure("deliver_failed", error)
            self._failed(error)
            return self._pauses.failed("deliver", self._monotonic())
        if self._pauses.worked("deliver"):
            logs.event("deliver_works_again")
        if due is None:
            return None
        left = (due - self._now()).total_seconds()
        return min(max(left, SHORTEST_WAIT_SECONDS), LONGEST_WAIT_SECONDS)
