"""The way of one FIT file to its alerts: modules, functions, calls into another module, openings of the store.

Run by hand: python -m tests.bench.one_file [--list]

An athlete whose season is already there gets one more run on a day without running. The reading is followed in this
process, as the worker does it, and the pass after it as a daemon makes it that has done the same before: its modules
loaded, its roster read and its store at hand; calls of other packages are not counted.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import FrameType

import duckdb

from monitor.intake.reading import ReadJob, read_path
from monitor.intake.workers import Workers
from monitor.store.connections import kept
from monitor.values import IntakeOptions
from tests.process.daemons import run_file
from tests.scenarios.home import ROSTER, Scene

ROOT = Path(__file__).parents[2]
OURS = (str(ROOT / "monitor"), str(ROOT / "rules"))
FINISH = "2026-10-04T13:47:00"


@dataclass
class Way:
    """What was gone through, counted by module and by function."""

    functions: Counter[tuple[str, str]] = field(default_factory=Counter)
    crossings: int = 0
    openings: int = 0

    @property
    def modules(self) -> set[str]:
        return {module for module, _ in self.functions}

    def see(self, frame: FrameType, event: str, _: object) -> None:
        file = frame.f_code.co_filename
        if event != "call" or not file.startswith(OURS):
            return
        module = file[len(str(ROOT)) + 1 :]
        self.functions[module, frame.f_code.co_qualname] += 1
        caller = frame.f_back
        if caller is not None and caller.f_code.co_filename != file and caller.f_code.co_filename.startswith(OURS):
            self.crossings += 1


@contextmanager
def followed(way: Way) -> Iterator[None]:
    """Counts while it is open; of other threads nothing."""
    connect = duckdb.connect

    def counted(*arguments: object, **named: object) -> object:
        way.openings += 1
        return connect(*arguments, **named)

    duckdb.connect = counted
    sys.setprofile(way.see)
    try:
        yield
    finally:
        sys.setprofile(None)
        duckdb.connect = connect


def ways() -> tuple[Way, Way, int]:
    """(read, store and judge and send, alerts sent) of the last file of one home."""
    now = datetime.now(UTC).replace(microsecond=0)
    finish = (now - timedelta(hours=60)).astimezone().replace(tzinfo=None)
    reading, judging = Way(), Way()
    with tempfile.TemporaryDirectory() as name, Workers(1) as workers:
        scene = Scene(Path(name), workers, ROSTER.replace(FINISH, finish.isoformat()))
        for days in range(30, 5, -2):
            scene.drop(f"before{days}.fit", run_file(24 * days))
        scene.scan(now - timedelta(minutes=1))
        scene.drop("new.fit", run_file(2))
        sent_before = len(scene.sent.messages)
        with followed(reading):
            read_path(ReadJob(scene.exports, "new.fit", IntakeOptions("Europe/Oslo")))
        standing = scene.scanner(now)
        with kept(scene.home.store), followed(judging):
            scene.scan(now, standing)
        return reading, judging, len(scene.sent.messages) - sent_before


def main() -> None:
    ways()  # what a process loads once, it has loaded
    reading, judging, alerts = ways()
    both = reading.modules | judging.modules
    calls = sum(reading.functions.values()) + sum(judging.functions.values())
    print(f"alerts {alerts}")
    print(f"modules {len(both)} (read {len(reading.modules)}, store and judge and send {len(judging.modules)})")
    print(f"functions {len({*reading.functions, *judging.functions})}, calls {calls}")
    print(f"calls into another module {reading.crossings + judging.crossings}")
    print(f"openings of the store {judging.openings}")
    if "--list" in sys.argv[1:]:
        for module in sorted(both):
            of_it = {name for way in (reading, judging) for place, name in way.functions if place == module}
            print(f"{module:45} {len(of_it):3} functions")


if __name__ == "__main__":
    main()
