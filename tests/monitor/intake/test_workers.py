"""A file that makes its decoder hang, spin, swell or crash costs itself and nothing else."""

from __future__ import annotations

import io
import os
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from monitor.errors import WorkFailed
from monitor.intake import worker_process
from monitor.intake.workers import AHEAD_BYTES, AHEAD_FILES, ReadJob, WorkerLimits, Workers, read_path
from monitor.values import IntakeOptions
from tests.fitwriter import FitWriter, activity, file_id
from tests.waiting import PATIENCE_SECONDS, alive, until

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="limits of the system are POSIX")

OSLO = IntakeOptions("Europe/Oslo")
START = datetime(2026, 10, 6, 7, 0, tzinfo=UTC)
LIMITS = WorkerLimits.default()


@pytest.fixture
def jobs(tmp_path: Path) -> Callable[..., list[ReadJob]]:
    """Files that each tell the hostile worker one thing to do."""

    def made(*orders: str) -> list[ReadJob]:
        found = []
        for order in orders:
            path = tmp_path / f"{len(list(tmp_path.iterdir()))}.order"
            path.write_text(order, "ascii")
            found.append(ReadJob(tmp_path, path.name, OSLO))
        return found

    return made


def hostile(limits: WorkerLimits = LIMITS, processes: int = 1) -> Workers:
    return Workers(processes, limits=limits, module="tests.hostile_worker")


def reasons(workers: Workers, asked: list[ReadJob]) -> list[str | None]:
    by_name = {job.relative: result.reason for job, result in workers.read_many(asked)}
    return [by_name[job.relative] for job in asked]


def test_files_come_back_with_what_reading_them_here_gives(tmp_path: Path) -> None:
    for minutes in range(1, 6):
        data = activity(START, samples={"hr_bpm": 100 + np.arange(60.0 * minutes) % 50})
        (tmp_path / f"{minutes}.fit").write_bytes(data)
    (tmp_path / "broken.fit").write_bytes(b"not one")
    asked = [ReadJob(tmp_path, path.name, OSLO) for path in tmp_path.iterdir()]
    with Workers(2) as workers:
        results = list(workers.read_many(asked))
        assert len(workers.process_ids()) == 2
    assert sorted(job.relative for job, _ in results) == sorted(job.relative for job in asked)
    for job, result in results:
        here = read_path(job)
        assert (result.sha256, result.size, result.reason) == (here.sha256, here.size, here.reason)
        if here.facts is None or result.facts is None:
            assert job.relative == "broken.fit"
            continue
        (ours,), (theirs,) = here.facts.recordings, result.facts.recordings
        assert replace(ours, samples={}) == replace(theirs, samples={})
        assert theirs.digest is not None
        assert all(np.array_equal(ours.samples[name], theirs.samples[name]) for name in ours.samples)


def test_no_process_is_started_until_there_is_something_to_read() -> None:
    with Workers() as workers:
        assert list(workers.read_many([])) == []
        assert workers.process_ids() == []


def test_one_process_serves_many_files_and_is_renewed_after_its_share(jobs: Callable[..., list[ReadJob]]) -> None:
    with hostile(replace(LIMITS, files_per_worker=3)) as workers:
        served_by = [result.size for _, result in workers.read_many(jobs(*["count"] * 7))]
    assert len(set(served_by)) == 3
    assert served_by[0] == served_by[2] != served_by[3] == served_by[5] != served_by[6]


def test_processes_end_when_there_has_been_nothing_to_read_and_start_again(jobs: Callable[..., list[ReadJob]]) -> None:
    with Workers(1, idle_seconds=0.1, module="tests.hostile_worker") as workers:
        (first,) = workers.read_many(jobs("count"))
        until(lambda: not alive(first[1].size))
        assert workers.process_ids() == []
        (second,) = workers.read_many(jobs("count"))
        assert second[1].size != first[1].size


@pytest.mark.parametrize(
    ("order", "reason", "limits"),
    [
        ("crash", "the decoder crashed on it", LIMITS),
        ("leave", "the decoder crashed on it", LIMITS),
        ("hang", "decoding takes longer than 3 s", replace(LIMITS, wall_seconds=3)),
        ("hang deaf", "decoding takes longer than 3 s", replace(LIMITS, wall_seconds=3)),
        ("spin", "decoding takes more than 1 s of processor time", replace(LIMITS, cpu_seconds=1)),
        ("swell", "decoding needs more than 64 MB of memory", LIMITS),
        ("swell natively", "decoding needs more than 64 MB of memory", LIMITS),
        ("killed always", "the process that decoded it was killed from outside", LIMITS),
        ("killed once", None, LIMITS),
    ],
)
def test_a_file_that_breaks_its_worker_costs_that_file(
    jobs: Callable[..., list[ReadJob]], order: str, reason: str | None, limits: WorkerLimits
) -> None:
    with hostile(limits) as workers:
        assert reasons(workers, jobs("count", order, "count")) == [None, reason, None]


def test_a_recording_crafted_to_swell_costs_itself(tmp_path: Path) -> None:
    bomb = file_id(FitWriter(), START).message("record", timestamp=START)
    bomb.raw(bytes([0x41, 0, 0, 20, 0, 0]))  # a record without any field: a byte in the file, a dict in memory
    bomb.raw(bytes([0xA0]) * 400_000)
    (tmp_path / "bomb.fit").write_bytes(bomb.to_bytes())
    (tmp_path / "run.fit").write_bytes(activity(START, samples={"hr_bpm": np.full(60, 100.0)}))
    with Workers(1) as workers:
        asked = [ReadJob(tmp_path, name, OSLO) for name in ("run.fit", "bomb.fit", "run.fit")]
        told = [result.reason for _, result in workers.read_many(asked)]
    assert told[0] is told[2] is None
    assert told[1] is not None
    assert told[1].startswith("decoding needs more than ")


def test_a_file_that_broke_its_worker_is_known_by_its_content(jobs: Callable[..., list[ReadJob]]) -> None:
    with hostile() as workers:
        ((_, result),) = workers.read_many(jobs("crash"))
    assert len(result.sha256) == 64
    assert result.size == 5


def test_several_bad_files_at_once_leave_the_good_ones_alone(jobs: Callable[..., list[ReadJob]]) -> None:
    orders = ["count", "crash", "swell", "count", "leave", "killed once", "count", "crash"]
    with hostile(processes=2) as workers:
        told = reasons(workers, jobs(*orders))
    assert [reason is None for reason in told] == [order in ("count", "killed once") for order in orders]


def test_what_a_decoder_prints_reaches_neither_the_terminal_nor_the_results(
    jobs: Callable[..., list[ReadJob]], capfd: pytest.CaptureFixture[str]
) -> None:
    with hostile() as workers:
        assert reasons(workers, jobs("print", "crash", "print")) == [None, "the decoder crashed on it", None]
    assert capfd.readouterr() == ("", "")


def test_a_decoder_knows_no_alert_address(jobs: Callable[..., list[ReadJob]], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FALLOW_COACH_URL", "json://secret@127.0.0.1/")
    with hostile() as workers:
        assert reasons(workers, jobs("tell FALLOW_COACH_URL")) == [None]
        assert reasons(workers, jobs("tell PATH")) == [os.environ["PATH"]]


def test_no_file_is_blamed_when_no_process_can_be_started(jobs: Callable[..., list[ReadJob]]) -> None:
    with (
        Workers(1, module="tests.no_such_worker") as workers,
        pytest.raises(WorkFailed, match="no process to decode files could be started"),
    ):
        list(workers.read_many(jobs("count", "count")))


@pytest.mark.parametrize(("files", "size", "most"), [(200, 9, AHEAD_FILES + 1), (9, AHEAD_BYTES, 3), (9, 2_000_000, 6)])
def test_no_more_files_are_taken_up_before_results_are_fetched_than_memory_is_there_for(
    jobs: Callable[..., list[ReadJob]], files: int, size: int, most: int
) -> None:
    asked = [replace(job, size=size) for job in jobs(*["count"] * files)]
    taken: list[str] = []

    def counted() -> Iterator[ReadJob]:
        for job in asked:
            taken.append(job.relative)
            yield job

    with hostile() as workers:
        results = workers.read_many(counted())
        next(results)
        assert len(taken) == most
        assert sum(1 for _ in results) == files - 1


def test_reading_given_up_half_way_leaves_the_workers_fit_for_more(jobs: Callable[..., list[ReadJob]]) -> None:
    with hostile() as workers:
        for _ in workers.read_many(jobs(*["count"] * 9)):
            break
        assert reasons(workers, jobs(*["count"] * 4)) == [None] * 4


def test_closing_while_a_file_hangs_ends_at_once_and_tells_nothing_of_it(jobs: Callable[..., list[ReadJob]]) -> None:
    workers = hostile()
    told: list[str] = []
    asked = jobs("count", "hang", "count", "count")
    begun = threading.Event()

    def read() -> None:
        for job, _ in workers.read_many(asked):
            told.append(job.relative)
            begun.set()

    reader = threading.Thread(target=read)
    reader.start()
    assert begun.wait(PATIENCE_SECONDS)
    (worker,) = workers.process_ids()
    workers.close()
    reader.join()
    assert told == [asked[0].relative]
    assert not alive(worker)


def test_files_that_need_much_memory_are_not_decoded_together(jobs: Callable[..., list[ReadJob]]) -> None:
    with hostile(replace(LIMITS, together_mb=100, past_slow_mb=80), processes=2) as workers:
        assert len({result.size for _, result in workers.read_many(jobs(*["count"] * 6))}) <= 2
        assert workers._fits(99.0)
        workers._promise(64.0)
        assert not workers._fits(64.0)
        assert workers._fits(40.0), "a small one goes past the large ones"
        workers._promise(90.0)
        assert not workers._fits(40.0), "but not any number of them"
        workers._promise(-154.0)
        assert workers._fits(500.0)  # alone, whatever it is


def test_files_that_take_long_let_others_past_them(jobs: Callable[..., list[ReadJob]]) -> None:
    with hostile(processes=1) as workers:
        hanging = workers.reading(jobs("hang", "hang"))
        try:
            (done,) = workers.read_many(jobs("count"))
        finally:
            hanging.close()
    assert done[1].facts is not None


def test_the_memory_a_file_may_take_grows_with_its_size_up_to_a_limit() -> None:
    small, day, large = (LIMITS.allowance_mb("x.fit", size) for size in (100_000, 2_300_000, 60_000_000))
    assert small < day < large == LIMITS.memory_mb
    assert LIMITS.allowance_mb("x.zip", 100_000) > small


def test_arrays_cross_the_border_beside_their_objects() -> None:
    sent = {"a": np.arange(1000.0), "empty": np.empty(0), "more": [np.ones(3), "text", None]}
    pipe = io.BytesIO()
    worker_process.send(pipe, sent)
    worker_process.send(pipe, "next")
    pipe.seek(0)
    got = worker_process.receive(pipe)
    assert np.array_equal(got["a"], sent["a"])
    assert got["a"].flags.writeable
    assert len(got["empty"]) == 0
    assert got["more"][1:] == ["text", None]
    assert worker_process.receive(pipe) == "next"
    with pytest.raises(EOFError):
        worker_process.receive(pipe)


def test_a_process_started_ahead_serves_the_first_file_and_is_the_only_one(jobs: Callable[..., list[ReadJob]]) -> None:
    with hostile(processes=2) as workers:
        workers.warm()
        workers.warm()
        until(lambda: len(workers.process_ids()) == 1)
        (ahead,) = workers.process_ids()
        (result,) = workers.read_many(jobs("count"))
        assert result[1].size == ahead
        workers.warm()
        assert workers.process_ids() == [ahead]


def test_a_process_started_ahead_in_vain_ends_like_any_other() -> None:
    with Workers(1, idle_seconds=0.1, module="tests.hostile_worker") as workers:
        workers.warm()
        until(lambda: workers.process_ids() != [])
        until(lambda: workers.process_ids() == [])


@pytest.mark.parametrize(
    ("under_way_mb", "more_mb", "fits"),
    [
        (0.0, 500.0, True), (0.9, 500.0, True), (1.0, 500.0, False),  # the first, however large
        (60.0, 40.0, True), (60.0, 40.1, False),  # together
        (110.0, 10.0, True), (110.0, 10.1, False), (110.1, 10.0, False), (90.0, 10.1, False),  # past slow ones
    ],
)  # fmt: skip
def test_a_file_is_begun_where_memory_for_it_is_left(under_way_mb: float, more_mb: float, fits: bool) -> None:
    workers = Workers(1, limits=replace(LIMITS, together_mb=100, past_slow_mb=20))
    workers._memory_mb = under_way_mb
    assert workers._fits(more_mb) is fits
