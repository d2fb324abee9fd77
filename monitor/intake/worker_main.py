"""The process that decodes: one file at a time as its parent asks, within limits, until the pipe ends."""

from __future__ import annotations

import importlib
import os
import signal
import sys
from typing import IO

from monitor import words
from monitor.intake import worker_process
from monitor.intake.reading import ReadJob, ReadResult, fingerprint, read_path
from monitor.intake.worker_limits import FileBudget, held_to

NEEDED_BEFORE = ("numpy", "monitor.intake.fit", "rules.session.digest")  # loading them is not the file's fault


def main() -> None:
    """Serve the parent. Its end closes the pipe, also when it is killed, and that ends this process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides
    asked, told = _pipes()
    for module in NEEDED_BEFORE:
        importlib.import_module(module)
    worker_process.send(told, "ready")
    while True:
        try:
            job, allowance = worker_process.receive(asked)
        except EOFError:
            return
        result, spent = _read(job, allowance)
        try:
            worker_process.send(told, (result, spent))
        except OSError:
            return
        if spent:
            return


def _pipes() -> tuple[IO[bytes], IO[bytes]]:
    """The two ends to the parent, moved away from where a library might print or read."""
    asked = os.fdopen(os.dup(0), "rb", buffering=0)
    told = os.fdopen(os.dup(1), "wb")
    nothing = os.open(os.devnull, os.O_RDWR)
    os.dup2(nothing, 0)
    os.dup2(nothing, 1)
    sys.stdin = sys.stdout = open(os.devnull, "r+", encoding="utf-8")  # noqa: PTH123, SIM115 - for good
    return asked, told


def _read(job: ReadJob, allowance: FileBudget) -> tuple[ReadResult, bool]:
    """The result, and whether this process is spent: one that ran out of memory once is not to be trusted."""
    try:
        with held_to(allowance):
            return read_path(job, allowance.rows), False
    except MemoryError:
        pass
    sha256, size = fingerprint(job)
    return ReadResult(
        sha256, size, None, words.files.DECODING_TOO_MUCH_MEMORY.format(memory_mb=allowance.memory_mb)
    ), True


if __name__ == "__main__":
    main()
