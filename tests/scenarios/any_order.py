"""A home to which anything happens in any order, and what must hold after each step.

The suite runs a few examples (`test_any_order.py`); by hand: python -m tests.scenarios.any_order EXAMPLES STEPS
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any, ClassVar

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule, run_state_machine_as_test

from monitor import overriding
from monitor.alerts.channels import SendResult
from monitor.home import Home
from monitor.intake.reading import ReadJob, ReadResult, read_path
from monitor.intake.workers import Workers
from monitor.rebuilding import rebuild
from monitor.roster import read_roster
from monitor.scanning import Scanner
from monitor.single_pass import Pass, single_pass
from monitor.store import decisions, findings, outbox
from monitor.store.decisions import SENT_BEFORE
from rules.findings import Finding
from tests.homes import OSLO, ROSTER, fallow, run_on

BEGIN = datetime(2026, 10, 10, 12, tzinfo=OSLO)
SICK = {"date": "2026-10-09T20:00", "symptoms": ["chest pain"], "pain": 2}
WELL = {"date": "2026-10-09T20:00", "pain": 1}
STIFF = {"date": "2026-10-10T08:00", "stairs_unaided": False, "squat_unaided": True}


def checkin(told: dict[str, Any]) -> bytes:
    return json.dumps(told).encode()


def nights(minutes: int) -> bytes:
    rows = "".join(f"2026-10-{day:02},{minutes},{48 + day % 3}\n" for day in range(5, 11))
    return f"date,total_sleep_min,resting_hr\n{rows}".encode()


@cache
def contents() -> dict[str, tuple[bytes, ...]]:
    """Name -> what the file holds first, and what it is corrected to."""
    run = run_on(5, 18, 12)
    return {
        "walk.fit": (run_on(3, 12, 12, sport="walking", speed=1.3, bpm=95),),
        "run.fit": (run,),
        "run (1).fit": (run,),
        "ride.fit": (run_on(4, 17, 80, sport="cycling", speed=7.0, bpm=112),),
        "early.fit": (run_on(1, 10, 11),),
        "nights.csv": (nights(430), nights(350)),
        "sick.checkin.json": (checkin(SICK), checkin(WELL)),
        "stiff.checkin.json": (checkin(STIFF), checkin({**STIFF, "stairs_unaided": True})),
    }


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
        name = hashlib.sha256((job.root / job.relative).read_bytes()).hexdigest()
        key = (job.relative, name, job.options.fingerprint)
        if key not in self.known:
            self.known[key] = read_path(job)
        return job, self.known[key]

    def close(self) -> None:
        self._jobs.clear()


class InProcess(Workers):
    def reading(self, jobs: Iterable[ReadJob]) -> Any:
        return Read(jobs)


@dataclass
class Channel:
    """Up, down, half (every other message), or slow to answer, so that nobody knows."""

    state: str = "up"
    accepted: list[tuple[str, str]] = field(default_factory=list)
    since_excuse: set[tuple[str, str]] = field(default_factory=set)
    tries: int = 0

    def __call__(self, url: str, title: str, body: str, *_: object, **__: object) -> SendResult:
        self.tries += 1
        if self.state == "down" or (self.state == "half" and self.tries % 2):
            return SendResult(False, "refused the connection")
        if self.state == "slow":
            self.excuse()
            return SendResult(False, "no answer within 30 s", perhaps=True)
        if "taken back" in title.lower():
            self.since_excuse.clear()
        assert (title, body) not in self.since_excuse, f"told twice: {title}"
        self.since_excuse.add((title, body))
        self.accepted.append((title, body))
        return SendResult(True)

    def excuse(self) -> None:
        """A kill or a timeout stands here: one repeat is allowed after it."""
        self.since_excuse.clear()


class AnyOrder(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="any-order-"))
        self.home = Home(self.folder / "home").made()
        self.exports = self.home.path / "exports/runa"
        self.exports.mkdir(parents=True)
        self.clock, self.channel, self.latest = HandClock(), Channel(), BEGIN
        self.hr_max, self.mtime_s = 188, 1_760_000_000
        self.version: dict[str, int] = {}
        self.taken: dict[str, tuple[bytes, int]] = {}  # as the last pass saw it
        self.write_roster()
        self.whole = False  # a pass was finished since the last change

    def teardown(self) -> None:
        shutil.rmtree(self.folder, ignore_errors=True)

    # What happens

    @rule(name=st.sampled_from(sorted(contents())))
    def arrive(self, name: str) -> None:
        self.put(name, self.version.setdefault(name, 0))

    @precondition(lambda self: any(len(contents()[name]) > 1 for name in self.version))
    @rule(data=st.data())
    def correct(self, data: st.DataObject) -> None:
        name = data.draw(st.sampled_from([name for name in sorted(self.version) if len(contents()[name]) > 1]))
        self.version[name] = 1 - self.version[name]
        self.put(name, self.version[name])

    @precondition(lambda self: any(self.exports.iterdir()))
    @rule(data=st.data())
    def remove(self, data: st.DataObject) -> None:
        data.draw(st.sampled_from(sorted(self.exports.iterdir()))).unlink()
        self.whole = False

    @rule()
    def scan(self) -> None:
        self.one_pass()

    @rule(hours=st.integers(1, 30))
    def clock_forward(self, hours: int) -> None:
        self.clock.moment += timedelta(hours=hours)
        self.latest = max(self.latest, self.clock.moment)
        self.whole = False

    @rule(hours=st.integers(1, 5))
    def clock_back(self, hours: int) -> None:
        self.clock.moment -= timedelta(hours=hours)
        self.whole = False

    @rule(state=st.sampled_from(["up", "down", "half", "slow"]))
    def set_channel(self, state: str) -> None:
        self.channel.state = state
        if self.home.store.exists():
            with self.scanner().store.writing() as con:
                outbox.retry(con, self.clock.now())  # as `outbox --retry`, since pauses are of real time

    @rule()
    def edit_roster(self) -> None:
        self.hr_max = 176 if self.hr_max == 188 else 188
        self.write_roster()
        self.whole = False

    @rule(kind=st.sampled_from(["hold", "release"]))
    def override(self, kind: str) -> None:
        now = self.clock.now()
        roster = read_roster(self.home.roster)
        if kind == "hold":
            overriding.hold(self.home, roster, "runa", now.date(), 2, "a cold", "Ida", now)
        else:
            overriding.release(self.home, roster, "runa", now.date(), "fine", "Ida", now)
        self.whole = False

    @rule()
    def see(self) -> None:
        standing = self.standing()
        if standing:
            overriding.mark_seen(self.home, standing[0].id, "ida", "talked")

    @rule()
    def begin_anew(self) -> None:
        rebuild(self.home, self.clock.now())
        self.whole = False

    @rule(where=st.sampled_from(["judging", "after claim"]))
    def kill(self, where: str) -> None:
        scanner = self.scanner()

        def die(*_: object, **__: object) -> int:
            raise Killed

        if where == "judging":
            scanner._judge = die  # type: ignore[method-assign]
        else:
            scanner._at_step = lambda step: die() if step == where else None  # type: ignore[method-assign,assignment]
        try:
            single_pass(scanner)
        except Killed:
            self.channel.excuse()
        with self.scanner().store.writing() as con:  # the process is gone, and its claims with it
            con.execute("UPDATE outbox SET claimed_by = NULL, claimed_until_wall = NULL")
        self.note_taken()
        self.whole = False

    @rule(command=st.sampled_from(["status", "findings", "outbox", "intake", "plan"]))
    def ask(self, command: str) -> None:
        given = ["runa"] if command == "plan" else []
        ran = fallow(command, *given, "--json", home=self.home.path)
        assert ran.status == 0, ran.err
        assert len(ran.err.splitlines()) <= 1

    # What must hold

    @invariant()
    def every_fact_of_a_readable_file_is_stored(self) -> None:
        if not self.whole:
            return
        with self.scanner().store.reading() as con:
            rows = con.execute("SELECT path, sha256, state FROM intake WHERE current").fetchall()
        ledger = {path: (sha256, state) for path, sha256, state in rows}
        for path in self.exports.iterdir():
            sha256, state = ledger[path.name]
            assert sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
            assert state in ("read", "duplicate")

    @invariant()
    def every_finding_is_told_or_waits_with_a_reason(self) -> None:
        if not self.whole:
            return
        with self.scanner().store.reading() as con:
            rows = outbox.every(con)
            reasons = {one.id: decisions.reasons(con, one.id) for one in findings.standing(con)}
        in_rows = {finding for row in rows for finding in row.findings}
        for finding, decided in reasons.items():
            assert decided, f"nothing was decided about {finding}"
            told = decided[-1]["reason"] in ("first", "worse")
            assert not told or finding in in_rows or any(one["reason"] == SENT_BEFORE for one in decided)
        assert all(row.reason or row.state == "sent" for row in rows)

    # How

    def write_roster(self) -> None:
        text = ROSTER.format(url="json://127.0.0.1:9/nobody").replace("hr_max = 188", f"hr_max = {self.hr_max}")
        self.home.roster.write_text(text, "utf-8")

    def put(self, name: str, version: int) -> None:
        self.mtime_s += 10
        path = self.exports / name
        path.write_bytes(contents()[name][version])
        os.utime(path, (self.mtime_s, self.mtime_s))
        self.whole = False

    def scanner(self, home: Home | None = None, send: Callable[..., SendResult] | None = None) -> Scanner:
        where = home or self.home
        roster = read_roster(where.roster)
        return Scanner(where, roster, self.clock, workers=InProcess(), send=send or self.channel)  # type: ignore[arg-type]

    def standing(self) -> list[Finding]:
        if not self.home.store.exists():
            return []
        with self.scanner().store.reading() as con:
            return findings.standing(con)

    def one_pass(self) -> None:
        done: Pass = single_pass(self.scanner())
        assert not done.left_out
        self.note_taken()
        self.whole = True
        if self.clock.moment >= self.latest:
            self.compare()

    def note_taken(self) -> None:
        for path in self.exports.iterdir():
            self.taken[path.name] = (path.read_bytes(), path.stat().st_mtime_ns)

    def compare(self) -> None:
        """Findings are those of a new home over the same files, whatever happened on the way."""
        fresh = Home(self.folder / "fresh").made()
        exports = fresh.path / "exports/runa"
        exports.mkdir(parents=True)
        for name, (content, mtime_ns) in self.taken.items():
            (exports / name).write_bytes(content)
            os.utime(exports / name, ns=(mtime_ns, mtime_ns))
        shutil.copy(self.home.roster, fresh.roster)
        if self.home.journal.exists():
            shutil.copy(self.home.journal, fresh.journal)
        scanner = self.scanner(fresh, lambda *_, **__: SendResult(True))
        single_pass(scanner)
        with scanner.store.reading() as con:
            expected = told(findings.standing(con))
        shutil.rmtree(fresh.path)
        assert told(self.standing()) == expected


def told(standing: Iterable[Finding]) -> list[tuple[str, str, str]]:
    """What is compared: silence hangs on when a folder was first looked at."""
    return sorted((one.id, str(one.severity), one.summary) for one in standing if one.rule != "gone_quiet")


def main(examples: int = 100, steps: int = 50) -> None:
    hard = settings(
        max_examples=examples, stateful_step_count=steps, deadline=None, suppress_health_check=list(HealthCheck)
    )
    run_state_machine_as_test(AnyOrder, settings=hard)
    print(f"{examples} examples of up to {steps} steps: nothing found")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
