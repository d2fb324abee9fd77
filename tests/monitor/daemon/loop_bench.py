"""The loop on real folders, with the clock, the events and the scanner in the test's hand."""

import os
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

from monitor.daemon.folder_monitor import FolderMonitor, FolderScans
from monitor.daemon.loop import Loop, LoopParts
from monitor.daemon.roster_reload import RosterFile
from monitor.daemon.service_manager import Service
from monitor.errors import RosterError
from monitor.folders.events import Hint, Watching
from monitor.home import Home
from monitor.roster.types import Roster
from tests.monitor.daemon.fakes import FakeBoard, FakeScanner, HandClock, HandQueue, roster_of

WALL = 1_790_000_000.0


class StillObserver:
    """An observer of a system that never tells."""

    def __init__(self) -> None:
        self.emitters: list[object] = []
        self.alive = False
        self.armed = 0

    def schedule(self, *args: object, recursive: bool = False, **kwargs: object) -> None:
        self.armed += recursive

    def unschedule(self, watch: object) -> None: ...
    def join(self, timeout: float) -> None: ...

    def start(self) -> None:
        self.alive = True

    def stop(self) -> None:
        self.alive = False

    def is_alive(self) -> bool:
        return self.alive


class Bench:
    """A home with one or more athletes, and a loop over them that runs until a moment."""

    def __init__(self, home: Path, *athletes: str) -> None:
        self.home = Home(home)
        self.clock = HandClock()
        self.queue = HandQueue(self.clock)
        self.scanner = FakeScanner()
        self.board = FakeBoard()
        self.said: list[str] = []
        self.remarks: list[str] = []
        self.observers: list[StillObserver] = []
        self.outstanding: list[Callable[[], None]] = []
        self.roster = roster_of(home, *(athletes or ("runa",)))
        self.next_roster: Roster | RosterError = self.roster
        self.roster.path.write_text("1")
        for athlete in self.roster.athletes:
            athlete.folder.mkdir(exist_ok=True)
        self.looks_answer = True
        self.store_stamp: object = 1
        self.store_identity: object = None
        self.held: dict[str, tuple[int, int]] = {}
        self.loop = self.made()

    def made(self) -> Loop:
        folder_watch = FolderMonitor(
            self.roster,
            self.scanner,
            Watching(self.queue, self._observer),
            FolderScans(self.queue.put, self._begin),
            wall=lambda: WALL + self.clock.at - 1000.0,
            store_stamp=lambda: self.store_stamp,
            store_identity=lambda: self.store_identity,
            held=self.held,
        )
        delivery_loop = SimpleNamespace(start=lambda: None, call=self.scanner.deliver, stop=lambda: None, failing=())
        return Loop(
            LoopParts(
                self.home,
                self.clock,
                self.scanner,
                RosterFile(self.roster, self._load),
                folder_watch,
                self.queue,
                delivery_loop,
                self.board,
                Service({}),
                self.said.append,
                self.remarks.append,
            )
        )

    def _observer(self) -> StillObserver:
        self.observers.append(StillObserver())
        return self.observers[-1]

    def _begin(self, act: Callable[[], None], name: str) -> None:
        if self.looks_answer:
            act()

    def _load(self, path: Path) -> Roster:
        if isinstance(self.next_roster, RosterError):
            raise self.next_roster
        return self.next_roster

    def file(self, name: str, *, age: float = 100.0, content: bytes = b"x", athlete: str = "runa") -> Path:
        """A file last changed so many seconds before the test's present."""
        path = self.home.path / athlete / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        moment = WALL + self.clock.at - 1000.0 - age
        os.utime(path, (moment, moment))
        return path

    def hint(self, name: str, *, closed: bool = False, folder: bool = False, athlete: str = "runa") -> None:
        self.queue.put(Hint(athlete, name, closed, folder))

    def run(self, seconds: float) -> None:
        """Let the loop go on for so long, by its own clock."""
        self.queue.at(self.clock.at + seconds, lambda: self.queue.put("stop"))
        self.loop._stopping = False
        self.loop.run()


def polled(bench: Bench) -> Roster:
    runa = bench.roster.athletes[0]
    athlete = type(runa)(runa.athlete, runa.folder, runa.contacts, runa.options, "poll")
    return Roster(bench.roster.path, bench.roster.alerts, (), (athlete,), "2")
