"""Draws board.html again while the daemon runs, in a thread that nothing waits for."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from monitor import logs

SOON_SECONDS = 2.0
"""Seconds from a change to the drawing, so that alerts are sent first."""
APART_SECONDS = 10.0
"""Least seconds between two drawings, from the end of one; more where drawing takes long."""
REFRESH_SECONDS = 3600.0
"""Seconds after which it is drawn without any change, since what today allows changes with the clock."""
ENDING_SECONDS = 10.0


class BoardThread:
    """`changed` may be called from any thread and at any time; calls that come together make one board."""

    def __init__(
        self,
        write: Callable[[], object],
        *,
        soon_seconds: float = SOON_SECONDS,
        apart_seconds: float = APART_SECONDS,
        refresh_seconds: float = REFRESH_SECONDS,
        failed: Callable[[BaseException], object] = lambda error: None,
    ) -> None:
        self._failed = failed
        self._write = write
        self._soon_seconds = soon_seconds
        self._apart_seconds = apart_seconds
        self._refresh_seconds = refresh_seconds
        self._changed = threading.Event()
        self._stopped = threading.Event()
        self._failures = 0
        self._thread = threading.Thread(target=self._run, name="fallow-board", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def changed(self) -> None:
        """Something that the board shows may have changed."""
        self._changed.set()

    def stop(self) -> None:
        """End after the drawing that is under way; later changes are drawn after the next start."""
        self._stopped.set()
        self._changed.set()
        if self._thread.is_alive():
            self._thread.join(ENDING_SECONDS)

    @property
    def failing(self) -> tuple[str, ...]:
        return ("board",) if self._failures else ()

    def _run(self) -> None:
        while not self._stopped.is_set():
            if self._changed.wait(self._refresh_seconds):
                self._stopped.wait(self._soon_seconds)
            if self._stopped.is_set():
                return
            self._changed.clear()
            took = self._once()
            self._stopped.wait(max(self._apart_seconds, 5 * took) * 2 ** min(self._failures, 5))

    def _once(self) -> float:
        """One board; how many seconds it took."""
        begun = time.monotonic()
        try:
            self._write()
            self._failures = 0
        except Exception as error:  # noqa: BLE001 - the daemon goes on without a board, and says so
            self._failures += 1
            logs.failure("board", error)
            self._failed(error)
        took = time.monotonic() - begun
        logs.event("board_written", seconds=took, failures=self._failures)
        return took
