"""How far a long read has come, on the terminal of whoever waits for it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    from rich.progress import Progress

WORTH_SHOWING_FILES = 30


@contextmanager
def counted(what: str, total: int, out: TextIO | None = None) -> Iterator[Callable[[int], object]]:
    """Draw how much of something is done, where a person watches and there is much of it; called with each part."""
    out = out or sys.stderr
    if total < WORTH_SHOWING_FILES or not out.isatty():
        yield lambda done: None
        return
    with _drawn_on(out, what) as shown:
        task = shown.add_task(what, total=total, rate="")

        def advance(done: int) -> None:
            shown.advance(task, done)
            speed = shown.tasks[0].speed
            shown.update(task, rate=f", {speed:.0f} a second" if speed else "")

        yield advance


def _drawn_on(out: TextIO, what: str) -> Progress:
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    return Progress(
        TextColumn(what),
        BarColumn(bar_width=24),
        MofNCompleteColumn(),
        TextColumn("files{task.fields[rate]}, left"),
        TimeRemainingColumn(),
        console=Console(file=out),
        transient=True,
    )
