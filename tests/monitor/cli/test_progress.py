"""What is drawn while many files are read, and for whom."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest

from monitor.cli.progress import WORTH_SHOWING_FILES, CountedWorkers
from monitor.intake.facts import IntakeOptions
from monitor.intake.workers import ReadJob


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def jobs(tmp_path: Path) -> list[ReadJob]:
    names = [f"{n}.txt" for n in range(WORTH_SHOWING_FILES)]
    for name in names:
        (tmp_path / name).write_text("no beats\n")
    return [ReadJob(tmp_path, name, IntakeOptions("UTC")) for name in names]


def drawn(out: io.StringIO, jobs: list[ReadJob]) -> str:
    with CountedWorkers(out) as workers:
        read = [job.relative for job, _ in workers.read_many(jobs)]
    assert sorted(read) == sorted(job.relative for job in jobs)
    return re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", out.getvalue())


def test_whoever_watches_sees_files_done_their_rate_and_the_time_left(jobs: list[ReadJob]) -> None:
    told = drawn(Terminal(), jobs)
    assert f"{len(jobs)}/{len(jobs)} files" in told
    assert re.search(r"\d+ a second, left", told)
    assert re.search(r"left \d:\d\d:\d\d", told)


def test_nothing_is_drawn_for_a_few_files_or_where_nobody_watches(jobs: list[ReadJob]) -> None:
    assert drawn(Terminal(), jobs[:-1]) == ""
    assert drawn(io.StringIO(), jobs) == ""
