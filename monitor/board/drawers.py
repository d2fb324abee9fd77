"""Pages drawn by processes of their own where there are many: beside the rest of the board, and behind any pass."""

from __future__ import annotations

import os
import queue
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from typing import Any

from monitor.intake import worker_process
from monitor.intake.worker_process import environment

MOST = 4
BEHIND = 10
"""How much less urgent than reading and judging (`nice`)."""


class Drawers:
    """As many processes as there are cores, and a thread for each that hands work in; a context that ends them."""

    def __init__(self) -> None:
        self._shared: object = None
        self._processes = [_started() for _ in range(min(os.cpu_count() or 1, MOST))]
        self._free: queue.SimpleQueue[subprocess.Popen[bytes]] = queue.SimpleQueue()
        for process in self._processes:
            self._free.put(process)
        self._told: set[int] = set()
        self._threads = ThreadPoolExecutor(len(self._processes), "draw")

    def __enter__(self) -> Drawers:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def share(self, shared: object) -> None:
        """What all that is drawn has in common, handed to each process once; before the first is drawn."""
        self._shared = shared

    def draw(self, act: Callable[..., str], *given: object) -> Future[str]:
        """Begin `act(shared, *given)`, a function of a module."""
        return self._threads.submit(self._drawn, act, given)

    def _drawn(self, act: Callable[..., str], given: tuple[object, ...]) -> str:
        process = self._free.get()
        try:
            assert process.stdin is not None
            assert process.stdout is not None
            if process.pid not in self._told:
                self._told.add(process.pid)
                worker_process.send(process.stdin, self._shared)
            worker_process.send(process.stdin, (act, given))
            page: str = worker_process.receive(process.stdout)
        except (OSError, EOFError):  # the process ended: drawn here it gives the page, or the error
            page = act(self._shared, *given)
        finally:
            self._free.put(process)
        return page

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
        shared: Any = worker_process.receive(sys.stdin.buffer)
        while True:
            act, given = worker_process.receive(sys.stdin.buffer)
            worker_process.send(sys.stdout.buffer, act(shared, *given))


if __name__ == "__main__":
    main()
