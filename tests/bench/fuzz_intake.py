"""Mutated files of every kind through the real worker processes; run by hand, prints figures.

    nice python -m tests.bench.fuzz_intake --count 20000 --seed 1

Each file must end as facts or as one line of reason. What counts as a fault: a reader that broke down, a file that is
not accounted for, a change to the folder. Processes that had to be ended are counted apart: that is what they are for.
"""

from __future__ import annotations

import argparse
import gzip
import hashlib
import io
import random
import tempfile
import threading
import time
import zipfile
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from monitor.intake.worker_limits import resident_mb
from monitor.intake.workers import ReadJob, ReadResult, Workers
from monitor.values import IntakeOptions
from tests import fitwriter
from tests.monitor.intake.test_kinds import CHECKIN, NIGHTS, RR, SLEEP, mutated
from tests.xmlbytes import activity, gpx, lap, run, tcx

OPTIONS = IntakeOptions("Europe/Oslo")
BATCH = 250
BROKE_DOWN = "the reader broke down"
ENDED = ("ended", "killed", "memory", "too long", "seconds", "gave up")


def originals() -> dict[str, bytes]:
    """Whole files, a name each."""
    chance = np.random.default_rng(7)
    t_s = np.arange(400.0)
    samples = {
        "t_s": t_s,
        "hr_bpm": 120 + 20 * chance.random(400),
        "speed_mps": 2.5 + chance.random(400),
        "cadence_spm": np.full(400, 168.0),
        "distance_m": 3 * t_s,
        "altitude_m": 100 + np.sin(t_s / 40),
        "lat_deg": 60 + t_s * 2.7e-5,
        "lon_deg": np.full(400, 10.0),
    }
    start = datetime(2026, 10, 6, 6, 0, tzinfo=UTC)
    fit = fitwriter.activity(start, samples=samples, pauses=((100, 160),), rr_ms=[900.0, 910.0, 905.0] * 40)
    night = fitwriter.night(start, [(20, "awake"), (200, "light"), (180, "deep"), (60, "rem")], rmssd_ms=58.0)
    gpx_file = gpx(run(range(200), cadence=84), run(range(260, 400), cadence=84))
    tcx_file = tcx(activity(lap(run(range(200)), run(range(300, 420)), start_s=0, timer_s=320, metres=960)))
    files = {
        "a.fit": fit,
        "night.fit": night,
        "chain.fit": night + fit,
        "a.gpx": gpx_file,
        "a.tcx": tcx_file,
        "nights.csv": NIGHTS + b"".join(b"2026-09-%02d,4%d\n" % (day, day % 9) for day in range(1, 30)),
        "a.json": b"[" + SLEEP + b"," + SLEEP + b"]",
        "a.checkin.json": CHECKIN,
        "a.rr": RR,
        "a.fit.gz": gzip.compress(fit),
        "a.gpx.gz": gzip.compress(gpx_file),
    }
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in ("a.fit", "a.gpx", "nights.csv", "a.checkin.json"):
            archive.writestr(name, files[name])
    return files | {"all.zip": packed.getvalue()}


@dataclass
class Figures:
    outcomes: dict[str, Counter[str]] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)
    ended: Counter[str] = field(default_factory=Counter)
    peak_mb: float = 0.0
    slowest_s: float = 0.0

    def take(self, job: ReadJob, result: ReadResult) -> None:
        kind = job.relative.partition("_")[2]
        state = "damaged" if result.facts and result.facts.damaged else "read" if result.facts else "unreadable"
        self.outcomes.setdefault(kind, Counter())[state] += 1
        reason = result.reason or ""
        if reason.startswith(BROKE_DOWN) or not (reason or "x").isprintable():
            self.faults.append(f"{job.relative}: {reason!r}")
        elif any(word in reason for word in ENDED) and not result.facts:
            self.ended[reason] += 1


def watch_memory(workers: Workers, figures: Figures, over: threading.Event) -> None:
    """Most memory that all decoding processes held together."""
    while not over.wait(0.1):
        figures.peak_mb = max(figures.peak_mb, sum(resident_mb(pid) or 0.0 for pid in workers.process_ids()))


def fuzz_batch(
    folder: Path, first: int, seed: int, files: dict[str, bytes], workers: Workers, figures: Figures
) -> None:
    names = sorted(files)
    jobs = []
    for number in range(first, first + BATCH):
        name = names[number % len(names)]
        path = folder / f"{number:06d}_{name}"
        path.write_bytes(mutated(files[name], seed * 1_000_003 + number))
        jobs.append(ReadJob(folder, path.name, OPTIONS))
    before = state_of(folder)
    seen: set[str] = set()
    last = time.monotonic()
    for job, result in workers.read_many(jobs):
        figures.slowest_s, last = max(figures.slowest_s, time.monotonic() - last), time.monotonic()
        figures.take(job, result)
        if result.sha256 != hashlib.sha256((folder / job.relative).read_bytes()).hexdigest():
            figures.faults.append(f"{job.relative}: the answer is not about this file")
        if result.reason is not None and result.reason.startswith(BROKE_DOWN):
            Path(tempfile.gettempdir(), f"fuzz-{job.relative}").write_bytes((folder / job.relative).read_bytes())
        seen.add(job.relative)
    figures.faults += [f"{job.relative}: not accounted for" for job in jobs if job.relative not in seen]
    if state_of(folder) != before:
        figures.faults.append(f"the folder of files from {first} on was changed")
    for job in jobs:
        (folder / job.relative).unlink()


def state_of(folder: Path) -> dict[str, tuple[int, int]]:
    return {path.name: (path.stat().st_size, path.stat().st_mtime_ns) for path in folder.iterdir()}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(1 << 30))
    asked = parser.parse_args()
    figures, files, began, over = Figures(), originals(), time.monotonic(), threading.Event()
    with tempfile.TemporaryDirectory() as name, Workers() as workers:
        watcher = threading.Thread(target=watch_memory, args=(workers, figures, over))
        watcher.start()
        for first in range(0, asked.count, BATCH):
            fuzz_batch(Path(name), first, asked.seed, files, workers, figures)
        over.set()
        watcher.join()
    report(figures, time.monotonic() - began, asked.seed)


def report(figures: Figures, seconds: float, seed: int) -> None:
    total = sum(sum(outcomes.values()) for outcomes in figures.outcomes.values())
    print(f"seed {seed}: {total} files in {seconds:.0f} s, {total / seconds:.0f} a second")
    for kind, outcomes in sorted(figures.outcomes.items()):
        print(f"  {kind:16}", ", ".join(f"{count} {state}" for state, count in sorted(outcomes.items())))
    print(f"memory of all decoding processes: at most {figures.peak_mb:.0f} MB; longest wait {figures.slowest_s:.1f} s")
    print(f"processes ended over a file: {sum(figures.ended.values())}")
    for reason, count in figures.ended.most_common(8):
        print(f"  {count} x {reason}")
    print(f"faults: {len(figures.faults)}")
    for fault in figures.faults[:20]:
        print("  " + fault)


if __name__ == "__main__":
    main()
