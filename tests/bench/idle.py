"""What a daemon costs that has nothing to do. Run by hand: python -m tests.bench.idle [MINUTES] [ATHLETES]"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from tests.bench import machine
from tests.process.daemons import Daemon, fallow, run_file

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


def main(minutes: float, athletes: int) -> None:
    with tempfile.TemporaryDirectory() as name:
        home = home_of(Path(name), athletes)
        done = fallow("scan", home=home)
        assert done.returncode == 0, done.stderr
        daemon = Daemon(home)
        try:
            daemon.ready()
            (home / "exports" / "a0" / "new.fit").write_bytes(run_file(3))
            time.sleep(SETTLE_SECONDS)
            before, begin, most = machine.tree(daemon.process.pid), time.monotonic(), 0.0
            while (seconds := time.monotonic() - begin) < minutes * 60:
                time.sleep(2)
                most = max(most, machine.tree(daemon.process.pid).resident_mb)
            after = machine.tree(daemon.process.pid)
        finally:
            daemon.end()
    used = after.cpu_seconds - before.cpu_seconds
    print(machine.about())
    print(f"{athletes} athletes, {seconds / 60:.1f} minutes, {after.processes} processes at the end")
    print(f"processor                  {used / seconds:.2%} of a core   (wanted: at most 0.30 %)")
    print(f"resident, all processes    {most:.0f} MB, of it {after.private_mb:.0f} MB its own   (wanted: at most 200)")


if __name__ == "__main__":
    main(*(float(one) for one in sys.argv[1:2] or ("10",)), *(int(one) for one in sys.argv[2:3] or ("20",)))
