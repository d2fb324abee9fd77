"""How far a long read has come, on the terminal of whoever waits for it."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
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
        with _drawn_on(self._out) as shown:
            task = shown.add_task("reading", total=len(asked), rate="")
            for done in super().read_many(asked):
                shown.advance(task)
                speed = shown.tasks[0].speed
                shown.update(task, rate=f", {speed:.0f} a second" if speed else "")
                yield done


def _drawn_on(out: TextIO) -> Progress:
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    return Progress(
        TextColumn("reading"),
        BarColumn(bar_width=24),
        MofNCompleteColumn(),
        TextColumn("files{task.fields[rate]}, left"),
        TimeRemainingColumn(),
        console=Console(file=out),
        transient=True,
    )
