"""A store damaged in one place, and whether an alert for a new `stop` arrives all the same."""

from __future__ import annotations

import json
import random
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import duckdb

from monitor.alerts.channels import SendResult
from monitor.board import write as write_board
from monitor.clock import FixedClock
from monitor.home import Home
from monitor.intake.workers import Workers
from monitor.roster import read_roster
from monitor.scanning import Scanner
from monitor.single_pass import Pass, mended, single_pass
from monitor.store.database import CONFIG, Store
from rules.limits import default_limits
from tests.homes import OSLO, make_home, put, run_on

HEADER_PAGES = 3
PAGE_BYTES = 4096
NOW = datetime(2026, 10, 13, 12, tzinfo=OSLO)
LATER = NOW + timedelta(hours=7)
SICK = {"date": "2026-10-13T18:00", "symptoms": ["chest pain"]}


@dataclass(frozen=True)
class Damage:
    """A bit flipped at a place, or the end cut off there."""

    kind: str
    place: int

    def done_to(self, content: bytes) -> bytes:
        if self.kind == "cut":
            return content[: self.place]
        flipped = bytearray(content)
        flipped[self.place] ^= 1 << (self.place % 8)
        return bytes(flipped)


def damages(size: int, flips: int, cuts: int, pages: int = 1, seed: int = 1) -> Iterator[Damage]:
    """Places in a file of so many bytes: in each page of the header, anywhere, and ends."""
    rng = random.Random(seed)
    for page in range(HEADER_PAGES):
        for _ in range(pages):
            yield Damage("flip", page * PAGE_BYTES + rng.randrange(PAGE_BYTES))
    yield from (Damage("flip", rng.randrange(size)) for _ in range(flips))
    yield from (Damage("cut", rng.randrange(size)) for _ in range(cuts))


@dataclass
class Inbox:
    """A channel that takes everything."""

    messages: list[str] = field(default_factory=list)

    def __call__(self, url: str, title: str, body: str, *_: object, **__: object) -> SendResult:
        self.messages.append(f"{title}\n{body}")
        return SendResult(True)


@dataclass
class Told:
    """What came of it: the messages that went out, and the stores that were set aside."""

    messages: list[str]
    asides: list[str]


class DamagedHomes:
    """Copies of one home whose findings were told, to be damaged one by one."""

    def __init__(self, folder: Path, workers: Workers) -> None:
        self._folder, self._workers = folder, workers
        files = {
            "run.fit": run_on(5, 18, 12),
            "ride.fit": run_on(8, 17, 12, sport="cycling", speed=7.0, bpm=112),
        }
        self.model = make_home(folder / "model", files=files)
        self.first = self.scan(self.model, NOW)
        self.log = self._with_log()

    @property
    def store(self) -> bytes:
        return Home(self.model).store.read_bytes()

    def _with_log(self) -> tuple[bytes, bytes]:
        """A store with a log beside it, as a process leaves them that is killed after a commit."""
        path = self._folder / "logged.duckdb"
        shutil.copy(Home(self.model).store, path)
        with duckdb.connect(str(path), config=CONFIG) as con:
            con.execute("SET wal_autocheckpoint = '1GB'")
            con.execute("INSERT INTO unjudged SELECT 'nobody ' || n, DATE '2026-10-04' FROM range(200) AS many(n)")
            log = path.with_name(path.name + ".wal")
            return path.read_bytes(), log.read_bytes()

    def scan(self, home: Path, now: datetime) -> Inbox:
        """One pass, as `fallow scan` makes it."""
        inbox = Inbox()
        roster = read_roster(home / "roster.toml")
        scanner = Scanner(Home(home), roster, FixedClock(now), workers=self._workers, send=inbox)

        def whole() -> Pass:
            done = single_pass(scanner)
            write_board(Home(home), roster, Store(Home(home).store), now, default_limits())
            return done

        mended(scanner, whole)
        return inbox

    def tried(self, store: bytes, log: bytes | None = None) -> Told:
        """A home with this store, in which a new check-in with a sign for a doctor lies."""
        home = self._folder / "tried"
        shutil.rmtree(home, ignore_errors=True)
        shutil.copytree(self.model, home)
        Home(home).store.write_bytes(store)
        if log is not None:
            Home(home).store.with_name("fallow.duckdb.wal").write_bytes(log)
        put(home / "exports/runa/sick.checkin.json", json.dumps(SICK).encode())
        inbox = self.scan(home, LATER)
        return Told(inbox.messages, sorted(path.name for path in home.glob("fallow.broken-*.duckdb")))
