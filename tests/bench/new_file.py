"""What one new file, `status` and the board cost after 20, 2,000 and 10,000 sessions; prints ratios to the first.

Run by hand: python -m tests.bench.new_file [SESSIONS ...]

Processor time, since the clock tells more of who else is at work; the stores take turns, so that a change of the
machine's mood is shared by all.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from datetime import timedelta
from pathlib import Path

from monitor.home import Home
from monitor.intake.workers import Workers
from tests.bench import machine
from tests.bench.backfill import recording_at
from tests.bench.many_sessions import NOW, home_with, scanner_of, take_all
from tests.process.daemons import ROOT

ROUNDS, FILES = 3, 5
Figures = dict[str, dict[int, list[float]]]


def new_files(path: str, number: int) -> None:
    """In a process of its own: files one after another, as a daemon takes them; prints seconds and memory."""
    home = Home(Path(path))
    exports = home.path / "exports"
    with Workers(1) as workers:
        scanner = scanner_of(home, workers)
        spent, waited = [], []
        for one in range(FILES + 1):
            begins = NOW - timedelta(days=12, hours=3 * (number * (FILES + 1) + one) % 200, minutes=number)
            (exports / f"new-{number}-{one}.fit").write_bytes(recording_at(begins, 7))
            before, begin = machine.tree(os.getpid()), time.perf_counter()
            take_all(scanner, exports)
            after = machine.tree(os.getpid())
            spent.append(after.cpu_seconds - before.cpu_seconds)
            waited.append(time.perf_counter() - begin)
        memory = machine.tree(os.getpid()).resident_mb
    print(json.dumps({"cpu": spent[1:], "wall": waited[1:], "memory": memory}))  # the first one starts the worker


def one_round(homes: dict[int, Home], number: int, figures: Figures) -> None:
    for sessions, home in homes.items():
        told = subprocess.run(
            [sys.executable, "-m", "tests.bench.new_file", "--into", str(home.path), str(number)],
            cwd=ROOT,
            check=True,
            capture_output=True,
            text=True,
        )
        said = json.loads(told.stdout)
        figures["new file, processor s"][sessions] += said["cpu"]
        figures["new file, clock s"][sessions] += said["wall"]
        figures["new file, MB"][sessions].append(said["memory"])
        for name, arguments in (("status", ("status", "--json")), ("board", ("board",))):
            took = machine.command(*arguments, "--as-of", NOW.isoformat(), home=home.path)
            figures[f"{name}, processor s"][sessions].append(took.cpu_seconds)
            figures[f"{name}, MB"][sessions].append(took.most_mb)


def main(sizes: list[int]) -> None:
    figures: Figures = defaultdict(lambda: defaultdict(list))
    with tempfile.TemporaryDirectory() as name:
        homes = {sessions: home_with(Path(name) / str(sessions), sessions) for sessions in sizes}
        for number in range(ROUNDS):
            one_round(homes, number, figures)
        stores = {sessions: home.store.stat().st_size / 1e6 for sessions, home in homes.items()}
    print(machine.about())
    print("sessions".ljust(26), *(f"{sessions:>16}" for sessions in sizes))
    print("store, MB".ljust(26), *(f"{stores[sessions]:>16.0f}" for sessions in sizes))
    for what, by_size in figures.items():
        least = {sessions: statistics.median(values) for sessions, values in by_size.items()}
        first = least[sizes[0]]
        print(what.ljust(26), *(f"{least[one]:>9.3f} ({least[one] / first:.2f})" for one in sizes))
    print("wanted: a new file at most 1.20 of the first")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--into"]:
        new_files(sys.argv[2], int(sys.argv[3]))
    else:
        main([int(one) for one in sys.argv[1:]] or [20, 2000, 10_000])
