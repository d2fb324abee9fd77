"""A home to which anything happens in any order, and what must hold after each step.

The suite runs some examples (`test_any_order.py`); by hand: python -m tests.scenarios.any_order EXAMPLES STEPS [SEED]
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import shutil
import sys
import tempfile
import threading
from collections.abc import Callable, Iterable
from datetime import timedelta
from functools import cache
from pathlib import Path
from typing import Any, ClassVar

from hypothesis import HealthCheck, seed, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from monitor import overriding, rebuilding, words
from monitor.alerts.delivery import REPEAT_TITLE
from monitor.alerts.responses import SendResult
from monitor.home import Home
from monitor.intake.reading import ReadJob
from monitor.reasons import Why
from monitor.roster import read_roster
from monitor.scanning import Scanner
from monitor.single_pass import Pass, single_pass
from monitor.store import decisions, findings, outbox
from monitor.store.journal import Journal
from rules.findings import Finding
from rules.words import said
from tests.homes import ROSTER, fallow, run_on
from tests.scenarios.open_stores import OpenStores
from tests.scenarios.stand_ins import BEGIN, Channel, Fuse, HandClock, InProcess, Killed, MortalJournal, Read
from tests.waiting import PATIENCE_SECONDS

SICK = {"date": "2026-10-09T20:00", "symptoms": ["chest pain"], "pain": 2}
WELL = {"date": "2026-10-09T20:00", "pain": 1}
STIFF = {"date": "2026-10-10T08:00", "stairs_unaided": False, "squat_unaided": True}
QUIET_HOURS = ("21:30-06:30", "", "09:00-20:00")
A_DEAD_PROCESS = 2**22 + 1
"""No process has this number."""


def checkin(told: dict[str, Any]) -> bytes:
    return json.dumps(told).encode()


def nights(minutes: int, *, without: int = 0) -> bytes:
    """A table of a week; of one day the length of the night was emptied."""
    told = {day: minutes for day in range(5, 11) if day != without}
    rows = "".join(f"2026-10-{day:02},{told.get(day, '')},{48 + day % 3}\n" for day in range(5, 11))
    return f"date,total_sleep_min,resting_hr\n{rows}".encode()


@cache
def contents() -> dict[str, tuple[bytes, ...]]:
    """Name -> what the file holds first, and what it is corrected to."""
    run = run_on(5, 18, 12)
    ride = {"sport": "cycling", "speed": 7.0}
    return {
        "walk.fit": (run_on(3, 12, 12, sport="walking", speed=1.3, bpm=95),),
        "run.fit": (run, run_on(5, 18, 9)),  # shorter: a correction wins over what tells more
        "run (1).fit": (run,),
        "ride.fit": (run_on(4, 17, 80, bpm=112, **ride), run_on(4, 17, 40, bpm=104, **ride)),
        "early.fit": (run_on(1, 10, 11),),
        "nights.csv": (nights(430), nights(350), nights(350, without=8)),
        "nights (1).csv": (nights(430) + b"\n",),
        "sick.checkin.json": (checkin(SICK), checkin(WELL)),
        "sick (1).checkin.json": (checkin(SICK) + b"\n", checkin(WELL) + b"\n"),
        "stiff.checkin.json": (checkin(STIFF), checkin({**STIFF, "stairs_unaided": True})),
    }


STEPS = ("after claim", "after send", "before mark")
KILLS = st.one_of(
    st.tuples(st.just("opening the store"), st.integers(1, 14)),
    st.tuples(st.just("after a line of the journal"), st.integers(1, 3)),
    st.tuples(st.sampled_from(["judging", *STEPS]), st.integers(1, 3)),
)
"""Where a pass dies, and at the how manieth time that it comes there."""


ASKED = (
    *((command, "--json") for command in ("status", "findings", "outbox", "intake")),
    *((command, "runa", "--json") for command in ("plan", "today")),
    *(("explain", "none"), ("seen", "none", "--by", "ida"), ("plan", "nobody")),
)
"""What is asked of a home; what cannot be answered is said in one line."""


HAPPENINGS = (
    *("arrive", "correct", "scan", "kill") * 3,
    *("clock_forward", "set_channel", "begin_anew", "all_goes_out") * 2,
    *("remove", "clock_back", "set_quiet_hours", "measure_heart", "hold", "release", "see", "ask"),
)
Draw = Callable[[st.SearchStrategy[Any]], Any]


class AnyOrder(RuleBasedStateMachine):
    stores: ClassVar[OpenStores] = OpenStores()
    judged_anew: ClassVar[dict[bytes, list[tuple[str, str, str]]]] = {}

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="any-order-"))
        self.in_place = self.stores.in_place()
        self.in_place.__enter__()
        self.home = Home(self.folder / "home").made()
        self.exports = self.home.path / "exports/runa"
        self.exports.mkdir(parents=True)
        self.hr_max, self.quiet_hours, self.mtime_s = 188, QUIET_HOURS[0], 1_760_000_000
        self.clock, self.latest = HandClock(), BEGIN
        self.channel = Channel(lambda: self.roster, self.clock)
        self.version: dict[str, int] = {}
        self.taken: dict[str, tuple[bytes, int]] = {}  # as the store has it
        self.write_roster()
        self.whole = False  # a pass was finished since the last change

    def teardown(self) -> None:
        self.in_place.__exit__(None, None, None)
        self.stores.forget()
        shutil.rmtree(self.folder, ignore_errors=True)

    # What happens

    @initialize(names=st.sets(st.sampled_from(sorted(contents())), max_size=4))
    def begin(self, names: set[str]) -> None:
        for name in sorted(names):
            self.put(name, self.version.setdefault(name, 0))

    @rule(what=st.sampled_from(HAPPENINGS), data=st.data())
    def happens(self, what: str, data: st.DataObject) -> None:
        """One rule for all: of many, the library leaves most out of most examples."""
        getattr(self, what)(data.draw)

    def arrive(self, draw: Draw) -> None:
        name = draw(st.sampled_from(sorted(contents())))
        self.put(name, self.version.setdefault(name, 0))

    def correct(self, draw: Draw) -> None:
        names = [name for name in sorted(self.version) if len(contents()[name]) > 1]
        if names:
            name = draw(st.sampled_from(names))
            self.version[name] = (self.version[name] + 1) % len(contents()[name])
            self.put(name, self.version[name])

    def remove(self, draw: Draw) -> None:
        there = sorted(path.name for path in self.exports.iterdir())
        if there:
            (self.exports / draw(st.sampled_from(there))).unlink()
            self.whole = False

    def scan(self, draw: Draw) -> None:
        self.finish(single_pass(self.scanner()))

    def clock_forward(self, draw: Draw) -> None:
        self.clock.moment += timedelta(hours=draw(st.integers(1, 30)))
        self.latest = max(self.latest, self.clock.moment)
        self.whole = False

    def clock_back(self, draw: Draw) -> None:
        self.clock.moment -= timedelta(hours=draw(st.integers(1, 5)))
        self.whole = False

    def set_channel(self, draw: Draw) -> None:
        self.channel.state = draw(st.sampled_from(["up", "down", "half", "slow"]))
        self.try_again()

    def set_quiet_hours(self, draw: Draw) -> None:
        self.write_roster(quiet_hours=draw(st.sampled_from(QUIET_HOURS)))

    def measure_heart(self, draw: Draw) -> None:
        self.write_roster(hr_max=176 if self.hr_max == 188 else 188)

    def hold(self, draw: Draw) -> None:
        now = self.clock.now()
        overriding.hold(self.home, self.roster, "runa", now.date(), 2, "a cold", "Ida", now)
        self.whole = False

    def release(self, draw: Draw) -> None:
        now = self.clock.now()
        overriding.release(self.home, self.roster, "runa", now.date(), "fine", "Ida", now)
        self.whole = False

    def see(self, draw: Draw) -> None:
        standing = self.standing()
        if standing:
            overriding.mark_all_seen(self.home, [standing[0].id], "ida", "talked")

    def begin_anew(self, draw: Draw) -> None:
        rebuilding.rebuild(self.home, self.clock.now())
        self.taken.clear()  # what no longer lies there is forgotten
        self.whole = False

    def kill(self, draw: Draw) -> None:
        where, times = draw(KILLS)
        scanner, fuse = self.scanner(), Fuse(times)
        before = len(self.channel.accepted)
        if where == "opening the store":
            self.stores.on_opening = fuse.burn
        elif where == "after a line of the journal":
            scanner.journal = MortalJournal(self.home.journal, fuse)
        elif where == "judging":
            judge = scanner._judge
            scanner._judge = lambda *given: fuse.burn() or judge(*given)
        else:
            scanner._at_step = lambda step: fuse.burn() if step == where else None
        try:
            done = single_pass(scanner)
        except Killed:
            self.wait_for_messages()
            if where == "after send" and len(self.channel.accepted) > before:
                self.channel.excuse()
            self.stores.on_opening = lambda: None
            self.bury()
            return
        finally:
            self.stores.on_opening = lambda: None
        self.finish(done)

    def ask(self, draw: Draw) -> None:
        asked = draw(st.sampled_from(ASKED))
        if self.home.store.exists():
            ran = fallow(*asked, home=self.home.path)
            wrong = "--json" not in asked
            assert ran.status in ((1, 2) if wrong else (0,)), ran.err
            assert len(ran.err.splitlines()) == wrong, ran.err

    def all_goes_out(self, draw: Draw) -> None:
        """With the channel up and no quiet hours, a pass leaves nothing waiting but notices put off till morning."""
        self.channel.state = "up"
        self.write_roster(quiet_hours="")
        self.try_again()
        self.scan(draw)
        with self.scanner().store.reading() as con:
            waiting = [row for row in outbox.unsent(con) if row.kind != "notice" or row.state != "held"]
        assert waiting == []

    # What must hold

    @invariant()
    def every_fact_of_a_readable_file_is_stored(self) -> None:
        if not self.whole:
            return
        with self.scanner().store.reading() as con:
            ledger = {
                path: (sha256, state)
                for path, sha256, state in con.execute(
                    "SELECT path, sha256, state FROM intake WHERE current"
                ).fetchall()
            }
            recordings = dict(con.execute("SELECT sha256, count(*) FROM recording GROUP BY sha256").fetchall())
            told = {
                table: {day for (day,) in con.execute(f"SELECT date FROM {table}").fetchall()}
                for table in ("night", "morning", "checkin")
            }
            samples = con.execute(
                "SELECT (SELECT count(DISTINCT recording) FROM sample), (SELECT count(*) FROM recording)"
            ).fetchone()
        assert samples is not None
        assert samples[0] == samples[1], "samples of each recording, and of no other"
        (athlete,) = self.roster.athletes
        for path in self.exports.iterdir():
            sha256, state = ledger[path.name]
            assert sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
            assert state in ("read", "duplicate")
            facts = Read.result(ReadJob(athlete.folder, path.name, athlete.options)).facts
            assert facts is not None
            assert recordings.get(sha256, 0) == len(facts.recordings)
            assert told["night"] >= {one.date for one in facts.nights}
            assert told["morning"] >= {one.date for one in facts.mornings}
            assert told["checkin"] >= {one.date for one in facts.checkins}

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
            told = decided[-1]["reason"] in (Why.FIRST, Why.WORSE)
            assert not told or finding in in_rows or any(one["reason"] == Why.SENT_BEFORE for one in decided)
        assert all(row.reason or row.state == "sent" for row in rows)

    @invariant()
    def nothing_is_told_twice_or_in_quiet_hours(self) -> None:
        assert self.channel.wrong == []

    @invariant()
    def what_counts_as_sent_has_arrived(self) -> None:
        if not self.whole:
            return
        with self.scanner().store.reading() as con:
            rows = outbox.every(con)
        arrived = set(self.channel.accepted)
        for row in rows:
            if row.state == "sent" and row.reason != Why.SENT_EARLIER:
                again = (f"{REPEAT_TITLE}{row.title}", f"{row.body}\n\n{words.sending.REPEAT}")
                assert (row.title, row.body) in arrived or again in arrived, f"not sent: {row.title}"

    # How

    def write_roster(self, hr_max: int | None = None, quiet_hours: str | None = None) -> None:
        self.hr_max = self.hr_max if hr_max is None else hr_max
        self.quiet_hours = self.quiet_hours if quiet_hours is None else quiet_hours
        text = ROSTER.format(url="json://127.0.0.1:9/nobody")
        text = text.replace('quiet_hours = "21:30-06:30"', f'quiet_hours = "{self.quiet_hours}"')
        self.home.roster.write_text(text.replace("hr_max = 188", f"hr_max = {self.hr_max}"), "utf-8")
        self.roster = read_roster(self.home.roster)
        self.whole = False

    def put(self, name: str, version: int) -> None:
        self.mtime_s += 10
        path = self.exports / name
        path.write_bytes(contents()[name][version])
        os.utime(path, (self.mtime_s, self.mtime_s))
        self.whole = False

    def scanner(self) -> Scanner:
        return Scanner(self.home, self.roster, self.clock, workers=InProcess(), send=self.channel)

    def standing(self) -> list[Finding]:
        if not self.home.store.exists():
            return []
        with self.scanner().store.reading() as con:
            return findings.standing(con)

    def try_again(self) -> None:
        """As `outbox --retry`: pauses are of real time."""
        if self.home.store.exists():
            with self.scanner().store.writing() as con:
                outbox.retry(con, self.clock.now())

    def wait_for_messages(self) -> None:
        """What was under way when the process died has come or gone."""
        for thread in threading.enumerate():
            if thread.name == "fallow-post":
                thread.join(PATIENCE_SECONDS)

    def bury(self) -> None:
        """The process is gone, and what it held in hand with it."""
        with self.scanner().store.writing() as con:
            con.execute(
                "UPDATE outbox SET claimed_by = regexp_replace(claimed_by, ':[0-9]+$', ':' || ?::VARCHAR)",
                [A_DEAD_PROCESS],
            )
        self.note_taken()
        self.whole = False

    def finish(self, done: Pass) -> None:
        assert not done.left_out
        self.note_taken()
        self.whole = True
        if self.clock.moment >= self.latest:
            self.compare()

    def note_taken(self) -> None:
        with self.scanner().store.reading() as con:
            rows = con.execute(
                "SELECT path, sha256 FROM intake WHERE current AND state IN ('read', 'duplicate')"
            ).fetchall()
        known = dict(rows)
        for path in self.exports.iterdir():
            content = path.read_bytes()
            sha256 = hashlib.sha256(content).hexdigest()
            if known.get(path.name) == sha256:
                self.taken[path.name] = (content, path.stat().st_mtime_ns)

    def compare(self) -> None:
        """Findings are those of a new home over the same files and journal, whatever happened on the way."""
        rebuilding._settle_up(self.scanner().store, Journal(self.home.journal), self.clock.moment)
        assert told(self.standing()) == self.expected()

    def expected(self) -> list[tuple[str, str, str]]:
        known = hashlib.sha256(repr((sorted(self.taken.items()), self.clock.moment, self.hr_max)).encode())
        for entry in Journal(self.home.journal).entries():
            came = str(entry.get("once")).startswith(("arrived:", "watched:"))
            known.update(json.dumps(entry).encode() if came or entry["kind"] == "hold" else b"")
        if known.digest() not in self.judged_anew:
            self.judged_anew[known.digest()] = self.judge_anew()
        return self.judged_anew[known.digest()]

    def judge_anew(self) -> list[tuple[str, str, str]]:
        fresh = Home(self.folder / "fresh").made()
        exports = fresh.path / "exports/runa"
        exports.mkdir(parents=True)
        for name, (content, mtime_ns) in self.taken.items():
            (exports / name).write_bytes(content)
            os.utime(exports / name, ns=(mtime_ns, mtime_ns))
        shutil.copy(self.home.roster, fresh.roster)
        if self.home.journal.exists():
            shutil.copy(self.home.journal, fresh.journal)
        roster = read_roster(fresh.roster)
        scanner = Scanner(fresh, roster, self.clock, workers=InProcess(), send=lambda *_, **__: SendResult(True))
        single_pass(scanner)
        with scanner.store.reading() as con:
            expected = told(findings.standing(con))
        self.stores.forget(fresh.store)
        shutil.rmtree(fresh.path)
        return expected


def told(standing: Iterable[Finding]) -> list[tuple[str, str, str]]:
    """What is compared."""
    return sorted((one.id, str(one.severity), said(one.summary)) for one in standing)


def main(examples: int = 100, steps: int = 50, begin: int | None = None) -> None:
    begin = random.randrange(10**6) if begin is None else begin
    taken = 0

    class Counted(AnyOrder):
        @invariant()
        def a_step_was_taken(self) -> None:
            nonlocal taken
            taken += 1

    hard = settings(
        max_examples=examples,
        stateful_step_count=steps,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    print(f"seed {begin}: {examples} examples of up to {steps} steps", flush=True)
    run_state_machine_as_test(seed(begin)(Counted), settings=hard)
    print(f"{taken} steps in all: nothing found")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
