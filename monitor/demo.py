"""The sample exports through the real program: files arrive chapter by chapter, and what it says is handed on.

Nothing is played back: every chapter is a pass of the same scanner that `scan` and `watch` use, judged as of that
chapter's evening, with alerts sent to a target of our own on 127.0.0.1.
"""

from __future__ import annotations

import json
import os
import re
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from types import TracebackType
from typing import Any
from zoneinfo import ZoneInfo

from monitor import overriding, words
from monitor.alerts.channels import AppriseSender
from monitor.errors import WrongUse
from monitor.home import Home
from monitor.intake.workers import Workers
from monitor.roster import Roster, read_roster
from monitor.scanning import Scanner
from monitor.single_pass import single_pass
from monitor.store import findings
from rules.findings import Finding

# Where the demo's alerts arrive: a small HTTP target on 127.0.0.1 that keeps what it is sent.

MOST_BYTES = 1_000_000


@dataclass(frozen=True, slots=True)
class ReceivedMessage:
    """An alert as it was received; `to` is the last part of the path it was sent to."""

    to: str
    title: str
    body: str


class Target:
    """Listens while it is entered. `taken` hands over what has arrived since it was last asked."""

    def __init__(self) -> None:
        self._messages: list[ReceivedMessage] = []
        self._lock = threading.Lock()
        target = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                length = int(self.headers.get("Content-Length", 0))
                target._keep(self.path, self.rfile.read(min(length, MOST_BYTES)))
                self.send_response(204)
                self.end_headers()

            def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 - the name it has there
                """Say nothing: alerts hold health values."""

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.05,), daemon=True)

    @property
    def port(self) -> int:
        return int(self._server.server_address[1])

    def taken(self) -> tuple[ReceivedMessage, ...]:
        with self._lock:
            messages, self._messages = tuple(self._messages), []
        return messages

    def __enter__(self) -> Target:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()

    def _keep(self, path: str, body: bytes) -> None:
        said = json.loads(body)
        message = ReceivedMessage(path.rpartition("/")[2], str(said.get("title", "")), str(said.get("message", "")))
        with self._lock:
            self._messages.append(message)


ATHLETE = "runa"
COACH = "ida"
ZONE = ZoneInfo("Europe/Oslo")
AGE_SECONDS = 3600
"""The copies are this old, so that no pass waits for them to be quiet."""


@dataclass(frozen=True, slots=True)
class Chapter:
    """What happens up to a moment; `release` is the coach's reason for letting the next stage begin."""

    until: datetime
    story: str
    release: str | None = None


@dataclass(frozen=True, slots=True)
class ChapterResult:
    """What the program made of a chapter."""

    chapter: Chapter
    counts: dict[str, int]  # the keys of `scan --json`
    fresh: tuple[Finding, ...]
    messages: tuple[ReceivedMessage, ...]


def _at(day: int, hour: int, minute: int) -> datetime:
    return datetime(2026, 10, day, hour, minute, tzinfo=ZONE)


CHAPTERS = (
    Chapter(
        _at(4, 20, 0),
        words.commands.EVENING_AFTER_RACE,
    ),
    Chapter(_at(8, 17, 45), words.commands.EASY_WALKS_SO_FAR),
    Chapter(_at(11, 20, 0), words.commands.SWIM_AND_RIDE),
    Chapter(_at(12, 20, 0), words.commands.CROSS_TRAINING_WOULD_BEGIN),
    Chapter(_at(13, 19, 0), words.commands.STAIRS_ARE_FINE),
    Chapter(_at(16, 18, 0), words.commands.STRENGTH_WAS_FINE),
    Chapter(_at(17, 19, 30), words.commands.EVENING_ON_HILL_WITH_FRIENDS),
    Chapter(_at(20, 7, 30), words.commands.THREE_SHORT_NIGHTS_LATER),
    Chapter(
        _at(21, 19, 0),
        words.commands.COACH_AND_ATHLETE,
        release=words.commands.TALKED_IT_OVER,
    ),
    Chapter(
        _at(24, 12, 0),
        words.commands.EASY_RIDE,
    ),
)


class StoryClock:
    """Stands at the end of the chapter that is being read; pauses still use the real clock."""

    def __init__(self) -> None:
        self.moment = CHAPTERS[0].until

    def now(self) -> datetime:
        return self.moment.astimezone(UTC)

    def monotonic(self) -> float:
        return time.monotonic()


class Demo:
    """One run of the story in a home of its own."""

    def __init__(self, home: Home, target: Target, workers: Workers, samples: Traversable | None = None) -> None:
        self._samples = samples or sample_exports()
        self._target = target
        self._clock = StoryClock()
        self.home = _empty(home)
        self.roster = self._write_roster()
        self.athlete = self.roster.athletes[0]
        self._scanner = Scanner(self.home, self.roster, self._clock, workers=workers, send=AppriseSender())
        self._copied: set[str] = set()
        self._known: set[str] = set()
        self._age = time.time() - AGE_SECONDS

    @property
    def now(self) -> datetime:
        """How far the story has come."""
        return self._clock.moment

    def chapters(self) -> Iterator[ChapterResult]:
        """Live through the story, a pass of the scanner each."""
        for chapter in CHAPTERS:
            self._clock.moment = chapter.until
            on = chapter.until.date()
            if chapter.release:
                overriding.release(self.home, self.roster, ATHLETE, on, chapter.release, COACH, chapter.until)
            self._arrive(on)
            counts = single_pass(self._scanner).counts()
            yield ChapterResult(chapter, counts, self._fresh(), self._target.taken())

    def _write_roster(self) -> Roster:
        text = self._samples.joinpath("roster.toml").read_text("utf-8")
        path = self.home.roster
        path.write_text(text.replace("${DEMO_PORT}", str(self._target.port)), "utf-8")
        path.chmod(0o600)
        return read_roster(path, resolve=True)

    def _arrive(self, until: date) -> None:
        """Copy what has been exported up to a day. The nights are one file that grows."""
        folder = self._samples.joinpath("exports", ATHLETE)
        for path, file in sorted(_files(folder), key=lambda entry: ("(" in entry[0], entry[0])):  # copies come last
            day = re.search(r"\d{4}-\d{2}-\d{2}", path)
            if day is None:
                self._put(path, _rows_until(file.read_bytes(), until))
            elif path not in self._copied and date.fromisoformat(day[0]) <= until:
                self._put(path, file.read_bytes())

    def _put(self, path: str, content: bytes) -> None:
        target = self.athlete.folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
        self._age += 1
        os.utime(target, (self._age, self._age))
        self._copied.add(path)

    def _fresh(self) -> tuple[Finding, ...]:
        with self._scanner.store.reading() as con:
            standing = findings.standing(con, ATHLETE)
        fresh = tuple(finding for finding in reversed(standing) if finding.id not in self._known)
        self._known.update(finding.id for finding in standing)
        return fresh


@contextmanager
def staged(home: Home) -> Iterator[Demo]:
    """A demo ready to run, with its alert target listening and its workers ended afterwards."""
    with Target() as target, Workers() as workers:
        yield Demo(home, target, workers)


def sample_exports() -> Traversable:
    """The sample exports: of the installed package, else of the checkout."""
    try:
        found = resources.files("sample_exports")
    except ModuleNotFoundError:
        found = Path(__file__).parent.parent / "sample_exports"
    if not found.joinpath("roster.toml").is_file():
        raise WrongUse(words.commands.NO_SAMPLE_EXPORTS)
    return found


def _empty(home: Home) -> Home:
    if home.path.is_dir() and any(home.path.iterdir()):
        raise WrongUse(words.commands.DEMO_HOME_NOT_EMPTY.format(path=home.path))
    return home.made()


def _files(folder: Traversable, below: str = "") -> Iterator[tuple[str, Traversable]]:
    for entry in folder.iterdir():
        path = f"{below}{entry.name}"
        if entry.is_dir():
            yield from _files(entry, path + "/")
        else:
            yield path, entry


def _rows_until(table: bytes, until: date) -> bytes:
    """The header and the rows that were there on the evening of a day; the date stands first in each."""
    header, *rows = table.splitlines(keepends=True)
    return header + b"".join(row for row in rows if row.decode().split(",")[0] <= until.isoformat())
