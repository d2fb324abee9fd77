"""One worker process seen from the parent: started when first needed, killed when it goes too far, replaced."""

from __future__ import annotations

import contextlib
import os
import pickle
import signal
import struct
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import IO, Any

import monitor
from monitor import words
from monitor.errors import WorkFailed
from monitor.intake.reading import ReadJob, ReadResult, fingerprint
from monitor.intake.worker_limits import FileBudget, resident_mb

# Objects through a pipe between a worker and its parent; arrays go beside the pickle, uncopied.

_HEAD = struct.Struct("<I")
_LENGTH = struct.Struct("<Q")
END_OF_PIPE = EOFError("the other end is closed")


def send(stream: IO[bytes], value: object) -> None:
    """Write one object; BrokenPipeError when nobody reads any more."""
    beside: list[pickle.PickleBuffer] = []
    main = pickle.dumps(value, protocol=5, buffer_callback=beside.append)
    stream.write(_HEAD.pack(len(beside)))
    for block in (memoryview(main), *(buffer.raw() for buffer in beside)):
        stream.write(_LENGTH.pack(block.nbytes))
        stream.write(block)
    stream.flush()


def receive(stream: IO[bytes]) -> Any:
    """Read one object; EOFError when the other end is gone, also in the middle of it."""
    (count,) = _HEAD.unpack(_exactly(stream, _HEAD.size))
    main = _block(stream)
    return pickle.loads(main, buffers=[_block(stream) for _ in range(count)])


def _block(stream: IO[bytes]) -> bytearray:
    (length,) = _LENGTH.unpack(_exactly(stream, _LENGTH.size))
    return _exactly(stream, length)


def _exactly(stream: IO[bytes], length: int) -> bytearray:
    data = bytearray(length)
    view, filled = memoryview(data), 0
    while filled < length:
        got = stream.readinto(view[filled:])  # type: ignore[attr-defined]  # pipes have it, IO does not say so
        if not got:
            raise END_OF_PIPE
        filled += got
    return data


STARTS = 3
GRACE_SECONDS = 2.0  # the worker's own alarm comes first; this is for one that is stopped or has none
LONG_SECONDS = 0.5  # most files are read in less; only longer ones are worth a look at their memory from outside
RECYCLE_ABOVE_MB = 128  # a process that had so much for a file gives it back by ending
# What of the environment a decoder is given. Alert addresses stand in the environment too and are not its business.
KEPT_VARIABLES = frozenset(
    {"PATH", "HOME", "LANG", "TZ", "TMPDIR", "TEMP", "TMP", "SYSTEMROOT", "VIRTUAL_ENV", "PYTHONHOME", "PYTHONTZPATH"}
    | {"LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH", "PYTHONUTF8"}
)


class WorkerProcess:
    """Serves one file at a time. `read` is called by one thread, `look` and `kill` by others."""

    def __init__(self, files_per_worker: int, module: str) -> None:
        self._files_per_worker = files_per_worker
        self._module = module
        self._process: subprocess.Popen[bytes] | None = None
        self._printed = tempfile.TemporaryFile()  # noqa: SIM115 - as long as this lives; read only after a crash
        self._lock = threading.Lock()
        self._allowance: FileBudget | None = None
        self._since = 0.0
        self._gone_too_far: str | None = None
        self._files = 0
        self._closed = False

    @property
    def process_id(self) -> int | None:
        process = self._process
        return process.pid if process is not None and process.poll() is None else None

    @property
    def seconds(self) -> float:
        """How long the file under way has taken so far; 0 between files."""
        with self._lock:
            return 0.0 if self._allowance is None else time.monotonic() - self._since

    def start(self) -> None:
        """Have the process ready before there is a file; where that fails, the first file's read says so."""
        with contextlib.suppress(WorkFailed):
            self._started()

    def read(self, job: ReadJob, allowance: FileBudget) -> ReadResult | None:
        """The worker's result; where it died over the file, the reason. A death from outside gets a second try.

        None when the worker was closed meanwhile: then nothing is known of the file.
        """
        for _ in range(2):
            try:
                result = None if self._closed else self._ask(job, allowance)
            except WorkFailed:
                if not self._closed:
                    raise
                return None
            if result is not None:
                return result
        return None if self._closed else self._lost(job, words.files.DECODER_KILLED)

    def _ask(self, job: ReadJob, allowance: FileBudget) -> ReadResult | None:
        process = self._started()
        with self._lock:
            self._allowance, self._since, self._gone_too_far = allowance, time.monotonic(), None
        try:
            send(_pipe(process.stdin), (job, allowance))
            result, spent = receive(_pipe(process.stdout))
        except (OSError, EOFError):
            return self._died(process, job, allowance)
        finally:
            with self._lock:
                self._allowance = None
        self._files += 1
        if spent or self._files >= self._files_per_worker or allowance.memory_mb > RECYCLE_ABOVE_MB:
            self.stop()
        told: ReadResult = result
        return told

    def _started(self) -> subprocess.Popen[bytes]:
        """A process that is ready: what its start takes is not the file's fault. WorkFailed when none can be had."""
        process = self._process
        if process is not None and process.poll() is None:
            self._printed.seek(0)
            self._printed.truncate()
            return process
        self._files = 0
        for _ in range(STARTS):
            self.stop()
            if self._closed:
                break
            try:
                self._process = process = self._launched()
                receive(_pipe(process.stdout))
            except (OSError, EOFError):
                continue
            return process
        raise WorkFailed(words.files.NO_DECODING_PROCESS)

    def _launched(self) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            [sys.executable, "-P", "-m", self._module],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self._printed,
            env=environment(),
            start_new_session=True,  # an interrupt from the keyboard is for the parent alone
        )

    def _died(self, process: subprocess.Popen[bytes], job: ReadJob, allowance: FileBudget) -> ReadResult | None:
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(GRACE_SECONDS)
        process.kill()
        status = process.wait()
        printed = self._last_words()
        self.stop()
        reason = self._gone_too_far or _reason(status, printed, allowance)
        return None if reason is None else self._lost(job, reason)

    def _lost(self, job: ReadJob, reason: str) -> ReadResult:
        sha256, size = fingerprint(job)
        return ReadResult(sha256, size, None, reason)

    def _last_words(self) -> bytes:
        self._printed.seek(0)
        return self._printed.read(1 << 16)

    def look(self) -> bool:
        """Kill the process where it goes too far; whether it is at work at all."""
        with self._lock:
            allowance, process = self._allowance, self._process
            if allowance is None or process is None:
                return False
            seconds = time.monotonic() - self._since
            if seconds > allowance.wall_seconds + GRACE_SECONDS:
                self._gone_too_far = _too_long(allowance)
            elif seconds > LONG_SECONDS and (resident_mb(process.pid) or 0.0) > allowance.memory_mb + RECYCLE_ABOVE_MB:
                self._gone_too_far = _too_much(allowance)
            if self._gone_too_far is not None:
                process.kill()
            return True

    def stop(self) -> None:
        """End the process, if there is one; it has nothing to save."""
        process, self._process = self._process, None
        if process is None:
            return
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()
        process.kill()
        process.wait()

    def kill(self) -> None:
        """End the process for good, from another thread; the one that reads from it sees the end of the pipe."""
        self._closed = True
        process = self._process
        if process is not None:
            process.kill()

    def close(self) -> None:
        self.stop()
        self._printed.close()


def _pipe(end: IO[bytes] | None) -> IO[bytes]:
    if end is None:
        raise EOFError
    return end


def environment() -> dict[str, str]:
    """Of a process that only computes: no address of anybody, one thread."""
    kept = {name: value for name, value in os.environ.items() if name in KEPT_VARIABLES or name.startswith("LC_")}
    paths = [str(Path(monitor.__file__).resolve().parents[1]), *os.environ.get("PYTHONPATH", "").split(os.pathsep)]
    one_thread = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "POLARS_MAX_THREADS": "1"}
    quiet = {"RUST_BACKTRACE": "0"}  # tracing back a panic takes memory; without any left it waits for itself for ever
    return kept | one_thread | quiet | {"PYTHONPATH": os.pathsep.join(path for path in paths if path)}


def _reason(status: int, printed: bytes, allowance: FileBudget) -> str | None:
    """Why a worker died over its file; None where somebody else ended it."""
    if b"memory allocation" in printed or b"MemoryError" in printed or b"Cannot allocate memory" in printed:
        return _too_much(allowance)
    if sys.platform != "win32":
        if status == -signal.SIGXCPU:
            return words.files.DECODING_TOO_MUCH_CPU.format(cpu_seconds=allowance.cpu_seconds)
        if status == -signal.SIGALRM:
            return _too_long(allowance)
        if status in (-signal.SIGKILL, -signal.SIGTERM, -signal.SIGHUP):
            return None
    return words.files.DECODER_CRASHED


def _too_long(allowance: FileBudget) -> str:
    return words.files.DECODING_TOO_LONG.format(wall_seconds=allowance.wall_seconds)


def _too_much(allowance: FileBudget) -> str:
    return words.files.DECODING_TOO_MUCH_MEMORY.format(memory_mb=allowance.memory_mb)
