"""The pool that decodes files in processes of their own, so that a hostile or broken one costs only itself."""

from __future__ import annotations

import os
import queue
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from types import TracebackType

from monitor import words
from monitor.errors import WorkFailed
from monitor.intake.reading import ReadJob, ReadResult, read_path
from monitor.intake.worker_limits import MB, FileBudget, WorkerLimits
from monitor.intake.worker_process import WorkerProcess
from monitor.values import as_name
from rules.limits import default_limits

__all__ = ["ReadJob", "ReadResult", "WorkerLimits", "Workers", "read_path"]

LOOK_SECONDS = 0.2
SLOW_SECONDS = 2.0
"""A file that takes longer holds only itself: others go past it, in a process more if need be."""
MORE_PROCESSES = 2
AHEAD_FILES, AHEAD_BYTES = 64, 8 << 20
"""What is begun while nobody takes results: as much as is read while a hundred files are stored, none of it long."""
_Outcome = ReadResult | WorkFailed | None  # None: given up, nothing is known of the file


@dataclass(slots=True)
class _Batch:
    """One `read_many`: results that nobody took yet, each with the memory it holds."""

    results: queue.SimpleQueue[tuple[ReadJob, _Outcome, float]] = field(default_factory=queue.SimpleQueue)
    abandoned: bool = False


class FilesReading:
    """Files that are being read, begun in their order. To be closed by whoever asked for it."""

    def __init__(self, workers: Workers, jobs: Iterable[ReadJob]) -> None:
        self._workers, self._waiting = workers, iter(jobs)
        self._batch = _Batch()
        self._under_way = self._bytes = 0
        self._slow = 0
        self._submit()

    @property
    def over(self) -> bool:
        """Whether there is nothing more to come."""
        return not self._under_way

    def next(self, seconds: float | None) -> tuple[ReadJob, ReadResult] | None:
        """The next result; None where none came within so many seconds, or at the end. WorkFailed as `read_many`."""
        if self.over:
            return None
        try:
            job, result, held_mb = self._batch.results.get(timeout=seconds)
        except queue.Empty:
            self._slow = min(self._slow + 1, self._under_way)  # those may not keep the others from being begun
            self._submit()
            return None
        self._under_way -= 1
        self._bytes -= job.size
        self._slow = min(self._slow, self._under_way)
        self._workers.let_go(held_mb)
        if result is None:
            self._under_way = 0
            return None
        if isinstance(result, WorkFailed):
            raise result
        self._submit()
        return job, result

    def close(self) -> None:
        """Nothing more is wanted: what is not begun stays unread."""
        self._under_way = 0
        self._workers.abandon(self._batch)

    def _submit(self) -> None:
        most = 2 * self._workers.processes + min(self._slow, MORE_PROCESSES)
        while self._under_way < (AHEAD_FILES if self._bytes < AHEAD_BYTES else most):
            if (job := next(self._waiting, None)) is None:
                return
            self._workers.submit(job, self._batch)
            self._under_way += 1
            self._bytes += job.size


class Workers:
    """Worker processes that start when there is something to read and end when there has been nothing for a while."""

    def __init__(
        self,
        processes: int | None = None,
        idle_seconds: float = 20.0,
        limits: WorkerLimits | None = None,
        module: str = "monitor.intake.worker_main",
    ) -> None:
        most = min(os.cpu_count() or 1, default_limits().decoding.workers)
        self._processes = max(1, most if processes is None else processes)
        self._idle_seconds = idle_seconds
        self._limits = limits or WorkerLimits.default()
        self._module = module
        self._changed = threading.Condition()
        self._tasks: deque[tuple[ReadJob, _Batch]] = deque()
        self._lanes: dict[threading.Thread, WorkerProcess] = {}
        self._waiting = 0
        self._warming = 0
        self._memory_mb = 0.0  # promised to the files being read, or held by results not taken yet
        self._watching = False
        self._closed = False

    def __enter__(self) -> Workers:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def read_many(self, jobs: Iterable[ReadJob]) -> Iterator[tuple[ReadJob, ReadResult]]:
        """Results as they come, in any order; no more than a few files are held at a time.

        After `close` from another thread it ends early: of files that are not told nothing is known. WorkFailed when
        no worker can be started.
        """
        reading = self.reading(jobs)
        try:
            while not reading.over:
                if (done := reading.next(None)) is not None:
                    yield done
        finally:
            reading.close()

    def reading(self, jobs: Iterable[ReadJob]) -> FilesReading:
        """The same, to be asked for one result after another for no longer than one wants to wait."""
        return FilesReading(self, jobs)

    def process_ids(self) -> list[int]:
        """Of the worker processes that live now."""
        with self._changed:
            ids = [worker.process_id for worker in self._lanes.values()]
        return [process_id for process_id in ids if process_id is not None]

    def warm(self) -> None:
        """Start a worker now if there is none: a file is about to come, and a process takes its time to start."""
        with self._changed:
            if not self._lanes and not self._closed:
                self._warming += 1
                self._open_lane(self._serve_warm)

    def close(self) -> None:
        """End all workers now; files under way are given up. Reading after that begins anew."""
        with self._changed:
            self._closed = True
            lanes = dict(self._lanes)
            for job, batch in self._tasks:
                batch.results.put((job, None, 0.0))
            self._tasks.clear()
            self._changed.notify_all()
        for worker in lanes.values():
            worker.kill()
        for thread in lanes:
            thread.join()
        with self._changed:
            self._closed = False

    def submit(self, job: ReadJob, batch: _Batch) -> None:
        with self._changed:
            self._tasks.append((job, batch))
            if self._waiting + self._warming < len(self._tasks) and len(self._lanes) < self._processes:
                self._open_lane(self._serve)
            if not self._watching:
                self._watching = True
                threading.Thread(target=self._watch, name="decode-watch", daemon=True).start()
            self._changed.notify_all()

    def _open_lane(self, serve: Callable[[WorkerProcess], None]) -> None:
        worker = WorkerProcess(self._limits.files_per_worker, self._module)
        thread = threading.Thread(target=serve, args=(worker,), name="decode", daemon=True)
        self._lanes[thread] = worker
        thread.start()

    def _serve_warm(self, worker: WorkerProcess) -> None:
        worker.start()
        with self._changed:
            self._warming -= 1
        self._serve(worker)

    def _serve(self, worker: WorkerProcess) -> None:
        """One lane: tasks through one worker process until there has been none for a while."""
        try:
            while (task := self._next_task()) is not None:
                job, batch = task
                result, held_mb = self._read(worker, job)
                self._hand_over(batch, job, result, held_mb)
        finally:
            worker.close()
            with self._changed:
                self._lanes.pop(threading.current_thread(), None)
                self._changed.notify_all()

    def _next_task(self) -> tuple[ReadJob, _Batch] | None:
        with self._changed:
            self._waiting += 1
            self._changed.wait_for(lambda: self._tasks or self._closed, timeout=self._idle_seconds)
            self._waiting -= 1
            if self._tasks and not self._closed:
                return self._tasks.popleft()
            self._lanes.pop(threading.current_thread(), None)  # from here on a new task starts a new lane
            return None

    def _read(self, worker: WorkerProcess, job: ReadJob) -> tuple[_Outcome, float]:
        """What became of one file, and the memory that its result still holds."""
        memory_mb = float(self._limits.allowance_mb(job.relative, _size(job)))
        allowance = FileBudget(self._limits.cpu_seconds, self._limits.wall_seconds, int(memory_mb), self._limits.rows)
        with self._changed:
            self._changed.wait_for(lambda: self._fits(memory_mb) or self._closed)
            if self._closed:
                return None, 0.0
            self._memory_mb += memory_mb
        result: _Outcome = None
        held_mb = 0.0
        try:
            result = worker.read(job, allowance)
            held_mb = min(memory_mb, _held_mb(result))
        except WorkFailed as failed:
            result = failed
        except Exception as error:  # noqa: BLE001 - told where results are fetched; a lane that ends would leave it waiting
            result = WorkFailed(words.files.READING_FILES_FAILED.format(kind=type(error).__name__))
        finally:
            self._promise(held_mb - memory_mb)
        return result, held_mb

    def _fits(self, memory_mb: float) -> bool:
        """Whether another file may be begun: one that is too large for all when it is alone, a small one past those."""
        all_mb, past_mb = self._memory_mb + memory_mb, self._limits.past_slow_mb
        within = all_mb <= self._limits.together_mb
        return (
            self._memory_mb < 1.0
            or within
            or (memory_mb <= past_mb / 2 and all_mb - past_mb <= self._limits.together_mb)
        )

    def let_go(self, held_mb: float) -> None:
        """A result was taken, and the memory it held is no longer ours."""
        self._promise(-held_mb)

    @property
    def processes(self) -> int:
        return self._processes

    def _promise(self, more_mb: float) -> None:
        with self._changed:
            self._memory_mb = max(0.0, self._memory_mb + more_mb)
            self._changed.notify_all()

    def _hand_over(self, batch: _Batch, job: ReadJob, result: _Outcome, held_mb: float) -> None:
        with self._changed:
            if not batch.abandoned:
                batch.results.put((job, result, held_mb))
                return
        self._promise(-held_mb)

    def abandon(self, batch: _Batch) -> None:
        """Nobody takes results any more: what is not begun stays unread, what is done is let go."""
        with self._changed:
            batch.abandoned = True
            self._tasks = deque(task for task in self._tasks if task[1] is not batch)
            self._changed.notify_all()
        while not batch.results.empty():
            self._promise(-batch.results.get()[2])

    def _watch(self) -> None:
        """Look after the workers while any is at work."""
        pause = threading.Event()
        while True:
            pause.wait(LOOK_SECONDS)
            with self._changed:
                workers = list(self._lanes.values())
                if not self._tasks and self._waiting == len(workers):
                    self._watching = False
                    return
            for worker in workers:
                worker.look()
            self._go_past_slow_ones(workers)

    def _go_past_slow_ones(self, workers: Sequence[WorkerProcess]) -> None:
        """Where all are held up by slow files and others wait, have a process more."""
        slow = sum(worker.seconds > SLOW_SECONDS for worker in workers)
        with self._changed:
            crowded = bool(self._tasks) and not self._waiting and not self._closed
            if crowded and slow == len(self._lanes) < self._processes + MORE_PROCESSES:
                self._open_lane(self._serve)


def _held_mb(result: ReadResult | None) -> float:
    if result is None or result.facts is None:
        return 0.0
    return sum(column.nbytes for r in result.facts.recordings for column in r.samples.values()) / MB


def _size(job: ReadJob) -> int:
    try:
        return (job.root / as_name(job.relative)).lstat().st_size
    except (OSError, ValueError):
        return 0
