"""Sessions drawn by processes of their own where there are many: beside the rest of the board, and behind any pass."""

from __future__ import annotations

import os
import queue
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from typing import Any

from monitor.board.session_view import Draw, SessionView, drawn_here, session_view
from monitor.intake import worker_process
from monitor.intake.worker_process import environment

MOST = 4
BEHIND = 10
"""How much less urgent than reading and judging (`nice`)."""


@contextmanager
def drawers(*, many: bool) -> Iterator[Draw]:
    """Draws sessions as `session_view` does: in as many processes as there are cores, or here where there are few."""
    if not many:
        yield drawn_here
        return
    made = Drawers(min(os.cpu_count() or 1, MOST))
    try:
        yield made.draw
    finally:
        made.close()


class Drawers:
    """Processes that draw sessions, and a thread for each that hands them in."""

    def __init__(self, processes: int) -> None:
        self._processes = [_started() for _ in range(processes)]
        self._free: queue.SimpleQueue[subprocess.Popen[bytes]] = queue.SimpleQueue()
        for process in self._processes:
            self._free.put(process)
        self._threads = ThreadPoolExecutor(processes, "draw")

    def draw(self, *given: Any) -> Future[SessionView]:
        """Begin the view of a session."""
        return self._threads.submit(self._drawn, given)

    def _drawn(self, given: tuple[Any, ...]) -> SessionView:
        process = self._free.get()
        try:
            assert process.stdin is not None
            assert process.stdout is not None
            worker_process.send(process.stdin, given)
            view: SessionView = worker_process.receive(process.stdout)
        except (OSError, EOFError):  # the process was ended, or broke down on it: then this says why
            view = session_view(*given)
        finally:
            self._free.put(process)
        return view

    def close(self) -> None:
        """End the processes; what is not begun stays undrawn."""
        for process in self._processes:
            process.kill()
        self._threads.shutdown(cancel_futures=True)
        for process in self._processes:
            for pipe in (process.stdin, process.stdout):
                if pipe is not None:
                    with suppress(OSError):
                        pipe.close()
            process.wait()


def _started() -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-P", "-m", "monitor.board.drawers"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=environment(),
        start_new_session=True,  # an interrupt from the keyboard is for the parent alone
    )


def main() -> None:
    """Draw what the parent hands in, until the pipe ends."""
    if hasattr(os, "nice"):
        os.nice(BEHIND)
    with suppress(EOFError, OSError):
        while True:
            worker_process.send(sys.stdout.buffer, session_view(*worker_process.receive(sys.stdin.buffer)))


if __name__ == "__main__":
    main()
