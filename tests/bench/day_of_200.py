"""What a day of 200 athletes costs: a recording each, every hour's judgement, the board after each of them.

Run by hand: python -m tests.bench.day_of_200 [ATHLETES [FILES [HOURS]]]; fewer files and hours are counted up.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from datetime import datetime, timedelta
from pathlib import Path

from monitor.alerts.responses import SendResult
from monitor.board import write
from monitor.board.session_view import ViewCache
from monitor.demo import CHAPTERS
from monitor.folders.listing import settled
from monitor.home import Home
from monitor.intake.workers import Workers
from monitor.scanning import Scanner
from rules.limits import default_limits
from tests.bench import machine
from tests.bench.backfill import recording_at
from tests.bench.board_size import season


class DayClock:
    """Stands where it is put."""

    def __init__(self, moment: datetime) -> None:
        self.moment = moment

    def now(self) -> datetime:
        return self.moment

    def monotonic(self) -> float:
        return time.monotonic()


def main(athletes: int, files: int, hours: int) -> None:
    spent: dict[str, list[float]] = {"file": [], "hour": [], "board": []}

    def timed(what: str, begin: float) -> None:
        spent[what].append(machine.tree(os.getpid()).cpu_seconds - begin)

    with tempfile.TemporaryDirectory() as folder, Workers(1) as workers:
        home = Home(Path(folder) / "home")
        roster = season(home, athletes)
        clock, limits = DayClock(CHAPTERS[-1].until), default_limits()
        scanner = Scanner(home, roster, clock, workers=workers, send=lambda *_, **__: SendResult(True))
        scanner.judge_due()  # every athlete once, as on the day before
        scanner.deliver(gather_now=True)
        view_cache = ViewCache(scanner.store, limits)
        write(home, roster, scanner.store, clock.now(), limits, view_cache)
        for n in range(files):
            exports = home.path / "exports" / f"a{n}"
            exports.mkdir(parents=True, exist_ok=True)
            (exports / "today.fit").write_bytes(recording_at(clock.now() - timedelta(hours=2), n))
            begin = machine.tree(os.getpid()).cpu_seconds
            ready, _, _ = settled(exports, scanner.known_of([f"a{n}"])[f"a{n}"], wall=lambda: 4e9)
            scanner.take([(f"a{n}", seen) for seen in ready])
            scanner.deliver(gather_now=True)
            timed("file", begin)
        longest = 0.0
        for _ in range(hours):
            clock.moment += timedelta(hours=1)
            begin = machine.tree(os.getpid()).cpu_seconds
            more = True
            while more:
                since = time.monotonic()
                more = scanner.timers().more
                longest = max(longest, time.monotonic() - since)
            scanner.deliver(gather_now=True)
            timed("hour", begin)
            begin = machine.tree(os.getpid()).cpu_seconds
            write(home, roster, scanner.store, clock.now(), limits, view_cache)
            timed("board", begin)
        memory, store = machine.tree(os.getpid()).resident_mb, home.store.stat().st_size / 1e6
    a_file, hour, board = (statistics.mean(spent[what]) for what in ("file", "hour", "board"))
    day = a_file * athletes + 24 * (hour + board)
    print(machine.about())
    print(f"{athletes} athletes, store {store:.0f} MB, {memory:.0f} MB resident; {files} files, {hours} hours seen")
    print(f"processor time: {a_file:.2f} s a file, {hour:.2f} s an hour's judgement, {board:.2f} s a board")
    print(f"longest part of an hour's judgement, for which a new file waits: {longest:.2f} s by the clock")
    print(f"a day of {athletes} files, 24 hours and 24 boards: {day:.0f} s, {day / 86400:.2%} of a core")


if __name__ == "__main__":
    asked = [int(one) for one in sys.argv[1:]]
    main(*asked, *(200, 200, 24)[len(asked) :])
