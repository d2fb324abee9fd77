"""Backfill of one-hour recordings against the fast decoder alone and against a plain loop; prints ratios.

Run by hand: python -m tests.bench.backfill [FILES]
"""

from __future__ import annotations

import os
import platform
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import duckdb
import fitfast
import fitparse
import numpy as np

from monitor.alerts.channels import SendResult
from monitor.clock import FixedClock
from monitor.folders.one_pass import settled
from monitor.home import Home
from monitor.intake.workers import Workers
from monitor.roster import read_roster
from monitor.scanning import Scanner
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
FIRST = datetime(2021, 1, 1, 6, tzinfo=UTC)


def recording(number: int) -> bytes:
    """An hour at 1 Hz with the noise of a device, one every day."""
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
    return activity(FIRST + timedelta(days=number), "running", "generic", columns, utc_offset_s=3600)


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


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    with tempfile.TemporaryDirectory() as name:
        home = Home(Path(name) / "home").made()
        exports = home.path / "exports"
        exports.mkdir()
        home.roster.write_text(ROSTER)
        files = []
        for number in range(count):
            files.append(exports / f"{number:05}.fit")
            files[-1].write_bytes(recording(number))
        begin = time.perf_counter()
        for file in files:
            fitfast.parse(file.read_bytes())
        fast = time.perf_counter() - begin
        some = files[:3]
        plain = plain_loop(some, Path(name) / "plain.duckdb") / len(some) * count
        begin = time.perf_counter()
        with Workers() as workers:
            scanner = Scanner(
                home,
                read_roster(home.roster),
                FixedClock(datetime(2026, 10, 20, tzinfo=UTC)),
                workers=workers,
                send=lambda *_: SendResult(True),
            )
            ready, _, _ = settled(exports, scanner.known("runa"), wall=lambda: 4e9)
            report = scanner.take([("runa", seen) for seen in ready])
        ours = time.perf_counter() - begin
        size = sum(file.stat().st_size for file in files)
        print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}; {count} files, {size / 1e6:.0f} MB")
        print(f"fast decoder alone {fast:.1f} s; plain loop {plain:.0f} s (from {len(some)} files); fallow {ours:.1f} s")
        print(f"fallow / fast decoder alone  {ours / fast:.2f}   (wanted: at most 3)")
        print(f"plain loop / fallow          {plain / ours:.1f}   (wanted: at least 30)")
        print(f"store / exports              {home.store.stat().st_size / size:.2f}   (wanted: at most 0.6)")
        print(report.counts())


if __name__ == "__main__":
    main()
