"""The hour's judgement of many athletes when nothing changed, and the one after midnight, when everybody's day begins.

Run by hand: python -m tests.bench.hour [ATHLETES]
"""

from __future__ import annotations

import sys
import tempfile
from datetime import timedelta
from pathlib import Path

from monitor.alerts.channels import SendResult
from monitor.intake.workers import Workers
from monitor.roster import read_roster
from monitor.scanning import Scanner
from monitor.store.connections import kept
from tests.bench import machine, seasons
from tests.bench.day_of_200 import DayClock

HOURS = 3


def main(athletes: int) -> None:
    print(machine.about())
    with tempfile.TemporaryDirectory() as folder, Workers(1) as workers:
        home = seasons.home_of(Path(folder) / "home", athletes)
        clock = DayClock(seasons.NOW)
        with kept(home.store):
            roster = read_roster(home.roster)
            scanner = Scanner(home, roster, clock, workers=workers, send=lambda *_, **__: SendResult(True))
            scanner.timers()
            for name, step in (*[("an hour later", timedelta(hours=1))] * HOURS, ("a day later", timedelta(days=1))):
                clock.moment += step
                before, judged, more = machine.own_cpu_seconds(), 0, True
                while more:
                    done = scanner.timers()
                    judged, more = judged + done.judged, done.more
                spent = machine.own_cpu_seconds() - before
                print(f"{name}: {judged} of {athletes} athletes judged, {spent:.2f} s of processor")
    print("wanted: at most 1 s an hour where nothing changed")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
