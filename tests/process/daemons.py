"""A real daemon on a real home, with an athlete three days after a race and a local alert target."""

from __future__ import annotations

import os
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from monitor.store.database import Store
from tests.fitwriter import activity
from tests.homes import fallow
from tests.process import warm
from tests.process.warm import Forked
from tests.waiting import PATIENCE_SECONDS

ROOT = Path(__file__).parent.parent.parent
PROGRAM = [sys.executable, "-c", "from monitor.cli.main import run; run()"]
HURRIED = """
import sys
from datetime import timedelta
from monitor.alerts import leases
from monitor.daemon import loop
leases.GATHER = timedelta(seconds=%s)
loop.TIMERS_SECONDS = 5.0
from monitor.cli.main import run
run(sys.argv[1:])
"""
"""The program with another time in which alerts gather into one message, and in which the clock is looked at, so that
nobody need wait for the usual ones."""
LOOK_APART_SECONDS = 0.4  # whoever looks into the store keeps the daemon out of it meanwhile


def surroundings(extra: Mapping[str, str] | None = None) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if name not in ("FALLOW_HOME", "NOTIFY_SOCKET")}
    return {**kept, "PYTHONIOENCODING": "utf-8", **(extra or {})}


def started(command: Sequence[str], env: Mapping[str, str], *, anew: bool) -> subprocess.Popen[str] | Forked:
    """A program of Python as a process; in tests forked from a warm one but where it is to start `anew`."""
    if warm.used and not anew:
        return Forked(command[2], command[3:], env)
    return subprocess.Popen(
        command, cwd=ROOT, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8"
    )


def as_process(*arguments: str, home: Path, anew: bool = True) -> subprocess.CompletedProcess[str]:
    """One command to its end, where it matters that it is a process of its own."""
    command = [*PROGRAM, *arguments, "--home", str(home)]
    process = started(command, surroundings(), anew=anew)
    said, errors = process.communicate(timeout=PATIENCE_SECONDS)
    return subprocess.CompletedProcess(command, process.wait(), said, errors)


def told(*arguments: str, home: Path) -> Any:
    """What a command says as JSON, asked beside the daemon."""
    return fallow(*arguments, "--json", home=home).json()


def ledger(home: Path) -> dict[str, str]:
    """Every file seen and what became of it, read beside the daemon."""
    with Store(home / "fallow.duckdb").reading() as con:
        return dict(con.execute("SELECT path, state FROM intake WHERE current").fetchall())


def until(condition: Callable[[], object], what: str, seconds: float = PATIENCE_SECONDS) -> None:
    """Wait until something that tells nobody is so."""
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, f"not within {seconds} s: {what}"
        threading.Event().wait(LOOK_APART_SECONDS)


class Daemon:
    """`fallow watch`, or another command that is not waited for, as a process; with `extra` it starts anew."""

    def __init__(
        self,
        home: Path,
        extra: Mapping[str, str] | None = None,
        command: Sequence[str] = ("watch",),
        *,
        anew: bool = False,
    ) -> None:
        whole = [*command] if command[0] == sys.executable else [*PROGRAM, *command, "--home", str(home)]
        self.process = started(whole, surroundings(extra), anew=anew or bool(extra))
        self.said: list[str] = []
        self._lines: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.said.append(line.rstrip("\n"))
            self._lines.put(self.said[-1])
        self._lines.put("(ended)")

    def ready(self) -> str:
        """Its first line, which says that it watches."""
        try:
            return self._lines.get(timeout=PATIENCE_SECONDS)
        except queue.Empty:
            raise AssertionError(f"never ready: {self.end(signal.SIGKILL)}") from None

    def end(self, number: signal.Signals = signal.SIGTERM) -> tuple[int, str]:
        """Its exit status and what it said on the side."""
        self.process.send_signal(number)
        assert self.process.stderr is not None
        try:
            status = self.process.wait(PATIENCE_SECONDS)
        except subprocess.TimeoutExpired:
            self.process.kill()
            raise
        self._reader.join(PATIENCE_SECONDS)
        errors = self.process.stderr.read()
        self.process.stderr.close()
        if self.process.stdout is not None:
            self.process.stdout.close()
        return status, errors


@contextmanager
def watching(home: Path, extra: Mapping[str, str] | None = None, *, folders: int = 1) -> Iterator[Daemon]:
    """A daemon that is ready, and that is ended whatever happens."""
    daemon = Daemon(home, extra)
    try:
        assert daemon.ready() == f"watching {folders} folders"
        yield daemon
    finally:
        if daemon.process.poll() is None:
            daemon.end(signal.SIGKILL)


def home_of(
    path: Path, url: str, *, name: str = "Runa Vik", more: str = "", athletes: Sequence[str] = ("runa",)
) -> Path:
    """A home whose athletes finished a marathon two and a half days ago and may not run."""
    home = path / "home"
    finish = datetime.now(UTC) - timedelta(hours=60)
    text = f'''
[alerts]
quiet_hours = ""
silent_after_hours = 600

[[contact]]
id = "coach"
name = "Coach Ida"
urls = ["{url}"]
'''
    for athlete in athletes:
        (home / "exports" / athlete).mkdir(parents=True)
        text += f'''
[[athlete]]
id = "{athlete}"
name = "{name}"
folder = "exports/{athlete}"
timezone = "UTC"
born = 1991
hr_max = 188
contacts = ["coach"]
{more}
[[athlete.race]]
event = "marathon"
finish = {finish.strftime("%Y-%m-%dT%H:%M:%S")}
'''
    (home / "roster.toml").write_text(text, "utf-8")
    return home


def exports(home: Path, athlete: str = "runa") -> Path:
    return home / "exports" / athlete


def run_file(hours_ago: float, minutes: int = 25) -> bytes:
    """A steady run that ended so many hours ago, where running is not allowed."""
    seconds = np.arange(minutes * 60, dtype=float)
    samples = {
        "t_s": seconds,
        "hr_bpm": 132 + 4 * np.sin(seconds / 60),
        "speed_mps": np.full(len(seconds), 2.8),
        "cadence_spm": np.full(len(seconds), 168.0),
        "distance_m": 2.8 * seconds,
    }
    start = datetime.now(UTC).replace(microsecond=0) - timedelta(hours=hours_ago, minutes=minutes)
    return activity(start, "running", samples=samples)


def snapshot(folder: Path) -> dict[str, tuple[int, int, int]]:
    """Everything in a folder by size, time and mode: to see that nothing was touched."""
    return {
        str(path.relative_to(folder)): (found.st_size if path.is_file() else 0, found.st_mtime_ns, found.st_mode)
        for path in sorted(folder.rglob("*"))
        if (found := path.lstat())
    }
