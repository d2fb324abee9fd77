"""Backfill of one-hour recordings against the fast decoder alone and against a plain loop; prints ratios.

Run by hand: python -m tests.bench.backfill [FILES]
"""

from __future__ import annotations

import os
import sys
import tempfile
import threading
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import duckdb
import fitfast
import fitparse
import numpy as np

from monitor.alerts.responses import SendResult
from monitor.clock import FixedClock
from monitor.folders.listing import settled
from monitor.home import Home
from monitor.intake.workers import Workers
from monitor.roster import read_roster
from monitor.scanning import Scanner
from tests.bench import machine
from tests.fitwriter import activity

ROSTER = """
[[athlete]]
id = "runa"
folder = "exports"
timezone = "Europe/Oslo"
hr_max = 190
[[athlete.race]]
event = "marathon"
finish = 2026-10-04T13:47:00
"""
PLAIN_FILES = 2
FIRST = datetime(2021, 1, 1, 6, tzinfo=UTC)


def recording(number: int) -> bytes:
    """An hour at 1 Hz with the noise of a device, one every day."""
    return recording_at(FIRST + timedelta(days=number), number)


def recording_at(begins: datetime, number: int) -> bytes:
    """The same at any time."""
    rng = np.random.default_rng(number)
    seconds = np.arange(3600.0)
    speed = np.clip(2.8 + np.cumsum(rng.normal(0, 0.01, 3600)) * 0.2 + rng.normal(0, 0.1, 3600), 0.5, 5)
    distance = np.cumsum(speed)
    columns = {
        "t_s": seconds,
        "hr_bpm": np.round(138 + 8 * np.sin(seconds / 300) + np.cumsum(rng.normal(0, 0.15, 3600)) * 0.3),
        "speed_mps": speed,
        "cadence_spm": np.round(166 + rng.normal(0, 1.5, 3600)),
        "distance_m": distance,
        "altitude_m": 120 + 15 * np.sin(distance / 700) + rng.normal(0, 0.2, 3600),
        "lat_deg": 59.9 + distance / 111_320 + rng.normal(0, 2e-6, 3600),
        "lon_deg": 10.7 + rng.normal(0, 2e-6, 3600).cumsum() / 3,
        "temperature_c": np.full(3600, 11.0),
    }
    return activity(begins, "running", "generic", columns, utc_offset_s=3600)


def plain_loop(files: list[Path], store: Path) -> float:
    """Decode with fitparse and insert frame by frame: what a first attempt would do."""
    begin = time.perf_counter()
    with duckdb.connect(str(store)) as con:
        con.execute("CREATE TABLE record (file VARCHAR, moment TIMESTAMP, hr INTEGER, speed DOUBLE, distance DOUBLE)")
        for file in files:
            for message in fitparse.FitFile(str(file)).get_messages("record"):
                row = message.get_values()
                con.execute(
                    "INSERT INTO record VALUES (?, ?, ?, ?, ?)",
                    [file.name, row.get("timestamp"), row.get("heart_rate"), row.get("speed"), row.get("distance")],
                )
    return time.perf_counter() - begin


def fast_alone(files: list[Path]) -> tuple[float, float]:
    """The fast decoder in one process, nothing kept: seconds by the clock and of the processor."""
    begin, spent = time.perf_counter(), time.process_time()
    for file in files:
        fitfast.parse(file.read_bytes())
    return time.perf_counter() - begin, time.process_time() - spent


def ours(home: Home, files: int) -> tuple[float, float, float]:
    """The whole way into a new store, judged: seconds by the clock and of the processor, most MB; all processes."""
    most, done = [0.0], threading.Event()

    def watch() -> None:
        while not done.wait(0.5):
            most.append(machine.tree(os.getpid()).proportional_mb)

    threading.Thread(target=watch, daemon=True).start()
    begin, spent = time.perf_counter(), machine.own_cpu_seconds()
    clock = FixedClock(datetime(2026, 10, 20, tzinfo=UTC))
    with Workers() as workers:
        scanner = Scanner(
            home, read_roster(home.roster), clock, workers=workers, send=lambda *_, **__: SendResult(True)
        )
        ready, _, _ = settled(home.path / "exports", scanner.known_of(["runa"])["runa"], wall=lambda: 4e9)
        report = scanner.take([("runa", seen) for seen in ready])
    took = time.perf_counter() - begin, machine.own_cpu_seconds() - spent, max(most)
    done.set()
    assert report.tally.sessions == files, report.counts()
    return took


def main(count: int) -> None:
    with tempfile.TemporaryDirectory() as name:
        home = Home(Path(name) / "home").made()
        exports = home.path / "exports"
        exports.mkdir()
        home.roster.write_text(ROSTER)
        files = [exports / f"{number:05}.fit" for number in range(count)]
        for number, file in enumerate(files):
            file.write_bytes(recording(number))
        half = len(files) // 2
        first = fast_alone(files[:half])
        taken, used, memory = ours(home, count)
        last = fast_alone(files[half:])  # before and after, so that both saw the same machine
        fast, fast_used = first[0] + last[0], first[1] + last[1]
        plain = plain_loop(files[:PLAIN_FILES], Path(name) / "plain.duckdb") / PLAIN_FILES * count
        size, store = sum(file.stat().st_size for file in files), home.store.stat().st_size
    cores = os.cpu_count() or 1
    print(machine.about())
    print(f"{count} files, {size / 1e6:.0f} MB; plain loop {plain:.0f} s (from {PLAIN_FILES} files)")
    print(f"fast decoder alone {fast:.1f} s, of the processor {fast_used:.1f}; fallow {taken:.1f}, {used:.1f}")
    print(f"fallow / fast decoder alone  {taken / fast:.2f} by the clock   (wanted: at most 3)")
    print(f"                             {used / cores / fast_used:.2f} by processor time spread over {cores} cores")
    print(f"a file, by the clock         {taken / count * 1e3:.1f} ms   (wanted: at most 10)")
    print(f"a file, of the processor     {used / count * 1e3:.1f} ms   (wanted: at most 18)")
    print(f"memory, all processes        {memory:.0f} MB (PSS)   (wanted: under 400)")
    print(f"plain loop / fallow          {plain / taken:.0f}   (wanted: at least 30)")
    print(f"store / exports              {store / size:.2f}, {store / count / 1e3:.0f} kB each   (wanted: at most 0.4)")
    print(f"a season of 250 such hours   {store / count * 250 / 1e6:.0f} MB an athlete")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
