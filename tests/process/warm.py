"""Programs forked from a process that has imported them already: starting Python costs more than most tests do.

The command line, the streams and the surroundings are a process's own; what is not tried in this way is the start of
the interpreter and of the imports, for which `Daemon` and `as_process` are asked for a real start where it is meant.
"""

from __future__ import annotations

import atexit
import contextlib
import gc
import importlib
import json
import os
import pkgutil
import select
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any, TextIO

ROOT = Path(__file__).parent.parent.parent
used = False
"""Tests switch it on where `POSSIBLE`; what measures a program has it started as users do."""
POSSIBLE = hasattr(os, "pidfd_open") and hasattr(os, "fork")  # a process that is not one's own child is waited for
PROGRAM = "from tests.process.warm import next_program; exec(next_program({}), {{'__name__': '__main__'}})"


def import_program() -> None:
    """All of its modules but those that are a process of their own."""
    for package in ("rules", "monitor"):
        for module in pkgutil.walk_packages([str(ROOT / package)], f"{package}."):
            if not module.name.endswith("_main"):
                importlib.import_module(module.name)


class Warm:
    """The process that forks; one a test process."""

    def __init__(self) -> None:
        ours, theirs = socket.socketpair()
        with theirs:
            self._process = subprocess.Popen(
                [sys.executable, "-c", PROGRAM.format(theirs.fileno())],
                pass_fds=[theirs.fileno()], cwd=ROOT, stdout=subprocess.DEVNULL,
            )  # fmt: skip
        self._socket = ours
        self._turn = threading.Lock()
        atexit.register(self._end)

    def ask(self, *question: object, files: Sequence[int] = ()) -> int:
        with self._turn:
            said = json.dumps(question).encode()
            socket.send_fds(self._socket, [len(said).to_bytes(4, "big")], files)
            self._socket.sendall(said)
            return int.from_bytes(_exactly(self._socket, 4), "big", signed=True)

    def _end(self) -> None:
        self._socket.close()
        self._process.wait()


STARTING = threading.Lock()


def warm() -> Warm:
    with STARTING:  # of two that were started at once, each would be asked for the other's children
        return _warm()


@cache
def _warm() -> Warm:
    return Warm()


class Forked:
    """Such a program, with as much of `subprocess.Popen` as tests ask for."""

    def __init__(self, program: str, arguments: Sequence[str], env: Mapping[str, str]) -> None:
        out, their_out = os.pipe()
        err, their_err = os.pipe()
        nothing = os.open(os.devnull, os.O_RDONLY)
        self.pid = warm().ask("fork", program, list(arguments), dict(env), files=[nothing, their_out, their_err])
        for each in (nothing, their_out, their_err):
            os.close(each)
        self.stdout: TextIO = os.fdopen(out, encoding="utf-8")
        self.stderr: TextIO = os.fdopen(err, encoding="utf-8")
        self._ended = os.pidfd_open(self.pid)
        self.returncode: int | None = None

    def poll(self) -> int | None:
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.wait(0)
        return self.returncode

    def wait(self, timeout: float | None = None) -> int:
        if self.returncode is None:
            if not select.select([self._ended], [], [], timeout)[0]:
                raise subprocess.TimeoutExpired(str(self.pid), timeout or 0)
            self.returncode = os.waitstatus_to_exitcode(warm().ask("reap", self.pid))
            os.close(self._ended)
        return self.returncode

    def send_signal(self, number: signal.Signals) -> None:
        if self.poll() is None:
            signal.pidfd_send_signal(self._ended, number)

    def kill(self) -> None:
        self.send_signal(signal.SIGKILL)

    def communicate(self, timeout: float | None = None) -> tuple[str, str]:
        """All that it says until its end, or until it is killed for having taken so long."""
        late = threading.Timer(timeout or threading.TIMEOUT_MAX, self.kill)
        late.start()
        errors: list[str] = []
        beside = threading.Thread(target=lambda: errors.append(self.stderr.read()))
        beside.start()
        with self.stdout, self.stderr:
            said = self.stdout.read()
            beside.join()
        self.wait()
        late.cancel()
        return said, errors[0]


# In the process that forks.


def next_program(number: int) -> str:
    """Returns in each forked process, with the text of its program; never in the one that forks."""
    import_program()
    importlib.import_module("monitor.alerts.channels").warm(["json://127.0.0.1:9/"])
    gc.collect()
    gc.freeze()  # so that no forked process copies it all when it collects
    asked = socket.socket(fileno=number)
    while True:
        (question, *more), files = _question(asked)
        if question == "reap":
            answer = os.waitpid(more[0], 0)[1]
        else:
            answer = os.fork()
            if answer == 0:
                asked.close()
                return _become(*more, files)
        for each in files:
            os.close(each)
        asked.sendall(answer.to_bytes(4, "big", signed=True))


def _question(asked: socket.socket) -> tuple[Any, list[int]]:
    said, files, _, _ = socket.recv_fds(asked, 4, 3)
    if not said:
        os._exit(0)  # whoever asked is gone
    return json.loads(_exactly(asked, int.from_bytes(said, "big"))), files


def _become(program: str, arguments: list[str], env: dict[str, str], files: list[int]) -> str:
    for number, each in enumerate(files):
        os.dup2(each, number)
        os.close(each)
    os.environ.clear()
    os.environ.update(env)
    encoding = env.get("PYTHONIOENCODING", "utf-8")
    sys.stdin = sys.__stdin__ = open(0, encoding=encoding, closefd=False)  # noqa: SIM115 - as an interpreter does
    sys.stdout = sys.__stdout__ = open(1, "w", encoding=encoding, closefd=False)  # noqa: SIM115 - as above
    sys.stderr = sys.__stderr__ = open(2, "w", 1, encoding, "backslashreplace", closefd=False)  # noqa: SIM115 - as above
    sys.argv[:] = ["-c", *arguments]
    return program


def _exactly(stream: socket.socket, size: int) -> bytes:
    got = b""
    while len(got) < size:
        block = stream.recv(size - len(got))
        assert block, "the other side is gone"
        got += block
    return got
