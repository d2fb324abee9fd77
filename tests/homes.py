"""Homes for tests of commands and views: a roster, an invented athlete's exports, and how to run a command on them."""

from __future__ import annotations

import atexit
import contextlib
import io
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any
from unittest.mock import patch
from zoneinfo import ZoneInfo

import numpy as np

from monitor.cli.main import run
from monitor.intake import workers
from tests.fitwriter import activity
from tests.waiting import PATIENCE_SECONDS

OSLO = ZoneInfo("Europe/Oslo")
FINISH = datetime(2026, 10, 4, 13, 47, tzinfo=OSLO)
LATER = "2026-10-13T12:00"
"""Day 9, cross-training: all that `exports` holds has happened."""

ROSTER = """\
[alerts]
quiet_hours = "21:30-06:30"

[[contact]]
id = "coach"
name = "Coach Ida"
urls = ["{url}"]

[[athlete]]
id = "runa"
name = "Runa Vik"
folder = "exports/runa"
timezone = "Europe/Oslo"
born = 1991
hr_max = 188
contacts = ["coach"]

[[athlete.race]]
event = "marathon"
finish = 2026-10-04T13:47:00
"""
SECOND = """
[[athlete]]
id = "odd"
name = "Odd Berg"
folder = "exports/odd"
timezone = "Europe/Oslo"
contacts = ["coach"]
"""


@dataclass(frozen=True)
class Ran:
    """What a command printed and how it ended."""

    status: int
    out: str
    err: str

    def json(self) -> Any:
        assert self.status == 0, self.err
        return json.loads(self.out)


class Typed(io.StringIO):
    """Standard input that says whether somebody sits there."""

    def __init__(self, text: str, *, terminal: bool) -> None:
        super().__init__(text)
        self._terminal = terminal

    def isatty(self) -> bool:
        return self._terminal


class KeptWorkers(workers.Workers):
    """Processes that read files for one command after another: starting them costs more than most commands do."""

    def close(self) -> None:
        """They are left for the next command."""

    def end(self) -> None:
        super().close()


@cache
def kept_workers() -> KeptWorkers:
    kept = KeptWorkers(idle_seconds=600)
    atexit.register(kept.end)
    return kept


def fallow(*arguments: str, home: Path | None = None, typed: str = "", terminal: bool = False) -> Ran:
    """Run one command in this process, with `typed` on standard input."""
    given = [*arguments, *(("--home", str(home)) if home else ())]
    out, err = io.StringIO(), io.StringIO()
    status = 0
    with (
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        _standard_input(Typed(typed, terminal=terminal)),
        patch.object(workers, "Workers", kept_workers),
    ):
        try:
            run(given)
        except SystemExit as end:
            status = end.code if isinstance(end.code, int) else 1
    return Ran(status, out.getvalue(), err.getvalue())


@contextlib.contextmanager
def _standard_input(typed: Typed) -> Iterator[None]:
    before = sys.stdin
    sys.stdin = typed
    try:
        yield
    finally:
        sys.stdin = before


def by_cron(line: str, user_home: Path) -> subprocess.CompletedProcess[str]:
    """Do what cron does with a line: five fields, an escaped % is a %, /bin/sh with next to no environment."""
    command = line.split(" ", 5)[5].replace(r"\%", "%")
    bare = {"HOME": str(user_home), "PATH": "/usr/bin:/bin", "SHELL": "/bin/sh", "LOGNAME": "runa"}
    return subprocess.run(
        ["/bin/sh", "-c", command],
        env=bare,
        cwd=user_home,
        capture_output=True,
        text=True,
        timeout=PATIENCE_SECONDS,
        check=False,
    )


def run_on(day: int, hour: int, minutes: int, *, sport: str = "running", speed: float = 2.8, bpm: int = 132) -> bytes:
    """A FIT file of a steady outing so many days after the race."""
    start = (FINISH + timedelta(days=day)).replace(hour=hour, minute=0)
    t = np.arange(0, minutes * 60 + 1, 5.0)
    on_foot = sport in ("running", "walking")
    cadence = np.full_like(t, 166.0 if sport == "running" else 112.0)
    samples = {
        "t_s": t,
        "hr_bpm": bpm + 3 * np.sin(t / 37),
        "speed_mps": speed + 0.1 * np.sin(t / 11),
        "distance_m": speed * t,
        **({"cadence_spm": cadence} if on_foot else {}),
    }
    return activity(start, sport, samples=samples, utc_offset_s=7200)


def exports() -> dict[str, bytes]:
    """A walk, a run in the days off, a ride, three nights, a check-in that shuts the next gate, a torn file."""
    nights = (
        "date,total_sleep_min,resting_hr,rmssd_ms\n2026-10-10,431,48,60\n2026-10-11,402,49,58\n2026-10-12,455,47,61\n"
    )
    stiff = {"date": "2026-10-11", "stairs_unaided": False, "soreness": 5, "pain": 1}
    return {
        "2026-10-06_walk.fit": run_on(2, 12, 30, sport="walking", speed=1.3, bpm=95),
        "2026-10-09_run.fit": run_on(5, 18, 25),
        "2026-10-12_ride.fit": run_on(8, 17, 40, sport="cycling", speed=7.0, bpm=112),
        "nights.csv": nights.encode(),
        "checkins/2026-10-11.checkin.json": json.dumps(stiff).encode(),
        "torn.fit": b"\x0e\x10\xd9\x07\x00\x00\x00\x00.FIT",
    }


def make_home(
    path: Path, roster: str = "", *, url: str = "json://127.0.0.1:9/nobody", files: Mapping[str, bytes] | None = None
) -> Path:
    """A home with a roster and the athlete's exports, not read yet; files are old enough to be settled."""
    (path / "exports/runa").mkdir(parents=True)
    (path / "roster.toml").write_text(roster or ROSTER.format(url=url), "utf-8")
    for name, content in (exports() if files is None else files).items():
        put(path / "exports/runa" / name, content)
    return path


def put(path: Path, content: bytes) -> None:
    """A file that has lain there for an hour."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    before = path.stat().st_mtime - 3600
    os.utime(path, (before, before))


def copy_home(home: Path, to: Path) -> Path:
    """The same home elsewhere, to be changed by one test."""
    return Path(shutil.copytree(home, to))
