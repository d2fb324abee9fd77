"""Sunday evening: athletes with a season each, whose files come in while the board is being drawn.

Run by hand: python -m tests.bench.sunday [ATHLETES [FILES [SECONDS]]]; 100 files in 60 s come as 1,000 in 600 s do.
"""

from __future__ import annotations

import re
import statistics
import sys
import tempfile
import time
from datetime import timedelta
from pathlib import Path

from monitor.roster import read_roster
from tests.bench import machine, seasons
from tests.bench.backfill import recording_at
from tests.bench.board_size import CONTACT
from tests.process.daemons import Daemon
from tests.targets import http_target

QUIET_SECONDS = 60.0
PATIENCE_SECONDS = 60.0


def main(athletes: int, files: int, seconds: float) -> None:
    print(machine.about())
    with tempfile.TemporaryDirectory() as folder, http_target() as target:
        home = seasons.home_of(Path(folder) / "home", athletes)
        text = home.roster.read_text("utf-8").replace("json://127.0.0.1:9/nobody", target.url())
        home.roster.write_text(text.replace(CONTACT.splitlines()[0], '[alerts]\nquiet_hours = ""\n\n[[contact]]', 1))
        roster = read_roster(home.roster)
        for athlete in roster.athletes:
            athlete.folder.mkdir(parents=True, exist_ok=True)
        contents = [recording_at(seasons.NOW - timedelta(hours=2), n) for n in range(files)]
        daemon = Daemon(home.path, command=("watch", "--as-of", seasons.NOW.isoformat()))
        try:
            daemon.ready()
            time.sleep(QUIET_SECONDS)
            began, cpu = time.monotonic(), machine.tree(daemon.process.pid).cpu_seconds
            heard = list(target.accepted)
            placed: dict[str, float] = {}
            told: dict[str, float] = {}

            def hear(until: float, *, all_of: bool = False) -> None:
                """Note who is told of, until a moment or until everybody is."""
                while (left := until - time.monotonic()) > 0 and not (all_of and len(told) == len(placed)):
                    with target.changed:
                        target.changed.wait(min(left, 1.0))
                        fresh, now = target.accepted[len(heard) :], time.monotonic()
                    heard.extend(fresh)
                    for message in fresh:
                        words = f"{message.title} {message.body}"
                        for name in placed:
                            if name not in told and re.search(rf"{re.escape(name)}(?!\d)", words):
                                told[name] = now

            for n, content in enumerate(contents):
                athlete = roster.athletes[n % athletes]
                part = athlete.folder / f"new-{n}.fit.part"
                part.write_bytes(content)
                part.rename(part.with_suffix(""))
                placed[athlete.athlete.name] = time.monotonic()
                hear(began + (n + 1) * seconds / files)
            hear(time.monotonic() + PATIENCE_SECONDS, all_of=True)
            after = machine.tree(daemon.process.pid)
        finally:
            daemon.end()
    waited = [told[name] - moment for name, moment in placed.items() if name in told]
    print(f"{athletes} athletes, {files} files in {seconds:.0f} s; {len(placed) - len(waited)} nobody was told of")
    print(
        f"from in place to accepted: {machine.spread(waited)} s, 19 of 20 within"
        f" {statistics.quantiles(waited, n=20)[-1]:.2f} s   (wanted: 5 s, worst 15)"
    )
    spent = (after.cpu_seconds - cpu) / files
    print(f"{spent:.3f} s of processor a file, board and delivery among it; {after.resident_mb:.0f} MB")


if __name__ == "__main__":
    asked = [float(one) for one in sys.argv[1:]]
    chosen = (*asked, *(1000.0, 1000.0, 600.0)[len(asked) :])
    main(int(chosen[0]), int(chosen[1]), chosen[2])
