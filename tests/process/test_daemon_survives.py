"""Kills at any moment and bursts larger than the system's event queue: nothing is lost, little is repeated."""

import random
import signal
import threading
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from queue import SimpleQueue

from monitor.clock import SystemClock
from monitor.daemon.delivery_thread import DeliveryThread
from monitor.daemon.folder_monitor import FolderMonitor, FolderScans
from monitor.daemon.loop import Loop, LoopParts, Waking
from monitor.daemon.roster_reload import RosterFile
from monitor.daemon.service_manager import Service
from monitor.folders.events import Watching
from monitor.home import Home
from tests.homes import fallow
from tests.monitor.daemon.fakes import FakeBoard, FakeScanner, roster_of
from tests.process.daemons import Daemon, exports, home_of, ledger, run_file, told, until, watching
from tests.targets import Target, http_target
from tests.waiting import PATIENCE_SECONDS

KILLS = 3


def test_killed_at_random_moments_it_tells_everything_and_repeats_little(tmp_path: Path) -> None:
    """The moments are drawn from a fixed seed, but where they fall in the program differs from run to run."""
    moments = random.Random(7)
    with http_target() as target:
        home = home_of(tmp_path, target.url())
        for number in range(KILLS):
            daemon = Daemon(home)
            (exports(home) / f"{number}.fit").write_bytes(run_file(3 + 8 * number))
            assert daemon.ready() == "watching 1 folders"
            threading.Event().wait(moments.uniform(0.0, 3.0))
            daemon.end(signal.SIGKILL)
        with watching(home) as daemon:
            until(lambda: list(ledger(home).values()) == ["read"] * KILLS, "all files are read")
            assert daemon.end() == (0, "")
        assert fallow("outbox", "--retry", home=home).status == 0
        until(lambda: {row["state"] for row in told("outbox", home=home)} == {"sent"}, "all messages are sent")
        findings = [row["id"] for row in told("findings", home=home)]
        assert len(findings) == len(set(findings))
        runs = {row["source"] for row in told("findings", home=home) if row["rule"] == "no_running"}
        assert runs == {f"{number}.fit" for number in range(KILLS)}
        sent = Counter(message.title + message.body for message in target.accepted)
        assert sum(sent.values()) - len(sent) <= KILLS
        assert set(sent) == {row["title"] + _body(target, row["title"]) for row in told("outbox", home=home)}


def _body(target: Target, title: str) -> str:
    bodies = {message.title: message.body for message in target.accepted}
    return str(bodies.get(title, "(never arrived)"))


@dataclass
class CountingScanner(FakeScanner):
    wanted: int = 0
    all_there: threading.Event = field(default_factory=threading.Event)

    def take(self, *arguments: object) -> None:
        super().take(*arguments)
        if len(self.taken) >= self.wanted:
            self.all_there.set()


def test_a_burst_of_five_thousand_real_files_is_taken_once_each(tmp_path: Path) -> None:
    home = Home(tmp_path)
    roster = roster_of(tmp_path, "runa")
    roster.path.write_text("1")
    folder = tmp_path / "runa"
    folder.mkdir()
    wakings: SimpleQueue[Waking] = SimpleQueue()
    scanner = CountingScanner(wanted=5000)
    folder_watch = FolderMonitor(
        roster, scanner, Watching(wakings), FolderScans(wakings.put), wall=lambda: 0.0, store_stamp=lambda: None
    )
    ready = threading.Event()
    parts = LoopParts(
        home,
        SystemClock(),
        scanner,
        RosterFile(roster, lambda path: roster),
        folder_watch,
        wakings,
        DeliveryThread(scanner.deliver),
        FakeBoard(),
        Service({}),
        lambda line: ready.set(),
        lambda line: None,
    )
    loop = threading.Thread(target=Loop(parts).run)
    loop.start()
    try:
        assert ready.wait(PATIENCE_SECONDS)
        for number in range(5000):
            inner = folder / f"{number % 7}"
            inner.mkdir(exist_ok=True)
            (inner / f"{number}.fit").write_bytes(b"x")
        assert scanner.all_there.wait(PATIENCE_SECONDS), f"{len(scanner.taken)} of 5000"
    finally:
        wakings.put("stop")
        loop.join(PATIENCE_SECONDS)
    assert len(scanner.taken) == len(set(scanner.taken)) == 5000
