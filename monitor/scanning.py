"""One pass over what lies in the folders: read, store, judge, queue alerts, send. `scan` and the daemon share it."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import duckdb

from monitor import rebuilding, timed_notices
from monitor.alerts import notices
from monitor.alerts.channels import Send
from monitor.alerts.delivery import Delivery, SendSignal, deliver
from monitor.alerts.notices import NoticeGuard
from monitor.clock import Clock
from monitor.errors import WorkFailed
from monitor.home import Home
from monitor.intake import sessions, storing
from monitor.intake.storing import Due, FileBatch, PassMoment, Tally
from monitor.intake.workers import Workers
from monitor.judging import NO_TRACKS, Tracks, due
from monitor.roster import Roster
from monitor.store import findings, intake
from monitor.store.database import Store, identity_of
from monitor.store.journal import Journal
from monitor.transaction import PassReport, judge_and_queue, keep_and_queue, tracks_of
from monitor.values import Refused, Seen
from rules.limits import Limits, default_limits

IN_HAND_SECONDS = 30.0
DIGESTED_AT_ONCE = 16
"""Digests made anew before the daemon looks up: half a second of work at the most."""
DIGESTED_IN_BULK = 100
MOST_FAILURES = 3
"""So often in a row what was read of slow files is tried to be stored, where nothing says that the store is why."""
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
        self._send_signal = SendSignal()
        self._daily = timed_notices.DailyMessages()
        self._judged_hour = ""
        self._due_at: datetime | None = None  # when the clock next asks for somebody, as of the last look
        self._waiting: list[str] = []  # due, not yet judged
        self._digests_fresh = False
        self._read_before: set[str] = set()
        self._read_in = identity_of(home.store)
        self._left_out: list[str] = []
        self._slow: list[FileBatch] = []
        self.on_judged: Callable[[], object] = lambda: None
        """Called whenever there may be something to send, while there is still something to read."""

    @property
    def roster(self) -> Roster:
        return self._roster

    def use(self, roster: Roster) -> None:
        """Go on with another roster; what its change asks for is judged by the next `timers`."""
        self._roster = roster
        self._judged_hour, self._digests_fresh = "", False
        for look in self._slow:  # read under other options: they are handed in again
            look.reading.close()
        self._slow = []

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
        self,
        ready: Sequence[tuple[str, Seen]],
        refused: Mapping[str, Sequence[Refused]] | None = None,
        *,
        done: Callable[[int], object] = lambda files: None,
    ) -> PassReport:
        """Read the given files (athlete id, file), store and judge them; those of athletes off the roster wait.

        Small ones first. What is read is stored, judged and told of as soon as the rest lets wait; a patient scanner
        leaves slow files to `take_slow` and comes back. `done` hears how many more were read.
        """
        report = PassReport()
        self._note_refused(refused or {}, report)
        under_way = {item for look in self._slow for item in look.items}
        fresh = [item for item in ready if item not in under_way]
        first = self._first_imports({athlete_id for athlete_id, _ in fresh if self._roster.athlete(athlete_id)})
        look = FileBatch.begin(fresh, self._roster.athletes, first, self._workers)
        try:
            for due in look.due(self._patient, done):
                self._store(look, due, report)
                if due.more:
                    self.on_judged()
        except BaseException:
            look.reading.close()
            raise
        if not look.reading.over:
            self._slow.append(look)
        return report

    def take_slow(self) -> PassReport | None:
        """Store and judge what has come since of files that were left behind; None where nothing has.

        What cannot be stored is held for the next time.
        """
        report, came = PassReport(), False
        looks, self._slow = self._slow, []
        while looks:
            look = looks.pop(0)
            try:
                if look.look_in():
                    came = True
                    self._store(look, Due(), report)
            except BaseException as error:
                self._slow += [*looks, *self._kept(look, error)]
                raise
            if not look.reading.over:
                self._slow.append(look)
        return report if came else None

    def _kept(self, look: FileBatch, error: BaseException) -> list[FileBatch]:
        """A look of which something could not be stored, unless that may be one of its files' own fault for long."""
        look.failures += 1
        if isinstance(error, WorkFailed | MemoryError) or look.failures < MOST_FAILURES:
            return [look]
        look.reading.close()  # the next full look hands its files in again, one by one if need be
        return []

    @property
    def slow(self) -> int:
        """How many files that were left behind are still being read, or held."""
        return sum(len(look.items) for look in self._slow)

    def judge_due(self, only: str = "") -> int:
        """Judge athletes whose facts, roster entry, limits or hour ask for it, or only one; how many fresh findings."""
        now = self._clock.now()
        waiting, fresh = [athlete_id for athlete_id in self._due(now) if only in ("", athlete_id)], 0
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
        if hour != self._judged_hour or (self._due_at is not None and self._due_at <= now):
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
            waiting = sessions.waiting(con, self._limits)
        return sum(count for athlete_id, count in waiting.items() if self._roster.athlete(athlete_id))

    def redigest(self, most: int = DIGESTED_IN_BULK) -> int:
        """Make some of these digests anew, of one athlete after another; how many. 0 when none is left."""
        with self.store.reading() as con:
            waiting = sessions.waiting(con, self._limits)
        for athlete in self._roster.athletes:
            if athlete.id in waiting:
                return sessions.redigest(self.store, athlete, self._limits, most)
        return 0

    def _due(self, now: datetime) -> list[str]:
        with self.store.reading() as con:
            athletes, self._due_at = due(con, self._roster, now, self._limits)
        return [athlete.id for athlete in athletes]

    def _judge_some(
        self, athlete_ids: Sequence[str], first: set[str], now: datetime, tracks: Tracks = NO_TRACKS
    ) -> int:
        def act(con: duckdb.DuckDBPyConnection, aside: NoticeGuard) -> int:
            return self._judge(con, athlete_ids, first, now, aside, tracks)

        fresh, left_out = notices.write(self.store, act)
        self._left_out += left_out
        return fresh

    def left_out(self) -> list[str]:
        """What could not be told beside the work since this was asked last, in words."""
        told, self._left_out = list(dict.fromkeys(self._left_out)), []
        return told

    def roots(self, missing: Mapping[str, str]) -> None:
        """Tell, once, which folders (athlete id -> why) cannot be looked into and which came back."""
        timed_notices.queue_roots(self.store, self._roster, missing, self._clock.now())

    def notice(self, text: str) -> None:
        """Tell the owner of a trouble of the program itself."""
        timed_notices.queue_trouble(self.store, self._roster, text, self._clock.now())

    def deliver(self, *, gather_now: bool = False) -> Delivery:
        """Send what waits and is due."""
        return deliver(
            self.store, self.journal, self._roster, self._clock, self._send,
            gather_now=gather_now, step=self._at_step, send_signal=self._send_signal,
        )  # fmt: skip

    def wake_up(self) -> None:
        """Have what is new sent also while a slow channel keeps a delivery from its end."""
        self._send_signal.wake_up()

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
        for look in self._slow:
            look.reading.close()
        self._workers.close()

    def _know_store(self) -> None:
        """Forget what was remembered of another store."""
        if self._read_in != (store := identity_of(self.store.path)):
            self._read_in, self._read_before, self._digests_fresh = store, set(), False
            self._daily, self._judged_hour, self._waiting = timed_notices.DailyMessages(), "", []

    def _first_imports(self, athlete_ids: set[str]) -> set[str]:
        """Those of whom nothing was ever read; the store is asked only while there are any."""
        self._know_store()
        unsure = athlete_ids - self._read_before
        if not unsure:
            return set()
        with self.store.reading() as con:
            self._read_before = intake.ever_read(con)
        return unsure - self._read_before

    def _store(self, look: FileBatch, due: Due, report: PassReport) -> None:
        """One transaction: facts, and with `due.judge` the findings on them and the rows of the outbox.

        Where facts of many athletes came, further ones are judged in transactions of their own: nobody waits for all.
        """
        now, tracks = self._clock.now(), tracks_of(look.held)
        if not look.held and not due.judge:
            return

        def moment_of(athlete_id: str) -> PassMoment:
            return PassMoment(now, datetime.now(UTC), self._patient, athlete_id in look.first)

        def act(con: duckdb.DuckDBPyConnection, aside: NoticeGuard) -> tuple[Tally, list[str], int]:
            tally = keep_and_queue(con, self._roster, look.held, moment_of, aside, self._limits)
            unjudged = findings.to_judge(con) if due.judge else ()
            touched = [
                athlete.id for athlete in self._roster.athletes if athlete.id in unjudged and athlete.id not in due.but
            ]
            return tally, touched, self._judge(con, touched[:JUDGED_AT_ONCE], look.first, now, aside, tracks)

        (tally, touched, fresh), left_out = notices.write(self.store, act)
        look.stored()
        self._left_out += left_out
        report.tally.add(tally)
        report.findings += fresh
        for begin in range(JUDGED_AT_ONCE, len(touched), JUDGED_AT_ONCE):
            report.findings += self._judge_some(touched[begin : begin + JUDGED_AT_ONCE], look.first, now, tracks)

    def _judge(
        self,
        con: duckdb.DuckDBPyConnection,
        athlete_ids: Sequence[str],
        first: set[str],
        now: datetime,
        aside: NoticeGuard,
        tracks: Tracks,
    ) -> int:
        athletes = [athlete for athlete in map(self._roster.athlete, athlete_ids) if athlete is not None]
        return judge_and_queue(con, self._roster, athletes, first, now, aside, self._limits, tracks)

    def _note_refused(self, refused: Mapping[str, Sequence[Refused]], report: PassReport) -> None:
        told = {
            athlete_id: things for athlete_id, things in refused.items() if things and self._roster.athlete(athlete_id)
        }
        if not told:
            return
        rows = storing.not_in_ledger(told, self.known_of(told), self._clock.now())
        if rows:
            with self.store.writing() as con:
                storing.record(con, rows, report.tally)
