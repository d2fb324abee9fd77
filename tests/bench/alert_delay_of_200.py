"""The same as `alert_delay`, in a home of many athletes with a season each, whose board is rewritten all the while.

Run by hand: python -m tests.bench.alert_delay_of_200 [ATHLETES [FILES]]
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from datetime import timedelta
from functools import partial
from pathlib import Path

from monitor.demo import CHAPTERS
from monitor.home import Home
from tests.bench import machine
from tests.bench.backfill import recording_at
from tests.bench.board_size import CONTACT, season
from tests.process.daemons import Daemon
from tests.targets import Target, http_target

QUIET_SECONDS = 45.0
"""The first hour's judgement and the first board with all its pages are over by then."""


def _told_of(target: Target, name: str, after: int) -> bool:
    return any(name in f"{one.title} {one.body}" for one in target.accepted[after:])


def main(athletes: int, files: int) -> None:
    waited: list[float] = []
    now = CHAPTERS[-1].until
    at = ("--as-of", now.isoformat())
    with tempfile.TemporaryDirectory() as name, http_target() as target:
        home = Home(Path(name) / "home")
        roster = season(home, athletes)
        text = home.roster.read_text("utf-8").replace("json://127.0.0.1:9/nobody", target.url())
        home.roster.write_text(text.replace(CONTACT.splitlines()[0], '[alerts]\nquiet_hours = ""\n\n[[contact]]', 1))
        for athlete in roster.athletes:
            athlete.folder.mkdir(parents=True, exist_ok=True)
        for command in ("scan", "board"):
            assert Daemon(home.path, command=(command, *at)).process.wait(1200) == 0
        daemon = Daemon(home.path, command=("watch", *at))
        try:
            begin = time.monotonic()
            daemon.ready()
            ready = time.monotonic() - begin
            time.sleep(QUIET_SECONDS)
            for n in range(files + 1):
                place = roster.athletes[n].folder
                (place / "new.fit.part").write_bytes(recording_at(now - timedelta(hours=2), n))
                quiet, moment = len(target.accepted), time.monotonic()
                (place / "new.fit.part").rename(place / "new.fit")
                seen = partial(_told_of, target, roster.athletes[n].athlete.name, quiet)
                with target.changed:
                    assert target.changed.wait_for(seen, 60), target.titles[quiet:]
                waited.append(time.monotonic() - moment)
            resident = machine.tree(daemon.process.pid).resident_mb
        finally:
            daemon.end()
    print(machine.about())
    warm = waited[1:]
    print(f"{athletes} athletes with a season each: ready after {ready:.2f} s, {resident:.0f} MB")
    print(f"first file {waited[0]:.2f} s; then {len(warm)} files, one after another, each of another athlete:")
    print(f"alert delay {machine.spread(warm)} s; nine of ten within {statistics.quantiles(warm, n=10)[-1]:.2f} s")


if __name__ == "__main__":
    asked = [int(one) for one in sys.argv[1:]]
    main(*asked, *(200, 40)[len(asked) :])
