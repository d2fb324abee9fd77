"""From a file renamed into place to its alert accepted by a local target.

Run by hand: python -m tests.bench.alert_delay [FILES]

Every file is for another athlete: what follows for the same athlete within 30 s is gathered on purpose. The daemon is
warm, as after any other file of the last minutes: the first file, which starts a worker process, is told apart.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tests.bench import machine
from tests.process.daemons import Daemon, as_process, run_file
from tests.targets import http_target

SETTLE_SECONDS = 10.0  # the first hour's judgement
CONTACT = '[[contact]]\nid = "coach"\nname = "Coach Ida"\nurls = ["{url}"]\n'
ATHLETE = """
[[athlete]]
id = "a{n}"
name = "Athlete {n}"
folder = "exports/a{n}"
timezone = "UTC"
hr_max = 188
contacts = ["coach"]
[[athlete.race]]
event = "marathon"
finish = {finish:%Y-%m-%dT%H:%M:%S}
"""


def home_of(folder: Path, athletes: int, url: str) -> Path:
    """Athletes who may not run today."""
    home = folder / "home"
    finish = datetime.now(UTC) - timedelta(hours=60)
    for n in range(athletes):
        (home / "exports" / f"a{n}").mkdir(parents=True)
        (home / "exports" / f"a{n}" / "before.fit").write_bytes(run_file(24 * 40 + n))  # else it were a first import
    roster = CONTACT.format(url=url) + "".join(ATHLETE.format(n=n, finish=finish) for n in range(athletes))
    (home / "roster.toml").write_text(roster, "utf-8")
    return home


def main(files: int) -> None:
    waited: list[float] = []
    with tempfile.TemporaryDirectory() as name, http_target() as target:
        home = home_of(Path(name), files + 1, target.url())
        done = as_process("scan", home=home)
        assert done.returncode == 0, done.stderr
        daemon = Daemon(home)
        try:
            daemon.ready()
            time.sleep(SETTLE_SECONDS)
            quiet, begin_cpu, begin = len(target.accepted), machine.tree(daemon.process.pid), time.monotonic()
            for n in range(files + 1):
                place = home / "exports" / f"a{n}"
                (place / "new.fit.part").write_bytes(run_file(2 + n / 60))
                moment = time.monotonic()
                (place / "new.fit.part").rename(place / "new.fit")
                target.wait_for(quiet + n + 1, 60)
                waited.append(time.monotonic() - moment)
            used = machine.tree(daemon.process.pid).cpu_seconds - begin_cpu.cpu_seconds
            of_the_time = used / (time.monotonic() - begin)
        finally:
            daemon.end()
    print(machine.about())
    warm = waited[1:]
    print(f"first file {waited[0]:.2f} s; then {len(warm)} files, one after another, each of another athlete:")
    print(f"alert delay {machine.spread(warm)} s   (wanted: median at most 1.5, worst at most 3)")
    print(
        f"nine of ten within {statistics.quantiles(warm, n=10)[-1]:.2f} s; the daemon used {of_the_time:.0%} of a core"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 50)
