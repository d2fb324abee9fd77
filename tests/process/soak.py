"""A soak run by hand: files, kills, a failing target, roster edits and clock jumps, held against a clean run.

python -m tests.process.soak --minutes 30 --seed 1
"""

from __future__ import annotations

import argparse
import contextlib
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import IO

from tests.process import soak_compare
from tests.process.daemons import PROGRAM, ROOT, surroundings
from tests.process.soak_arrivals import Agenda, Folders, Steps, answering
from tests.process.soak_daemon import SetClock
from tests.process.soak_meter import Meter, lives
from tests.process.soak_roster import BAD, PEOPLE, Settings, edits, text_of
from tests.process.soak_story import Arrival, Story
from tests.targets import Target, http_target

BEGINS = datetime(2026, 10, 20, 5, 0, tzinfo=UTC)
"""A few days before the night on which Europe puts its clocks back."""
DRAIN_SECONDS = 400.0
READERS = (("status",), ("findings",), ("intake",), ("outbox",), ("today",), ("plan", "runa"), ("doctor",))


class Soak:
    """One run. Everything is drawn from one seed, but where a kill falls in the program differs from run to run."""

    def __init__(self, top: Path, minutes: float, seed: int, target: Target) -> None:
        self.rng = random.Random(seed)
        self.top, self.target, self.seconds = top, target, minutes * 60
        self.days = max(3, min(12, round(minutes * 0.4)))
        self.ends = BEGINS + timedelta(days=self.days)
        self.home = top / "home"
        self.home.mkdir(mode=0o700)
        self.clock = SetClock(top / "clock.json")
        self.clock.set(offset_seconds=(BEGINS - datetime.now(UTC)).total_seconds())
        self.settings, self.roster_good = Settings(), True
        self.agenda, self.meter = Agenda(), Meter()
        self.folders = Folders(top / "folders", self.rng)
        self.counts: Counter[str] = Counter()
        self.failures: Counter[str] = Counter()
        self.wrong: list[str] = []
        self.faults = True
        self.late: set[tuple[str, str]] = set()
        self.daemon: subprocess.Popen[bytes] | None = None
        self.commands: list[tuple[subprocess.Popen[bytes], str]] = []
        self.orphans: set[int] = set()
        self.said: IO[bytes] = (top / "said.txt").open("ab")
        target.answer = answering(self.rng, self.failures, lambda: self.faults)

    # The world

    def prepare(self) -> None:
        story = Story(self.rng, BEGINS, self.days)
        for person in PEOPLE:
            (self.top / "folders" / person.id).mkdir(parents=True)
        for one in story.past():
            self._note(one)
            path = self.folders.place(one.person) / one.name
            path.write_bytes(one.states[-1])
        self.coming = sorted([*story.arrivals(), *story.twins()], key=lambda one: (one.due, one.name))
        self.write_roster()

    def _note(self, one: Arrival) -> None:
        self.counts["files"] += 1
        if one.late:
            self.late.add((one.person, one.name))

    def write_roster(self, prefix: str = "soak") -> None:
        text = text_of(self.settings, self.top / "folders", BEGINS, self.target.port, prefix)
        beside = self.home / "roster.new"
        beside.write_text(text)
        beside.replace(self.home / "roster.toml")
        self.roster_good = True

    def jump(self) -> None:
        """Mostly forward, so that the last day is reached in time; now and then back by hours or days."""
        now, left = self.clock.now(), max(self.until - time.monotonic(), 1.0)
        luck = self.rng.random()
        if luck < 0.25:
            back = timedelta(hours=self.rng.choice([0.2, 1, 3, 9, 40]))
            moment = max(BEGINS - timedelta(days=1), now - back)
            self.counts["clock jumps back"] += 1
        else:
            share = min(1.0, 30 / left) * self.rng.uniform(0.3, 2.2)
            moment = min(self.ends - timedelta(hours=1), now + (self.ends - now) * min(share, 1.0))
            self.counts["clock jumps forward"] += 1
        self.clock.set(offset_seconds=(moment - datetime.now(UTC)).total_seconds())

    def edit_roster(self) -> Steps:
        self.counts["roster edits"] += 1
        luck = self.rng.random()
        path = self.home / "roster.toml"
        if luck < 0.3:
            self.roster_good = False
            self.counts["bad roster edits"] += 1
            path.write_text(self.rng.choice(BAD))
            yield self.rng.uniform(3, 15)
        elif luck < 0.6:
            self.counts["half-saved rosters"] += 1
            self.roster_good = False
            self.settings = edits(self.settings, self.rng)
            text = text_of(self.settings, self.top / "folders", BEGINS, self.target.port, "soak")
            path.write_text(text[: self.rng.randrange(len(text))])
            yield self.rng.uniform(0.1, 1.5)
            path.write_text(text)
            self.roster_good = True
            return
        else:
            self.settings = edits(self.settings, self.rng)
        self.write_roster()

    # The daemon

    def start(self) -> None:
        command = [sys.executable, "-m", "tests.process.soak_daemon", str(self.home), str(self.clock.path)]
        self.daemon = subprocess.Popen(command, cwd=ROOT, env=surroundings(), stdout=self.said, stderr=self.said)
        self.counts["starts"] += 1

    def kill(self) -> None:
        if self.daemon is not None and self.daemon.poll() is None:
            self.orphans.update(self.meter.look(self.daemon.pid))
            self.daemon.kill()
            self.daemon.wait()
            self.counts["kills"] += 1
            self.daemon = None

    def tend(self) -> None:
        """Start it where it does not run; an end that nobody asked for is a fault, unless the roster is bad."""
        if self.daemon is None:
            self.start()
        elif (status := self.daemon.poll()) is not None:
            if status == 2 and self.faults:
                self.counts["starts refused for a bad roster"] += 1
            else:
                self.wrong.append(f"the daemon ended by itself with {status}; see said.txt")
            self.daemon = None
        else:
            self.meter.look(self.daemon.pid)

    def command(self, *arguments: str) -> None:
        process = subprocess.Popen(
            [*PROGRAM, *arguments, "--home", str(self.home)], cwd=ROOT, env=surroundings({"PYTHONFAULTHANDLER": "1"}),
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
        )  # fmt: skip
        self.commands.append((process, " ".join(arguments)))
        self.counts[f"command {arguments[0]}"] += 1

    def tend_commands(self, *, all_of_them: bool = False) -> None:
        for process, words in list(self.commands):
            if not all_of_them and process.poll() is None:
                continue
            try:
                _, errors = process.communicate(timeout=120)
            except subprocess.TimeoutExpired:
                process.send_signal(signal.SIGABRT)  # it says where it stands
                _, errors = process.communicate()
                self.wrong.append(f"{words}: hangs\n{errors.decode()}")
                self.commands.remove((process, words))
                continue
            allowed = (0, 1) if words.startswith("doctor") else (0,) if self.roster_good else (0, 2)
            if process.returncode not in allowed and b"roster.toml" not in errors:
                self.wrong.append(f"{words}: {process.returncode} {errors.decode()[-400:]}")
            self.commands.remove((process, words))

    # The run

    def run(self) -> None:
        self.prepare()
        self.until = time.monotonic() + self.seconds
        every: dict[Callable[[], object], tuple[float, float]] = {
            self.kill: (20, 60),
            self.jump: (15, 45),
            lambda: self.agenda.begin(self.edit_roster()): (25, 70),
            lambda: self.agenda.begin(self.folders.root_away(self.rng.choice(PEOPLE).id)): (20, 60),
            lambda: self.command(*self.rng.choice(READERS)): (10, 30),
            lambda: self.command("outbox", "--retry"): (15, 40),
            lambda: self.command("scan", "--as-of", self.clock.now().isoformat()): (60, 180),
            self.tend: (1, 1.5),
        }
        due = {act: time.monotonic() + self.rng.uniform(*apart) for act, apart in every.items()}
        while time.monotonic() < self.until:
            for act, apart in every.items():
                if time.monotonic() >= due[act]:
                    act()
                    due[act] = time.monotonic() + self.rng.uniform(*apart)
            self._feed(self.clock.now())
            self.agenda.run()
            self.tend_commands()
            time.sleep(0.05)

    def _feed(self, now: datetime) -> None:
        while self.coming and self.coming[0].due <= now:
            one = self.coming.pop(0)
            self._note(one)
            self.agenda.begin(self.folders.arrive(one), self.rng.uniform(0, 8))

    def drain(self) -> None:
        """No more faults: everything comes to rest at one moment."""
        self.faults = False
        self._feed(self.ends)
        while self.agenda.due:
            self.agenda.run()
            self.tend()
            time.sleep(0.05)
        self.tend_commands(all_of_them=True)
        self.settings = Settings()
        self.write_roster()
        self.clock.set(at=self.ends.isoformat())
        self.kill()
        end = time.monotonic() + DRAIN_SECONDS
        quiet = 0
        while quiet < 3:
            if time.monotonic() > end:
                self.wrong.append(f"did not come to rest: {self.rest()}")
                break
            self.tend()
            for _ in range(80):
                self.tend()
                time.sleep(0.1)
            self.command("outbox", "--retry")
            self.tend_commands(all_of_them=True)
            quiet = 0 if self.rest() else quiet + 1
        assert self.daemon is not None
        self.daemon.terminate()
        if (status := self.daemon.wait(60)) != 0:
            self.wrong.append(f"SIGTERM ended it with {status}")
        left = [pid for pid in self.orphans if lives(pid)]
        if left:
            self.wrong.append(f"processes left over: {left}")

    def rest(self) -> list[str]:
        """What has not come to rest: messages that wait."""
        rows = soak_compare.came(self.home).rows
        return [
            f"{row.kind} {row.state} {row.reason} {row.tries} {row.last_error} {row.title}"
            for row in rows
            if row.state != "sent" and not (row.kind == "daily" and row.state == "failed")
        ]

    def compare(self) -> None:
        def scan(home: Path) -> str:
            done = subprocess.run(
                [*PROGRAM, "scan", "--json", "--as-of", self.ends.isoformat(), "--home", str(home)], cwd=ROOT,
                env=surroundings(), capture_output=True, text=True, timeout=600, check=False,
            )  # fmt: skip
            if done.returncode:
                self.wrong.append(f"scan: {done.stderr}")
            return done.stdout.strip()

        soak = soak_compare.came(self.home)
        received = list(self.target.received)
        again = scan(self.home)
        print("one more scan over the same home:", again)
        clean_home = self.top / "clean"
        clean_home.mkdir()
        text = text_of(self.settings, self.top / "folders", BEGINS, self.target.port, "clean")
        (clean_home / "roster.toml").write_text(text)
        print("a clean home:", scan(clean_home))
        clean = soak_compare.came(clean_home)
        self.wrong += soak_compare.differences(soak, clean)
        late_before = self.ends - timedelta(days=7)
        self.wrong += soak_compare.untold(soak, late_before)
        self.wrong += [f"told late: {one}" for one in soak_compare.told_late(soak, self.late)]
        repeats, odd = soak_compare.arrived(soak, received, "soak")
        self.wrong += odd
        if repeats > self.counts["kills"]:
            self.wrong.append(f"{repeats} repeats after {self.counts['kills']} kills")
        told = {one.id for said in soak_compare.told_last(clean.rows).values() for one, _ in said}
        said_soak = {one.id for said in soak_compare.told_last(soak.rows).values() for one, _ in said}
        self.report(soak, clean, repeats, told, said_soak)

    def report(
        self, soak: soak_compare.Came, clean: soak_compare.Came, repeats: int, told: set[str], said: set[str]
    ) -> None:
        states = Counter(row.state for row in soak.rows)
        print(
            f"facts: {len(soak.facts)} / clean {len(clean.facts)};"
            f" findings: {len(soak.findings)} / {len(clean.findings)}"
        )
        print(
            f"findings told in a clean run: {len(told)}, of them told in the soak: {len(told & said)};"
            f" told in all {len(said)}"
        )
        print(
            f"outbox: {dict(states)}; accepted {len(self.target.accepted)} of {len(self.target.received)},"
            f" repeats {repeats}"
        )
        print(f"target failures: {dict(self.failures)}")
        for name, count in sorted((self.counts + self.folders.counts).items()):
            print(f"{name}: {count}")
        print(f"memory high-water: {self.meter.most_pss_mb:.0f} MB (PSS), {self.meter.most_rss_mb:.0f} MB (RSS),"
              f" {self.meter.most_processes} processes; processor: {self.meter.cpu_seconds:.0f} s")  # fmt: skip
        print(f"clock jumped over {self.days} days; {len(self.wrong)} differences")
        for one in self.wrong:
            print("-", one)

    def close(self) -> None:
        if self.daemon is not None and self.daemon.poll() is None:
            self.daemon.kill()
            self.daemon.wait()
        for process, _ in self.commands:
            with contextlib.suppress(OSError):
                process.kill()
        self.said.close()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=30)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", action="store_true", help="keep the homes, to look into them")
    asked = parser.parse_args()
    top = Path(tempfile.mkdtemp(prefix="fallow-soak-"))
    with http_target() as target:
        soak = Soak(top, asked.minutes, asked.seed, target)
        try:
            soak.run()
            soak.drain()
            soak.compare()
        finally:
            soak.close()
    if asked.keep or soak.wrong:
        print("kept:", top)
    else:
        shutil.rmtree(top)
    return 1 if soak.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
