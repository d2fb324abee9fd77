"""How far a long read has come, on the terminal of whoever waits for it."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator

from monitor.intake.workers import ReadJob, ReadResult, Workers

WORTH_SHOWING_FILES = 30


class CountedWorkers(Workers):
    """Workers that draw files done, rate and time left on stderr, where a person watches and there is much to do."""

    def read_many(self, jobs: Iterable[ReadJob]) -> Iterator[tuple[ReadJob, ReadResult]]:
        asked = list(jobs)
        if len(asked) < WORTH_SHOWING_FILES or not sys.stderr.isatty():
            yield from super().read_many(asked)
            return
        from rich.console import Console  # noqa: PLC0415 - only for people
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn  # noqa: PLC0415

        columns = (
            TextColumn("reading"),
            BarColumn(),
            MofNCompleteColumn(),
            TextColumn("files, left"),
            TimeRemainingColumn(),
        )
        with Progress(*columns, console=Console(stderr=True), transient=True) as shown:
            task = shown.add_task("reading", total=len(asked))
            for done in super().read_many(asked):
                shown.advance(task)
                yield done
