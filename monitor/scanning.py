"""One pass over what lies in the folders: read, store, judge, queue alerts, send. `scan` and the daemon share it."""

from __future__ import annotations

import threading
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import duckdb

from monitor import rebuilding, telling
from monitor.alerts import beside, decide
from monitor.alerts.beside import Beside
from monitor.alerts.day_told import day_of
from monitor.alerts.deliver import Bell, Delivery, Send, deliver
from monitor.clock import Clock
from monitor.folders.seen import Refused, Seen
from monitor.home import Home
from monitor.intake import redigesting, refusals
from monitor.intake.keeping import Moment, Taken, Tally, keep
from monitor.intake.workers import ReadJob, Workers
from monitor.judging.judge import View, due, rejudge
from monitor.pass_report import PassReport
from monitor.roster import Roster
from monitor.store import history, intake
from monitor.store.database import Store, identity_of
from monitor.store.journal import Journal
from rules.limits import Limits, default_limits
from rules.summary import looked_back

BATCH_FILES = 100
BATCH_SAMPLES = 400_000
IN_HAND_SECONDS = 30.0
DIGESTED_AT_ONCE = 16
"""Digests made anew before the daemon looks up: half a second of work at the most."""
DIGESTED_IN_BULK = 100
JUDGED_AT_ONCE = 8
"""Athletes judged in one transaction: others wait for the store well under a second, when most verdicts are known."""


@dataclass(frozen=True, slots=True)
class Timed:
    """How many athletes were judged by the clock, and whether more of them wait."""

    judged: int
    more: bool


class Scanner:
    """Reads files into the store, judges, queues and sends. Knows nothing of threads or of when to look."""

    def __init__(
        self,
        home: Home,
        roster: Roster,
        clock: Clock,
        *,
        workers: Workers,
        send: Send,
        patient: bool = False,
        limits: Limits | None = None,
    ) -> None:
        self.home = home.made()
        self.store = Store(home.store)
        self.journal = Journal(home.journal)
        self._roster = roster
        self._clock = clock
        self._workers = workers
        self._send = send
        self._patient = patient
        self._limits = limits or default_limits()
        self._nothing_in_hand = threading.Event()
        self._nothing_in_hand.set()
        self._in_hand = 0
        self._counting = threading.Lock()
        self._bell = Bell()
        self._daily = telling.DailyMessages()
        self._judged_hour = ""
        self._waiting: list[str] = []  # of this hour, not yet judged
        self._digests_fresh = False
        self._read_before: set[str] = set()
        self._read_in = identity_of(home.store)
        self._left_out: list[str] = []

    @property
    def roster(self) -> Roster:
        return self._roster

    def use(self, roster: Roster) -> None:
        """Go on with another roster; what its change asks for is judged by the next `timers`."""
        self._roster = roster
        self._judged_hour, self._digests_fresh = "", False

    def known_of(self, athlete_ids: Iterable[str]) -> dict[str, dict[str, tuple[int, int]]]:
        """Athlete id -> path -> (size, mtime_ns) of the files that need no second look."""
        with self.store.reading() as con:
            return {athlete_id: intake.known(con, athlete_id, self._under(athlete_id)) for athlete_id in athlete_ids}

    def _under(self, athlete_id: str) -> str:
        athlete = self._roster.athlete(athlete_id)
        return athlete.options.fingerprint if athlete else ""

    def warm(self) -> None:
        """A file is about to come."""
        self._workers.warm()

    def take(
        self, ready: Sequence[tuple[str, Seen]], refused: Mapping[str, Sequence[Refused]] | None = None
    ) -> PassReport:
        """Read the given files (athlete id, file), store and judge them; those of athletes off the roster wait."""
        report = PassReport()
        known_athletes = {athlete.id: athlete for athlete in self._roster.athletes}
        self._note_refused(refused or {}, report)
        jobs: dict[tuple[Path, str], tuple[str, Seen]] = {}
        for athlete_id, seen in ready:
            if athlete := known_athletes.get(athlete_id):
                jobs[(athlete.folder, seen.relative)] = (athlete_id, seen)
        asked = [
            ReadJob(known_athletes[athlete_id].folder, seen.relative, known_athletes[athlete_id].options)
            for athlete_id, seen in jobs.values()
        ]
        first = self._first_imports({athlete_id for athlete_id, _ in jobs.values()})
        batch: dict[str, list[Taken]] = defaultdict(list)
        left = len(asked)
        size = 0
        for job, result in self._workers.read_many(asked):
            athlete_id, seen = jobs[(job.root, job.relative)]
            batch[athlete_id].append(Taken(seen, result.sha256, result.facts, result.reason))
            left -= 1
            size += (
                sum(len(recording.samples.get("t_s", ())) for recording in result.facts.recordings)
                if result.facts
                else 0
            )
            if left and (sum(map(len, batch.values())) >= BATCH_FILES or size >= BATCH_SAMPLES):
                self._store(batch, first, report, judge=False)
                batch.clear()
                size = 0
        self._store(batch, first, report, judge=True)
        return report

    def judge_due(self) -> int:
        """Judge athletes whose facts, roster entry, limits or hour ask for it; the number of fresh findings."""
        now = self._clock.now()
        waiting, fresh = self._due(now), 0
        while waiting:
            fresh += self._judge_some(waiting[:JUDGED_AT_ONCE], set(), now)
            waiting = waiting[JUDGED_AT_ONCE:]
        return fresh

    def timers(self) -> Timed:
        """What is due by the clock: another hour's judgement (silence, gates), daily messages, and digests of old code.

        Does some of it and lets others have the store; with `more` there is some left.
        """
        now = self._clock.now()
        self._know_store()
        redigested = 0 if self._digests_fresh else self.redigest(DIGESTED_AT_ONCE)
        if not redigested and not self._digests_fresh:
            self._digests_fresh, self._judged_hour = True, ""
        hour = now.strftime("%Y-%m-%dT%H")
        if hour != self._judged_hour:
            self._waiting, self._judged_hour = self._due(now), hour
        some = self._waiting[:JUDGED_AT_ONCE]
        if some:
            self._judge_some(some, set(), now)
            self._waiting = self._waiting[JUDGED_AT_ONCE:]
        if not self._waiting:
            self._left_out += self._daily.queue_due(self.store, self._roster, now, self._limits)
        return Timed(len(some), bool(self._waiting or redigested))

    def digests_waiting(self) -> int:
        """How many recordings have a digest that other code or other limits made."""
        with self.store.reading() as con:
            waiting = redigesting.waiting(con, self._limits)
        return sum(count for athlete_id, count in waiting.items() if self._roster.athlete(athlete_id))

    def redigest(self, most: int = DIGESTED_IN_BULK) -> int:
        """Make some of these digests anew, of one athlete after another; how many. 0 when none is left."""
        with self.store.reading() as con:
            waiting = redigesting.waiting(con, self._limits)
        for athlete in self._roster.athletes:
            if athlete.id in waiting:
                return redigesting.redigest(self.store, athlete, self._limits, most)
        return 0

    def _due(self, now: datetime) -> list[str]:
        with self.store.reading() as con:
            return [athlete.id for athlete in due(con, self._roster, now, self._limits)]

    def _judge_some(self, athlete_ids: Sequence[str], first: set[str], now: datetime) -> int:
        def act(con: duckdb.DuckDBPyConnection, aside: Beside) -> int:
            return self._judge(con, athlete_ids, first, now, aside)

        fresh, left_out = beside.write(self.store, act)
        self._left_out += left_out
        return fresh

    def left_out(self) -> list[str]:
        """What could not be told beside the work since this was asked last, in words."""
        told, self._left_out = list(dict.fromkeys(self._left_out)), []
        return told

    def roots(self, missing: Mapping[str, str]) -> None:
        """Tell, once, which folders (athlete id -> why) cannot be looked into and which came back."""
        telling.queue_roots(self.store, self._roster, missing, self._clock.now())

    def notice(self, text: str) -> None:
        """Tell the owner of a trouble of the program itself."""
        telling.queue_trouble(self.store, self._roster, text, self._clock.now())

    def deliver(self, *, gather_now: bool = False) -> Delivery:
        """Send what waits and is due."""
        return deliver(
            self.store, self.journal, self._roster, self._clock, self._send,
            gather_now=gather_now, step=self._at_step, bell=self._bell,
        )  # fmt: skip

    def ring(self) -> None:
        """Have what is new sent also while a slow channel keeps a delivery from its end."""
        self._bell.ring()

    def _at_step(self, step: str) -> None:
        with self._counting:
            if step == "after claim":
                self._in_hand += 1
            elif step == "before mark":  # the journal knows of it by now
                self._in_hand -= 1
            if self._in_hand > 0:
                self._nothing_in_hand.clear()
            else:
                self._nothing_in_hand.set()

    def rebuild(self, broken: int | None = None) -> None:
        """Set a broken store aside; the next full look reads the folders again, and nothing is sent twice.

        `broken` is its identity: one that was put in its place since stays. A message that is being sent is waited for:
        a store that will not open cannot tell that it is on its way.
        """
        self._nothing_in_hand.wait(IN_HAND_SECONDS)
        rebuilding.rebuild(self.home, self._clock.now(), broken=broken)

    def close(self) -> None:
        self._workers.close()

    def _know_store(self) -> None:
        """Forget what was remembered of another store."""
        if self._read_in != (store := identity_of(self.home.store)):
            self._read_in, self._read_before, self._digests_fresh = store, set(), False
            self._daily, self._judged_hour, self._waiting = telling.DailyMessages(), "", []

    def _first_imports(self, athlete_ids: set[str]) -> set[str]:
        """Those of whom nothing was ever read; asked of a store only until something was."""
        self._know_store()
        unsure = athlete_ids - self._read_before
        if not unsure:
            return set()
        with self.store.reading() as con:
            first = {athlete_id for athlete_id in unsure if not intake.has_read(con, athlete_id)}
        self._read_before |= unsure - first
        return first

    def _store(self, batch: Mapping[str, list[Taken]], first: set[str], report: PassReport, *, judge: bool) -> None:
        """One transaction: facts, and with `judge` the findings on them and the rows of the outbox.

        Where facts of many athletes came, further ones are judged in transactions of their own: nobody waits for all.
        """
        now = self._clock.now()
        if not any(batch.values()) and not judge:
            return

        def act(con: duckdb.DuckDBPyConnection, aside: Beside) -> tuple[Tally, list[str], int]:
            tally = self._keep(con, batch, first, now, aside)
            unjudged = history.to_judge(con) if judge else ()
            touched = [athlete.id for athlete in self._roster.athletes if athlete.id in unjudged]
            return tally, touched, self._judge(con, touched[:JUDGED_AT_ONCE], first, now, aside)

        (tally, touched, fresh), left_out = beside.write(self.store, act)
        self._left_out += left_out
        report.tally.add(tally)
        report.findings += fresh
        for begin in range(JUDGED_AT_ONCE, len(touched), JUDGED_AT_ONCE):
            report.findings += self._judge_some(touched[begin : begin + JUDGED_AT_ONCE], first, now)

    def _keep(
        self,
        con: duckdb.DuckDBPyConnection,
        batch: Mapping[str, list[Taken]],
        first: set[str],
        now: datetime,
        aside: Beside,
    ) -> Tally:
        """Store the facts of files, and queue what is to be told of those that hold none."""
        kept = Tally()
        for athlete_id, files in batch.items():
            athlete = self._roster.athlete(athlete_id)
            if athlete is None:
                continue
            moment = Moment(now, datetime.now(UTC), self._patient, athlete_id in first)
            tally = keep(con, athlete, files, moment, self._limits)
            kept.add(tally)
            if paths := tally.unreadable_paths:
                aside.run(
                    f"{athlete_id}: that files cannot be read",
                    partial(decide.queue_unreadable, con, self._roster, athlete_id, paths, now),
                )
        return kept

    def _judge(
        self,
        con: duckdb.DuckDBPyConnection,
        athlete_ids: Sequence[str],
        first: set[str],
        now: datetime,
        aside: Beside,
    ) -> int:
        fresh = 0
        for athlete_id in athlete_ids:
            athlete = self._roster.athlete(athlete_id)
            if athlete is None:
                continue
            change, view = rejudge(con, self._roster, athlete, now, self._limits)
            fresh += len(change.fresh)
            day = day_of(view.judgement, view.history, self._limits)
            decide.queue(con, self._roster, athlete_id, change, now, day)
            if athlete_id in first:
                aside.run(
                    f"{athlete_id}: what the first look brought",
                    partial(decide.sum_up_import, con, self._roster, athlete_id, now),
                )
            aside.run(f"{athlete_id}: how the plan goes on", partial(self._tell_stage, con, athlete_id, view, now))
        return fresh

    def _tell_stage(self, con: duckdb.DuckDBPyConnection, athlete_id: str, view: View, now: datetime) -> None:
        day = day_of(view.judgement, view.history, self._limits)
        back = looked_back(view.judgement, now)
        decide.queue_stage(con, self._roster, athlete_id, view.judgement, now, back, day)

    def _note_refused(self, refused: Mapping[str, Sequence[Refused]], report: PassReport) -> None:
        told = {one: things for one, things in refused.items() if things and self._roster.athlete(one)}
        if not told:
            return
        rows = refusals.unheard(told, self.known_of(told), self._clock.now())
        if rows:
            with self.store.writing() as con:
                refusals.record(con, rows, report.tally)
