"""One new file among many athletes with a season each: processor time from settled file to queued alert, and openings.

Run by hand: python -m tests.bench.file_cost [ATHLETES ...]; prints ratios to the first. All processes count.
"""

from __future__ import annotations

import cProfile
import os
import pstats
import statistics
import sys
import tempfile
from datetime import timedelta
from pathlib import Path

from monitor.alerts.responses import SendResult
from monitor.home import Home
from monitor.intake.workers import Workers
from monitor.roster import read_roster
from monitor.scanning import Scanner
from monitor.store.connections import kept
from tests.bench import machine, seasons
from tests.bench.backfill import recording_at
from tests.bench.day_of_200 import DayClock

FILES, WARM = 20, 3
"""So many files are measured, after so many others: the worker starts and modules are loaded with the first."""


def one_by_one(home: Home, files: int) -> tuple[list[float], list[int], cProfile.Profile]:
    """A file each of so many athletes: processor seconds and openings of the store for each, and a profile of all."""
    roster, clock = read_roster(home.roster), DayClock(seasons.NOW)
    spent: list[float] = []
    openings: list[int] = []
    profile = cProfile.Profile()
    with Workers(1) as workers, kept(home.store), seasons.counted_openings() as opened:
        scanner = Scanner(home, roster, clock, workers=workers, send=lambda *_, **__: SendResult(True), patient=True)
        known = scanner.known_of([one.id for one in roster.athletes])
        scanner.timers()
        for n in range(files + WARM):
            athlete = roster.athletes[n % len(roster.athletes)]
            began = clock.now() - timedelta(hours=2 * (1 + n // len(roster.athletes)))  # never the same session twice
            seen = seasons.queue_item(athlete.folder, f"new-{n}.fit", recording_at(began, n))
            assert seen.relative not in known[athlete.id]
            before, opens = machine.tree(os.getpid()).cpu_seconds, len(opened)
            if os.environ.get("PROFILE") and n >= WARM:
                profile.runcall(scanner.take, [(athlete.id, seen)])
            else:
                scanner.take([(athlete.id, seen)])
            spent.append(machine.tree(os.getpid()).cpu_seconds - before)
            openings.append(len(opened) - opens)
        scanner.close()
    return spent[WARM:], openings[WARM:], profile


def main(sizes: list[int]) -> None:
    print(machine.about())
    first = 0.0
    for athletes in sizes:
        with tempfile.TemporaryDirectory() as folder:
            home = seasons.home_of(Path(folder) / "home", athletes)
            spent, openings, profile = one_by_one(home, FILES)
        mean = statistics.mean(spent)
        first = first or mean
        print(
            f"{athletes} athletes: {mean:.3f} s of processor a file from settled to queued ({mean / first:.2f} of the"
            f" first), {statistics.mean(openings):.1f} openings of the store"
        )
        if os.environ.get("PROFILE"):
            pstats.Stats(profile).sort_stats("tottime").print_stats(35)
            pstats.Stats(profile).sort_stats("cumtime").print_stats(60)
    print("wanted: at most 0.1 s, ratio at most 1.1, 2 openings")


if __name__ == "__main__":
    main([int(one) for one in sys.argv[1:]] or [20, 1000])
