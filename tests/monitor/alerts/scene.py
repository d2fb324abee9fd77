"""A roster, findings, a store and clocks for tests of alerts."""

from __future__ import annotations

import weakref
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

import duckdb

from monitor.alerts import notices, routing
from monitor.alerts.delivery import Delivery, SendSignal, deliver
from monitor.alerts.responses import SendResult
from monitor.clock import FixedClock
from monitor.roster.types import AlertSettings, Contact, Roster, RosterAthlete
from monitor.store.database import CONFIG, Store, migrate
from monitor.store.journal import Journal
from monitor.values import Difference, IntakeOptions
from monitor.views.status import outbox_view
from rules.facts import Athlete
from rules.findings import Finding, Severity, finding_id
from tests.scenarios.open_stores import empty

NOON = datetime(2026, 10, 9, 12, 0, tzinfo=UTC)  # 14:00 in Oslo
OSLO = ZoneInfo("Europe/Oslo")


def finding(
    rule: str = "no_running",
    severity: Severity = Severity.STOP,
    *,
    start: datetime = NOON - timedelta(hours=2),
    minutes: float = 40,
    kind: str = "session",
    summary: str = "Running 9 min in a session labelled walk, in the days off, which have none",
    **more: Any,
) -> Finding:
    end = start + timedelta(minutes=minutes)
    session = kind == "session"
    base = Finding(
        id=finding_id("runa", rule, kind, start.isoformat()),
        athlete="runa",
        rule=rule,
        severity=severity,
        stage="days_off",
        day=5,
        date=start.astimezone(OSLO).date(),
        subject_kind=kind,
        subject=start.isoformat(),
        subject_start=start,
        subject_end=end,
        session_start=start if session else None,
        session_end=end if session else None,
        sport="running" if session else None,
        source="a.fit" if session else None,
        observed=9.2,
        limit=0.0,
        unit="min",
        summary=summary,
        evidence={},
        advice=("Stop running; walk home", "Tomorrow: rest, or walk"),
    )
    return replace(base, **more)


def caution(days_ago: float, rule: str = "duration_cap") -> Finding:
    start = NOON - timedelta(days=days_ago, hours=2)
    return finding(rule, Severity.CAUTION, start=start, summary=f"71 min on day {days_ago}")


def contact(name: str = "coach", *urls: str, role: str = "coach", receives: Severity = Severity.CAUTION) -> Contact:
    return Contact(name, name.title(), urls or ("json://127.0.0.1:1/x",), receives, None, role)


def roster(
    *contacts: Contact, quiet: tuple[time, time] | None = None, name: str = "Runa Vik", late_after_days: float = 7
) -> Roster:
    known = contacts or (contact(),)
    athlete = RosterAthlete(
        Athlete("runa", "Europe/Oslo", name),
        Path("/nowhere"),
        tuple(one.id for one in known),
        IntakeOptions("Europe/Oslo"),
    )
    return Roster(Path("roster.toml"), AlertSettings(quiet, 72, late_after_days), tuple(known), (athlete,), "f")


@dataclass
class FakeChannel:
    """Remembers what it was given; answers as told."""

    answer: bool | Callable[[str, str], bool] = True
    sent: list[tuple[str, str, str]] = field(default_factory=list)
    tried: int = 0

    def __call__(self, url: str, title: str, body: str, **_: object) -> SendResult:
        self.tried += 1
        ok = self.answer(url, title) if callable(self.answer) else self.answer
        if ok:
            self.sent.append((url, title, body))
        return SendResult(ok, "" if ok else "answered 500 (internal server error)")

    @property
    def titles(self) -> list[str]:
        return [title for _, title, _ in self.sent]


class MemoryStore(Store):
    """A store in memory, for tests in which opening one is not the point; one after another they use the same place."""

    unused: ClassVar[list[duckdb.DuckDBPyConnection]] = []

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        if self.unused:
            self._connection = self.unused.pop()
            empty(self._connection)
        else:
            self._connection = duckdb.connect(config=CONFIG)
            migrate(self._connection)
        weakref.finalize(self, self.unused.append, self._connection)

    @contextmanager
    def reading(self) -> Iterator[duckdb.DuckDBPyConnection]:
        yield self._connection

    @contextmanager
    def writing(self) -> Iterator[duckdb.DuckDBPyConnection]:
        self._connection.begin()
        try:
            yield self._connection
        except BaseException:
            self._connection.rollback()
            raise
        self._connection.commit()


class Scene:
    """A home with its store and journal, the time of judging and real time, both set by hand."""

    def __init__(self, path: Path, known: Roster | None = None, *, store: Store | None = None) -> None:
        self.store = store or MemoryStore(path / "fallow.duckdb")
        self.journal = Journal(path / "fallow.journal")
        self.roster = known or roster()
        self.channel = FakeChannel()
        self.now = NOON
        self.wall = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)

    def pass_time(self, **span: float) -> None:
        self.now += timedelta(**span)
        self.wall += timedelta(**span)

    def queue(
        self,
        *fresh: Finding,
        worse: tuple[tuple[Finding, Finding], ...] = (),
        changed: tuple[tuple[Finding, Finding], ...] = (),
        withdrawn: tuple[Finding, ...] = (),
        first_import: bool = False,
        athlete: str = "runa",
    ) -> None:
        change = Difference(athlete, fresh, worse, changed, withdrawn)
        with self.store.writing() as con:
            routing.queue(con, self.roster, athlete, change, self.now)
            if first_import:
                notices.sum_up_import(con, self.roster, "runa", self.now)

    def deliver(
        self,
        *,
        gather_now: bool = True,
        step: Callable[[str], None] = lambda _: None,
        send_signal: SendSignal | None = None,
    ) -> Delivery:
        return deliver(
            self.store,
            self.journal,
            self.roster,
            FixedClock(self.now),
            self.channel,
            gather_now=gather_now,
            wall=lambda: self.wall,
            step=step,
            send_signal=send_signal,
        )

    def try_until_given_up(self) -> None:
        """A day and a little of a channel that does not take anything, awake all the time."""
        for _ in range(26):
            self.deliver()
            self.pass_time(hours=1)

    def outbox(self) -> list[dict[str, Any]]:
        """Oldest first."""
        with self.store.reading() as con:
            return outbox_view(con, self.roster)[::-1]

    def states(self) -> list[str]:
        return [row["state"] for row in self.outbox()]

    def reasons(self, finding_id: str) -> list[str]:
        from monitor.store import decisions

        with self.store.reading() as con:
            return [one["reason"] for one in decisions.reasons(con, finding_id)]
