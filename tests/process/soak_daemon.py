"""`fallow watch` under a clock that can be set: HOME CLOCKFILE. An entry point of the soak run, of nothing else."""

from __future__ import annotations

import json
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from monitor.daemon.run import run_watch
from monitor.errors import WorkFailed, WrongUse
from monitor.home import Home
from monitor.roster import Roster
from monitor.scanning import Scanner


class SetClock:
    """Real time moved by what a file says, or standing still at a moment of it."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def set(self, **said: str | float) -> None:
        """`offset_seconds` from real time, or `at`, a moment to stand at."""
        beside = self.path.with_suffix(".new")
        beside.write_text(json.dumps(said))
        beside.replace(self.path)

    def now(self) -> datetime:
        said = json.loads(self.path.read_text())
        if "at" in said:
            return datetime.fromisoformat(said["at"])
        return datetime.now(UTC) + timedelta(seconds=said["offset_seconds"])

    def monotonic(self) -> float:
        return time.monotonic()


def main() -> int:
    home, clock = Home(Path(sys.argv[1])), SetClock(Path(sys.argv[2]))

    def scanner(roster: Roster) -> Scanner:
        from monitor.alerts.channels import AppriseSender
        from monitor.intake.workers import Workers

        return Scanner(home, roster, clock, workers=Workers(), send=AppriseSender(), patient=True)

    try:
        return run_watch(home, clock, make_scanner=scanner)
    except WrongUse as error:
        print(error, file=sys.stderr)
        return 2
    except WorkFailed as error:
        print(error, file=sys.stderr)
        return 1


if __name__ == "__main__":
    sys.exit(main())
