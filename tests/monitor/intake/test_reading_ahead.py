"""How many files are begun before results are taken, in how much memory, and by how many processes: without any."""

from __future__ import annotations

import os
from collections import deque
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from monitor.errors import WorkFailed
from monitor.intake import workers
from monitor.intake.workers import FilesReading, ReadJob, WorkerLimits, Workers
from monitor.values import IntakeOptions

MB = 1 << 20


class Pool:
    """In the place of workers: keeps what it is given to read, and hands over what a test has read of it."""

    def __init__(self, processes: int) -> None:
        self.processes, self.begun = processes, deque[tuple[ReadJob, Any]]()
        self.held_mb = 0.0
        self.abandoned = False

    def submit(self, job: ReadJob, batch: Any) -> None:
        self.begun.append((job, batch))

    def read(self, result: object = "facts") -> None:
        job, batch = self.begun.popleft()
        batch.results.put((job, result, 1.0))

    def let_go(self, held_mb: float) -> None:
        self.held_mb += held_mb

    def abandon(self, _: object) -> None:
        self.abandoned = True


def reading(pool: Pool, sizes: list[int]) -> FilesReading:
    options = IntakeOptions("UTC")
    jobs = [ReadJob(Path(), str(at), options, size=size) for at, size in enumerate(sizes)]
    return FilesReading(pool, jobs)


@pytest.mark.parametrize(
    ("sizes", "begun"),
    [
        ([1] * 63, 63), ([1] * 64, 64), ([1] * 65, 64),
        ([8 * MB - 1, *[1] * 90], 4), ([8 * MB, *[1] * 90], 4), ([2 * MB] * 9, 4), ([MB] * 20, 8),
        ([MB] * 7 + [1] * 90, 64),
    ],
)  # fmt: skip
def test_up_to_64_files_are_begun_while_they_are_less_than_8_mb_and_else_two_a_process(
    sizes: list[int], begun: int
) -> None:
    pool = Pool(processes=2)
    reading(pool, sizes)
    assert len(pool.begun) == begun


def test_for_each_result_that_is_taken_another_file_is_begun() -> None:
    pool = Pool(processes=1)
    read = reading(pool, [8 * MB] * 5)
    assert len(pool.begun) == 2
    taken, begun = [], []
    while not read.over:
        pool.read()
        found = read.next(None)
        assert found is not None
        taken.append(found[0].relative)
        begun.append(len(pool.begun))
    assert taken == ["0", "1", "2", "3", "4"]
    assert begun == [2, 2, 2, 1, 0]
    assert pool.held_mb == 5
    assert read.next(None) is None


def test_each_time_that_none_comes_one_more_is_begun_up_to_two_more() -> None:
    pool = Pool(processes=1)
    read = reading(pool, [8 * MB] * 9)
    begun = []
    for _ in range(4):
        assert read.next(0.0) is None
        begun.append(len(pool.begun))
    assert begun == [3, 4, 4, 4]


def test_a_reading_that_was_given_up_is_over_and_one_that_failed_says_so() -> None:
    pool = Pool(processes=1)
    read = reading(pool, [1, 1, 1])
    pool.read(None)
    assert read.next(None) is None
    assert read.over
    pool.begun.clear()
    read = reading(pool, [1])
    pool.read(WorkFailed("no process can be started"))
    with pytest.raises(WorkFailed):
        read.next(None)
    read = reading(pool, [1])
    read.close()
    assert read.over
    assert pool.abandoned


@pytest.mark.parametrize(
    ("used_mb", "asked_mb", "fits"),
    [
        (0.0, 5000, True), (0.9, 5000, True), (1.0, 5000, False),  # alone it may be as large as it is
        (600, 400, True), (601, 400, False),
        (900, 100, True), (999, 100, True), (1100, 100, True), (1101, 100, False),  # a small one past large ones
        (1000, 101, False),
    ],
)  # fmt: skip
def test_a_file_is_begun_where_memory_is_there_for_it_or_it_is_alone(
    used_mb: float, asked_mb: float, *, fits: bool
) -> None:
    limits = replace(WorkerLimits.default(), together_mb=1000, past_slow_mb=200)
    pool = Workers(2, limits=limits)
    pool._memory_mb = used_mb
    assert pool._fits(asked_mb) is fits


@pytest.mark.parametrize(("cores", "processes"), [(None, 1), (1, 1), (3, 3), (4, 4), (5, 4), (64, 4)])
def test_there_are_decoding_workers_at_most_and_no_more_than_cores(
    cores: int | None, processes: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: cores)
    assert Workers().processes == processes


@pytest.mark.parametrize(
    ("slow_s", "lanes", "tasks", "waiting", "more"),
    [
        (2.1, 1, 1, 0, True), (2.0, 1, 1, 0, False), (2.1, 1, 0, 0, False), (2.1, 1, 1, 1, False),
        (2.1, 2, 1, 0, True), (2.1, 3, 1, 0, False),
    ],
)  # fmt: skip
def test_where_all_are_held_up_by_slow_files_there_are_up_to_two_processes_more(
    slow_s: float, lanes: int, tasks: int, waiting: int, more: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    pool: Any = Workers(1)
    opened = []
    monkeypatch.setattr(pool, "_open_lane", opened.append)
    pool._lanes, pool._tasks, pool._waiting = dict.fromkeys(range(lanes)), [None] * tasks, waiting
    pool._go_past_slow_ones([SimpleNamespace(seconds=slow_s)] * lanes)
    assert bool(opened) is more


def test_a_result_holds_the_memory_of_its_columns() -> None:
    assert workers._held_mb(None) == 0
    columns = {"t_s": np.zeros(MB // 8), "hr_bpm": np.zeros(MB // 4)}
    facts = SimpleNamespace(recordings=[SimpleNamespace(samples=columns)])
    assert workers._held_mb(SimpleNamespace(facts=facts)) == 3
    assert workers._held_mb(SimpleNamespace(facts=None)) == 0


def test_workers_are_looked_after_until_nothing_is_left_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    pool: Any = Workers(1)
    looked = []

    def look() -> None:
        looked.append(True)
        assert len(looked) < 5
        if len(looked) == 2:
            pool._tasks.clear()
        if len(looked) == 3:
            pool._waiting = 1

    monkeypatch.setattr(workers, "LOOK_SECONDS", 0.0)
    pool._tasks, pool._watching, pool._lanes = deque([None]), True, {1: SimpleNamespace(look=look, seconds=0.0)}
    pool._watch()
    assert len(looked) == 3
    assert not pool._watching
