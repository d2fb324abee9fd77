"""How far a long read has come, on the terminal of whoever waits for it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TextIO

from monitor.intake.workers import ReadJob, ReadResult, Workers

if TYPE_CHECKING:
    from rich.progress import Progress

WORTH_SHOWING_FILES = 30


class CountedWorkers(Workers):
    """Workers that draw files done, rate and time left on stderr, where a person watches and there is much to do."""

    def __init__(self, out: TextIO | None = None) -> None:
        super().__init__()
        self._out = out or sys.stderr

    def read_many(self, jobs: Iterable[ReadJob]) -> Iterator[tuple[ReadJob, ReadResult]]:
        asked = list(jobs)
        if len(asked) < WORTH_SHOWING_FILES or not self._out.isatty():
            yield from super().read_many(asked)
            return
        with _drawn_on(self._out, "reading", "files") as shown:
            task = shown.add_task("reading", total=len(asked), rate="")
            for done in super().read_many(asked):
                shown.advance(task)
                speed = shown.tasks[0].speed
                shown.update(task, rate=f", {speed:.0f} a second" if speed else "")
                yield done


@contextmanager
def counted(what: str, total: int, out: TextIO | None = None) -> Iterator[Callable[[int], object]]:
    """Draw how much of something is done, where a person watches and there is much of it; called with each part."""
    out = out or sys.stderr
    if total < WORTH_SHOWING_FILES or not out.isatty():
        yield lambda done: None
        return
    with _drawn_on(out, what, "sessions") as shown:
        task = shown.add_task(what, total=total, rate="")
        yield lambda done: shown.advance(task, done)


def _drawn_on(out: TextIO, what: str, of: str) -> Progress:
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    return Progress(
        TextColumn(what),
        BarColumn(bar_width=24),
        MofNCompleteColumn(),
        TextColumn(f"{of}{{task.fields[rate]}}, left"),
        TimeRemainingColumn(),
        console=Console(file=out),
        transient=True,
    )
