"""What a worker may use for one file, and the system calls that hold it to that."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from rules.limits import default_limits

MB = 1 << 20
ARCHIVES = (".gz", ".zip")


@dataclass(frozen=True, slots=True)
class WorkerLimits:
    """Most that decoding one file may cost; `together_mb` is what all workers may use beyond their empty state.

    Small files may use `past_slow_mb` more, to go past large ones.
    """

    cpu_seconds: float
    wall_seconds: float
    memory_mb: int
    together_mb: int
    rows: int
    files_per_worker: int
    past_slow_mb: int

    @classmethod
    def default(cls) -> WorkerLimits:
        limits = default_limits()
        return cls(
            cpu_seconds=limits.decoding.cpu_seconds,
            wall_seconds=limits.decoding.wall_seconds,
            memory_mb=limits.decoding.memory_mb,
            together_mb=limits.decoding.together_mb,
            rows=limits.decoding.rows,
            files_per_worker=limits.decoding.files_per_worker,
            past_slow_mb=limits.decoding.past_slow_mb,
        )

    def allowance_mb(self, name: str, size: int) -> int:
        """Memory for one file: a fixed part and what decoding takes for each of its bytes; packed ones unfold."""
        decoding = default_limits().decoding
        packed = name.lower().endswith(ARCHIVES)
        each = decoding.memory_per_packed_byte if packed else decoding.memory_per_byte
        return round(min(self.memory_mb, decoding.memory_base_mb + each * size / MB))


@dataclass(frozen=True, slots=True)
class FileBudget:
    """What one file may cost, as it is told to the worker."""

    cpu_seconds: float
    wall_seconds: float
    memory_mb: int
    rows: int


@contextlib.contextmanager
def held_to(allowance: FileBudget) -> Iterator[None]:
    """Limits on this process while it reads one file; beyond them the system ends it, whatever the decoder does.

    They hold without the parent, so that a hanging worker does not outlive a killed parent. Windows has none of them.
    """
    if sys.platform == "win32":
        yield
        return
    _limit_cpu(allowance.cpu_seconds)
    _limit_memory(allowance.memory_mb)
    signal.setitimer(signal.ITIMER_REAL, allowance.wall_seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        _limit_cpu(None)
        _limit_memory(None)


def _limit_cpu(seconds: float | None) -> None:
    import resource  # noqa: PLC0415 - not on Windows

    used = resource.getrusage(resource.RUSAGE_SELF)
    hard = resource.getrlimit(resource.RLIMIT_CPU)[1]
    soft = hard if seconds is None else round(used.ru_utime + used.ru_stime + seconds + 0.5)
    _set(resource.RLIMIT_CPU, soft, hard)


def _limit_memory(more_mb: int | None) -> None:
    """Private memory on top of what is in use. Not the address space: a library that is only mapped costs nothing."""
    import resource  # noqa: PLC0415 - brought only where it is needed

    used = data_bytes()
    if used is None:
        return
    hard = resource.getrlimit(resource.RLIMIT_DATA)[1]
    _set(resource.RLIMIT_DATA, hard if more_mb is None else used + more_mb * MB, hard)


def _set(which: int, soft: int, hard: int) -> None:
    import resource  # noqa: PLC0415 - brought only where it is needed

    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(which, (soft if hard == resource.RLIM_INFINITY else min(soft, hard), hard))


def data_bytes() -> int | None:
    """Private writable memory of this process; None where the system does not tell (then the parent watches)."""
    try:
        return int(Path("/proc/self/statm").read_text("ascii").split()[5]) * os.sysconf("SC_PAGE_SIZE")
    except (OSError, ValueError, IndexError):
        return None


def resident_mb(process_id: int) -> float | None:
    """Memory that a process holds, seen from outside; None where it cannot be told."""
    try:
        pages = int(Path(f"/proc/{process_id}/statm").read_text("ascii").split()[1])
        return pages * os.sysconf("SC_PAGE_SIZE") / MB
    except (OSError, ValueError, IndexError):
        pass
    if sys.platform == "win32" or sys.platform == "linux":
        return None
    try:
        told = subprocess.run(
            ["/bin/ps", "-o", "rss=", "-p", str(process_id)], capture_output=True, check=True, timeout=5
        )
        return int(told.stdout) / 1024
    except (OSError, ValueError, subprocess.SubprocessError):
        return None
