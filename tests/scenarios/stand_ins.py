"""A clock, workers, a channel and a journal that stand in for real ones: moved, slowed, broken and killed by hand."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, ClassVar

from monitor.alerts.responses import SendResult
from monitor.clock import quiet_until
from monitor.intake.reading import ReadJob, ReadResult, read_path
from monitor.intake.workers import Workers
from monitor.roster import Roster
from monitor.store.journal import Journal
from rules.findings import Severity
from tests.homes import OSLO

BEGIN = datetime(2026, 10, 10, 12, tzinfo=OSLO)


class Killed(BaseException):
    """The process is gone."""


@dataclass
class HandClock:
    moment: datetime = BEGIN

    def now(self) -> datetime:
        return self.moment

    def monotonic(self) -> float:
        return self.moment.timestamp()


class Read:
    """Files read in this process, each content once."""

    known: ClassVar[dict[tuple[str, str, str], ReadResult]] = {}

    def __init__(self, jobs: Iterable[ReadJob]) -> None:
        self._jobs = list(jobs)

    @property
    def over(self) -> bool:
        return not self._jobs

    def next(self, seconds: float | None) -> tuple[ReadJob, ReadResult]:
        job = self._jobs.pop(0)
        return job, self.result(job)

    @classmethod
    def result(cls, job: ReadJob) -> ReadResult:
        name = hashlib.sha256((job.root / job.relative).read_bytes()).hexdigest()
        key = (job.relative, name, job.options.fingerprint)
        if key not in cls.known:
            cls.known[key] = read_path(job)
        return cls.known[key]

    def close(self) -> None:
        self._jobs.clear()


class InProcess(Workers):
    def reading(self, jobs: Iterable[ReadJob]) -> Any:
        return Read(jobs)


@dataclass
class Fuse:
    """Burns down at each call, and kills the process when it is short enough."""

    left: int | None = None

    def burn(self) -> None:
        if self.left is not None:
            self.left -= 1
            if self.left <= 0:
                self.left = None
                raise Killed


class MortalJournal(Journal):
    """The process may die right after a line was written."""

    def __init__(self, path: Path, fuse: Fuse) -> None:
        super().__init__(path)
        self._fuse = fuse

    def append(self, entry: Mapping[str, Any]) -> None:
        super().append(entry)
        self._fuse.burn()


@dataclass
class Channel:
    """Up, down, half (every other message), or slow to answer, so that nobody knows whether it arrived."""

    roster: Callable[[], Roster]
    clock: HandClock
    state: str = "up"
    accepted: list[tuple[str, str]] = field(default_factory=list)
    since_excuse: set[tuple[str, str]] = field(default_factory=set)
    tries: int = 0
    wrong: list[str] = field(default_factory=list)
    """What must not have come; a sender's own errors count as a channel that broke."""

    def __call__(
        self, url: str, title: str, body: str, *, severity: Severity = Severity.CAUTION, recipient: str = ""
    ) -> SendResult:
        self.tries += 1
        quiet = quiet_until(self.clock.now(), self.roster().alerts.quiet_hours, OSLO)
        daily = title.startswith("Runa Vik: ")
        if quiet is not None and severity < Severity.STOP and not daily:
            self.wrong.append(f"sent in quiet hours: {title}")
        if self.state == "down" or (self.state == "half" and self.tries % 2):
            return SendResult(False, "refused the connection")
        if self.state == "slow":
            self.excuse()
            return SendResult(False, "no answer within 30 s", perhaps=True)
        if "taken back" in f"{title} {body}".lower():
            self.since_excuse.clear()
        if (title, body) in self.since_excuse:
            self.wrong.append(f"told twice: {title}")
        self.since_excuse.add((title, body))
        self.accepted.append((title, body))
        return SendResult(True)

    def excuse(self) -> None:
        """A kill between sending and noting it, or a timeout, stands here: one repeat is allowed after it."""
        self.since_excuse.clear()
