"""From the start of the daemon to its word that it watches, with 2,000 known files.

Run by hand: python -m tests.bench.ready_time [FILES]
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from pathlib import Path

from monitor.home import Home
from monitor.store.database import Store
from tests.bench import machine
from tests.process.daemons import Daemon, as_process, exports, home_of, run_file

ROUNDS = 9
COPIES = """
INSERT INTO intake SELECT i.* REPLACE (n || '.fit' AS path, n || sha256 AS sha256, n::BIGINT * 1000000000 AS mtime_ns)
FROM intake i, (SELECT unnest(range(1, {files})) AS n)
"""


def known_files(home: Path, files: int) -> None:
    """Files that lie in the folder and stand in the ledger as read."""
    folder = exports(home)
    whole = run_file(24 * 30)
    (folder / "0.fit").write_bytes(whole)
    done = as_process("scan", home=home)
    assert done.returncode == 0, done.stderr
    for n in range(1, files):
        path = folder / f"{n}.fit"
        path.write_bytes(whole)
        os.utime(path, (n, n))
    with Store(Home(home).store).writing() as con:
        con.execute(COPIES.format(files=files))


def main(files: int) -> None:
    clock, cpu = [], []
    with tempfile.TemporaryDirectory() as name:
        home = home_of(Path(name), "json://127.0.0.1:9/nobody")
        known_files(home, files)
        for _ in range(ROUNDS):
            begin = time.perf_counter()
            daemon = Daemon(home)
            try:
                daemon.ready()
                clock.append(time.perf_counter() - begin)
                cpu.append(machine.tree(daemon.process.pid).cpu_seconds)
            finally:
                daemon.end()
        told = as_process("intake", "--json", home=home).stdout.count('"read"')
    print(machine.about())
    print(f"{files} known files, {told} read in the ledger, {ROUNDS} starts")
    print(f"ready, by the clock        {machine.spread(clock)} s, best {min(clock):.3f}   (wanted: at most 1.5)")
    print(f"processor time until then  {machine.spread(cpu)} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
