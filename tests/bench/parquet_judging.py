"""The judgement of many sessions from Parquet files, read by DuckDB in N worker processes: how it grows with them.

Run by hand: python -m tests.bench.parquet_judging [FILES [WORKERS ...]]

Each file holds one session's samples as the store would give them; `rules` is called as it is. Nothing of the program's
own store is used: it is what judging would be on machines that share a folder of files.
"""

from __future__ import annotations

import multiprocessing
import os
import resource
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import duckdb
import numpy as np

from monitor.intake.reading import ReadJob, read_path
from monitor.store.samples import as_stored
from monitor.values import IntakeOptions
from rules.facts import Ceiling, SampleContext, Session, Threshold
from rules.limits import default_limits
from rules.session.digest import digest
from rules.session_rules import judge_samples
from tests.bench import machine, seasons
from tests.bench.backfill import recording_at

CONTEXT = SampleContext(Ceiling(121, 1, "zone 1"), "none", True, Threshold(3.85, "roster", "high"), 198.0)
PART = 20
"""Files that a worker asks the engine for at once."""


def judged(paths: list[str]) -> tuple[int, float]:
    """Digest and verdict of the sessions in some files: how many breaches, and the processor time of this worker."""
    before, limits, breaches = time.process_time(), default_limits(), 0
    with duckdb.connect(config={"threads": 1}) as con:
        for first in range(0, len(paths), PART):
            files = {"files": paths[first : first + PART]}
            table = con.execute("SELECT * FROM read_parquet($files) ORDER BY session, t_s", files).fetchnumpy()
            begins = np.flatnonzero(np.diff(table.pop("session"), prepend=-1))
            for begin, end in zip(begins, [*begins[1:], len(table["t_s"])], strict=True):
                own = {name: np.ma.filled(values[begin:end], np.nan) for name, values in table.items()}
                length = float(own["t_s"].max())
                made = digest("running", "generic", length, length, (), own, limits)
                session = Session("s", seasons.NOW, seasons.NOW, "running", "generic", length, length, None, None, made)
                breaches += len(judge_samples(session, own, CONTEXT, limits))
    return breaches, time.process_time() - before


def laid(folder: Path, files: int) -> list[str]:
    """So many sessions as Parquet, from one recording that is shifted in time."""
    fit = folder / "one.fit"
    fit.write_bytes(recording_at(seasons.NOW, 0))
    facts = read_path(ReadJob(folder, fit.name, IntakeOptions("Europe/Oslo"))).facts
    assert facts is not None
    samples = as_stored(facts.recordings[0].samples)  # noqa: F841 - the engine finds it by its name
    paths = [str(folder / f"{n}.parquet") for n in range(files)]
    with duckdb.connect() as con:
        con.execute("CREATE TABLE one AS SELECT * FROM samples")
        for n, path in enumerate(paths):
            con.execute(f"COPY (SELECT *, {n} AS session FROM one) TO '{path}' (FORMAT parquet, COMPRESSION zstd)")
    return paths


def main(files: int, workers: list[int]) -> None:
    print(machine.about())
    with tempfile.TemporaryDirectory() as name:
        paths = laid(Path(name), files)
        first = 0.0
        for count in workers:
            with ProcessPoolExecutor(count, multiprocessing.get_context("spawn")) as pool:
                list(pool.map(judged, [paths[:1]] * count))  # every worker has loaded what it needs
                begin = time.perf_counter()
                done = list(pool.map(judged, [paths[n::count] for n in range(count)]))
                took = time.perf_counter() - begin
            first = first or took
            spent = sum(used for _, used in done)
            print(
                f"{count} workers: {files} sessions in {took:.2f} s ({first / took:.2f} times as fast as one),"
                f" {spent / files * 1000:.1f} ms of processor a session, {sum(found for found, _ in done)} breaches"
            )
    most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"{os.cpu_count()} cores; the largest worker {most:.0f} MB")


if __name__ == "__main__":
    asked = [int(one) for one in sys.argv[1:]]
    main(asked[0] if asked else 400, asked[1:] or [1, 2, 4])
