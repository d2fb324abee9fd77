"""How long commands take to start, and what they import. Run by hand: python -m tests.bench.start_up"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from monitor.demo import CHAPTERS, staged
from monitor.home import Home
from tests.bench import machine
from tests.process.daemons import ROOT, surroundings

ROUNDS = 7
HEAVY = ("duckdb", "numpy", "apprise", "rich", "jinja2", "pydantic", "watchdog", "fitfast", "matplotlib")
COMMANDS = (("--help",), ("rules",), ("status",), ("today",), ("findings",), ("outbox",), ("board",))
AS_OF = ("--as-of", CHAPTERS[-1].until.isoformat())  # as last judged, so that no sample is looked at again
JUDGING = {"status", "today", "board"}
SAY = (
    "import atexit, sys; atexit.register(lambda: print('\\nLOADED', *sys.modules));"
    " from monitor.cli.main import run; run()"
)


def loaded(arguments: tuple[str, ...], home: Path) -> list[str]:
    """Which of the heavy packages a command imports."""
    told = subprocess.run(
        [sys.executable, "-c", SAY, *arguments],
        cwd=ROOT,
        env=surroundings({"FALLOW_HOME": str(home)}),
        capture_output=True,
        text=True,
        check=True,
    )
    names = set(told.stdout.rpartition("LOADED")[2].split())
    return [one for one in HEAVY if one in names]


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        home = Home(Path(folder) / "home")
        with staged(home) as demo:
            for _ in demo.chapters():
                pass
        asked = {arguments: arguments + (AS_OF if arguments[0] in JUDGING else ()) for arguments in COMMANDS}
        took: dict[tuple[str, ...], list[machine.Command]] = {arguments: [] for arguments in COMMANDS}
        for _ in range(ROUNDS):
            for arguments, whole in asked.items():
                took[arguments].append(machine.command(*whole, home=home.path))
        imports = {arguments: loaded(whole, home.path) for arguments, whole in asked.items()}
    print(machine.about())
    for arguments, all_ in took.items():
        cpu = statistics.median(one.cpu_seconds for one in all_)
        clock = min(one.clock_seconds for one in all_)
        memory = max(one.most_mb for one in all_)
        print(
            f"fallow {' '.join(arguments):10} processor {cpu:.2f} s, clock at best {clock:.2f} s, {memory:4.0f} MB;"
            f" imports {', '.join(imports[arguments]) or 'none of the heavy ones'}"
        )


if __name__ == "__main__":
    main()
