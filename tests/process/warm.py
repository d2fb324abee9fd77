"""Programs forked from a process that has imported them already: starting Python costs more than most tests do.

The command line, the streams and the surroundings are a process's own; what is not tried in this way is the start of
the interpreter and of the imports, for which `Daemon` and `as_process` are asked for a real start where it is meant.
What such a program starts to read files and to draw pages is forked too.
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
import selectors
import signal
import socket
import subprocess
import sys
import threading
import weakref
from collections.abc import Callable, Mapping, Sequence
from functools import cache, partial
from pathlib import Path
from typing import Any, TextIO

ROOT = Path(__file__).parent.parent.parent
used = False
"""Tests switch it on where `POSSIBLE`; what measures a program has it started as users do."""
POSSIBLE = hasattr(os, "pidfd_open") and hasattr(os, "fork")  # a process that is not one's own child is waited for
ADDRESS = "\0fallow-warm-{}"
"""Where the process of this number is asked by those that it has forked."""
FORKED_TOO = ("monitor.intake.worker_main", "monitor.board.drawers")
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
            return _answer(self._socket, question, files)

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


class Running:
    """A process that was forked, with as much of `subprocess.Popen` as is asked for."""

    def __init__(self, pid: int, ask: Callable[..., int]) -> None:
        self.pid, self._ask = pid, ask
        self._ended = os.pidfd_open(pid)
        weakref.finalize(self, os.close, self._ended)
        self._turn = threading.Lock()
        self.returncode: int | None = None

    def poll(self) -> int | None:
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.wait(0)
        return self.returncode

    def wait(self, timeout: float | None = None) -> int:
        if self.returncode is None:
            if not select.select([self._ended], [], [], timeout)[0]:
                raise subprocess.TimeoutExpired(str(self.pid), timeout or 0)
            with self._turn:
                if self.returncode is None:
                    self.returncode = os.waitstatus_to_exitcode(self._ask("reap", self.pid))
        return self.returncode

    def send_signal(self, number: signal.Signals) -> None:
        if self.poll() is None:
            signal.pidfd_send_signal(self._ended, number)

    def kill(self) -> None:
        self.send_signal(signal.SIGKILL)


class Forked(Running):
    """Such a program, and what it says."""

    def __init__(self, program: str, arguments: Sequence[str], env: Mapping[str, str]) -> None:
        out, their_out = os.pipe()
        err, their_err = os.pipe()
        nothing = os.open(os.devnull, os.O_RDONLY)
        question = ("fork", program, list(arguments), dict(env))
        super().__init__(warm().ask(*question, files=[nothing, their_out, their_err]), warm().ask)
        for each in (nothing, their_out, their_err):
            os.close(each)
        self.stdout: TextIO = os.fdopen(out, encoding="utf-8")
        self.stderr: TextIO = os.fdopen(err, encoding="utf-8")

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
    first, door = socket.socket(fileno=number), socket.socket(socket.AF_UNIX)
    door.bind(ADDRESS.format(os.getpid()))
    door.listen()
    asking = selectors.DefaultSelector()
    for each in (first, door):
        asking.register(each, selectors.EVENT_READ)
    here = os.getpid()
    while True:
        for key, _ in asking.select():
            one: Any = key.fileobj
            if one is door:
                asking.register(door.accept()[0], selectors.EVENT_READ)
                continue
            try:
                begun = _answered(one)
            except EOFError:
                if one is first:
                    os._exit(0)
                asking.unregister(one)
                one.close()
                continue
            if begun:
                for other in list(asking.get_map().values()):
                    other.fileobj.close()
                asking.close()
                return _become(here, *begun)


def _answered(one: socket.socket) -> tuple[Any, ...] | None:
    """In what was forked, what it is to be; EOFError where whoever asked is gone."""
    said, files, _, _ = socket.recv_fds(one, 4, 3)
    if not said:
        raise EOFError
    question, *more = json.loads(_exactly(one, int.from_bytes(said, "big")))
    if question == "reap":
        answer = os.waitpid(more[0], 0)[1]
    else:
        answer = os.fork()
        if answer == 0:
            return (*more, files)
    for each in files:
        os.close(each)
    try:
        one.sendall(answer.to_bytes(4, "big", signed=True))
    except OSError:
        raise EOFError from None
    return None


def _become(parent: int, program: str, arguments: list[str], env: dict[str, str], files: list[int]) -> str:
    for number, each in enumerate(files):
        os.dup2(each, number)
        os.close(each)
    os.environ.clear()
    os.environ.update(env)
    encoding = env.get("PYTHONIOENCODING", "utf-8")
    sys.stdin = sys.__stdin__ = open(0, encoding=encoding, closefd=False)  # noqa: SIM115 - as an interpreter does
    sys.stdout = sys.__stdout__ = open(1, "w", encoding=encoding, closefd=False)  # noqa: SIM115 - open as long as the process
    sys.stderr = sys.__stderr__ = open(2, "w", 1, encoding, "backslashreplace", closefd=False)  # noqa: SIM115 - open as long as the process
    sys.argv[:] = ["-c", *arguments]
    subprocess.Popen = partial(_begun, parent, subprocess.Popen)
    return program


# In what was forked.


def _begun(parent: int, popen: Callable[..., Any], command: Any, *given: Any, **more: Any) -> Any:
    """What a program starts: forked where that is known to do the same."""
    if isinstance(command, list) and command[:3] == [sys.executable, "-P", "-m"] and command[3] in FORKED_TOO:
        return Helper(parent, command[3], **more)
    return popen(command, *given, **more)


class Helper(Running):
    """A process of which this one asks and that answers."""

    def __init__(self, parent: int, module: str, *, stderr: Any, env: dict[str, str], **_: object) -> None:
        theirs, asked = os.pipe()
        told, their_told = os.pipe()
        nothing = os.open(os.devnull, os.O_WRONLY)
        program = f"import os; os.setsid(); import {module} as begun; begun.main()"

        def ask(*question: object, files: Sequence[int] = ()) -> int:
            with socket.socket(socket.AF_UNIX) as door:
                door.connect(ADDRESS.format(parent))
                return _answer(door, question, files)

        errors = nothing if stderr == subprocess.DEVNULL else stderr.fileno()
        super().__init__(ask("fork", program, [], env, files=[theirs, their_told, errors]), ask)
        for each in (theirs, their_told, nothing):
            os.close(each)
        self.stdin, self.stdout = os.fdopen(asked, "wb"), os.fdopen(told, "rb")


def _answer(to: socket.socket, question: Sequence[object], files: Sequence[int]) -> int:
    said = json.dumps(question).encode()
    socket.send_fds(to, [len(said).to_bytes(4, "big")], files)
    to.sendall(said)
    return int.from_bytes(_exactly(to, 4), "big", signed=True)


def _exactly(stream: socket.socket, size: int) -> bytes:
    got = b""
    while len(got) < size:
        block = stream.recv(size - len(got))
        if not block:
            raise EOFError
        got += block
    return got
