"""What a daemon costs that has nothing to do. Run by hand: python -m tests.bench.idle [MINUTES] [ATHLETES] [FILES]

FILES are those of each athlete that the ledger knows already, empty ones; a full look at all of them is measured apart.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from monitor.folders.listing import look
from monitor.store.database import Store
from tests.bench import machine
from tests.process.daemons import Daemon, run_file

SETTLE_SECONDS = 90.0  # first judgement, worker processes still waiting for more files
ATHLETE = """
[[athlete]]
id = "a{n}"
folder = "exports/a{n}"
timezone = "Europe/Oslo"
hr_max = 188
[[athlete.race]]
event = "marathon"
finish = {finish}
"""


def home_of(folder: Path, athletes: int) -> Path:
    """Athletes in the middle of their reverse tapers, each with a file read long ago and a folder with subfolders."""
    home = folder / "home"
    finish = time.strftime("%Y-%m-%dT12:00:00", time.gmtime(time.time() - 10 * 86400))
    for n in range(athletes):
        inner = home / "exports" / f"a{n}" / "2026" / "11"
        inner.mkdir(parents=True)
        (inner / "run.fit").write_bytes(run_file(30 + n / 10, minutes=30))
    (home / "roster.toml").write_text("".join(ATHLETE.format(n=n, finish=finish) for n in range(athletes)), "utf-8")
    return home


def known_files(home: Path, athletes: int, files: int) -> float:
    """So many files an athlete that the ledger knows; seconds of processor for one look at all folders."""
    rows: list[tuple[str, str, int]] = []
    for n in range(athletes):
        folder = home / "exports" / f"a{n}" / "2026" / "11"
        for number in range(files):
            path = folder / f"known-{number}.fit"
            path.touch()
            rows.append((f"a{n}", f"2026/11/{path.name}", path.stat().st_mtime_ns))
    with Store(home / "fallow.duckdb").writing() as con:
        con.execute(
            "INSERT INTO intake (athlete, path, sha256, size, mtime_ns, state, reason, read_at, current)"
            " SELECT unnest(?), unnest(?), 'none', 0, unnest(?), 'ignored', '', now()::TIMESTAMP, true",
            [list(column) for column in zip(*rows, strict=True)] or [[], [], []],
        )
    before = time.process_time()
    for n in range(athletes):
        look(home / "exports" / f"a{n}")
    return time.process_time() - before


def main(minutes: float, athletes: int, files: int) -> None:
    with tempfile.TemporaryDirectory() as name:
        home = home_of(Path(name), athletes)
        machine.command("scan", home=home)
        took = known_files(home, athletes, files)
        daemon = Daemon(home)
        try:
            daemon.ready()
            (home / "exports" / "a0" / "new.fit").write_bytes(run_file(3))
            time.sleep(SETTLE_SECONDS)
            before, begin, most = machine.tree(daemon.process.pid), time.monotonic(), 0.0
            while (seconds := time.monotonic() - begin) < minutes * 60:
                time.sleep(2)
                most = max(most, machine.tree(daemon.process.pid).proportional_mb)
            after = machine.tree(daemon.process.pid)
        finally:
            daemon.end()
    used = after.cpu_seconds - before.cpu_seconds
    print(machine.about())
    print(f"{athletes} athletes with {files} known files each, {seconds / 60:.1f} minutes, {after.processes} processes")
    print(f"processor                {used / seconds:.2%} of a core   (wanted: at most 0.30 %)")
    print(f"memory, all processes    {most:.0f} MB (PSS)   (wanted: at most 250)")
    print(f"a look at all folders    {took:.2f} s of processor   (wanted: at most 3)")


if __name__ == "__main__":
    given = [float(one) for one in sys.argv[1:]]
    minutes, athletes, files = [*given, *(10.0, 20.0, 0.0)[len(given) :]]
    main(minutes, int(athletes), int(files))
