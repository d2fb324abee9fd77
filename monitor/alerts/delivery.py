"""Delivery: claim rows, send each in a thread of its own, write them to the journal, mark them: at least once."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from queue import Empty, SimpleQueue
from urllib.parse import unquote

import duckdb

from monitor import words
from monitor.alerts import leases
from monitor.alerts.channels import Send, shown
from monitor.alerts.leases import LONGEST_PAUSE, Claimed, ClaimResult
from monitor.alerts.outbox_editor import from_text, news_keys
from monitor.alerts.responses import SendResult
from monitor.clock import Clock, SystemClock
from monitor.errors import WorkFailed
from monitor.reasons import Reason, Why, stored
from monitor.roster import Roster
from monitor.store import decisions, outbox
from monitor.store.database import Store
from monitor.store.decisions import ChannelPause, decision
from monitor.store.journal import Journal
from monitor.store.outbox import AfterTry, OutboxRow

FIRST_PAUSE = timedelta(minutes=1)
GIVE_UP_AFTER = timedelta(days=1)
LEAST_TRIES = 12  # where the machine sleeps, or scans come hours apart, a day holds too few tries to give up
LEAST_AWAKE = timedelta(hours=12)
PAUSES_WHEN_PERHAPS = (timedelta(minutes=30), timedelta(hours=3))
"""After a message was sent whole and no answer came: two more tries at most, since each may be a repeat."""
SHORTEST_SECRET = 4  # letters; replacing shorter pieces would spoil ordinary words

# Every message is sent in a thread of its own, so that a slow channel does not delay the others.

SHORTEST_WAIT_SECONDS = 0.2


class SendSignal:
    """An event: a send has ended, or something new is to be sent."""

    def __init__(self) -> None:
        self._rung = threading.Event()

    def wake_up(self) -> None:
        self._rung.set()

    def hush(self) -> None:
        self._rung.clear()

    def wait(self, seconds: float | None = None) -> None:
        """Wait for the event, or so many seconds; at least SHORTEST_WAIT_SECONDS, so that the caller never spins."""
        self._rung.wait(None if seconds is None else max(seconds, SHORTEST_WAIT_SECONDS))


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a row that was claimed, None where it was not sent; `journaled` when the journal has it."""

    claimed: Claimed
    result: SendResult | None
    journaled: bool


class SendThreads:
    """Sends claimed rows in threads and journals the outcomes; errors of a thread are raised by `arrived`."""

    def __init__(
        self,
        send: Callable[[Claimed], SendResult | None],
        book: Callable[[Claimed, SendResult | None], Outcome],
        send_signal: SendSignal,
    ) -> None:
        self._send = send
        self._book = book
        self._send_signal = send_signal
        self._books = threading.Lock()
        self._back: SimpleQueue[Outcome | BaseException] = SimpleQueue()
        self.under_way = 0

    def carry(self, claimed: Claimed) -> None:
        self.under_way += 1
        threading.Thread(target=self._run, args=(claimed,), name="fallow-post", daemon=True).start()

    def _run(self, claimed: Claimed) -> None:
        try:
            result = self._send(claimed)
            with self._books:
                self._back.put(self._book(claimed, result))
        except BaseException as error:  # noqa: BLE001 - raised again in the thread that asks
            self._back.put(error)
        self._send_signal.wake_up()

    def settle(self) -> None:
        """Wait while a thread writes the journal: a message that was answered is recorded before the next is sent."""
        with self._books:
            return

    def arrived(self) -> list[Outcome]:
        """Outcomes since the last call."""
        outcomes: list[Outcome] = []
        while True:
            try:
                back = self._back.get_nowait()
            except Empty:
                return outcomes
            self.under_way -= 1
            if isinstance(back, BaseException):
                raise back
            outcomes.append(back)


# Delivery is at least once. A crash repeats at most one message, and one more for each channel that was slow to answer
# at that moment. What a crash after each step leaves:
# 1. the claim is committed: the row is sent again when the claim is over
# 2. the channel took the message: it is sent again, the only place where a crash makes a repeat
# 3. the journal has it: the row is marked as sent from the journal, and not sent again
# 4. the row is marked as sent

MOST_SIDE_BY_SIDE = 32
HEAD_START_SECONDS = 1.0
"""The next message goes when the last is recorded, so that a crash repeats only one; after so long, beside it."""
BESIDE_SLOW_SECONDS = 0.2  # the same, while another channel is slow already
REPEAT_TITLE = "Perhaps again: "
ERROR_LENGTH = 120
REAL_TIME = SystemClock().now


@dataclass(frozen=True, slots=True)
class Delivery:
    """What one call sent, what stands after it, and when (real time) there is something to do again.

    `waiting` counts what is not sent yet, `held` how much of that waits for the end of quiet hours, `failed` what was
    given up.
    """

    sent: int
    waiting: int
    failed: int
    next_due: datetime | None
    held: int = 0


def deliver(
    store: Store,
    journal: Journal,
    roster: Roster,
    clock: Clock,
    send: Send,
    *,
    gather_now: bool,
    wall: Callable[[], datetime] = REAL_TIME,
    step: Callable[[str], None] = lambda _: None,
    send_signal: SendSignal | None = None,
    head_start_seconds: float = HEAD_START_SECONDS,
) -> Delivery:
    """Send what is due, all channels side by side and each in its order; no store is held open meanwhile.

    `clock` tells the time of judging, `wall` real time; `step` is told "after claim", "after send" and "before mark",
    the latter two in the thread that sends. Whoever rings `send_signal` has what is new sent while a slow channel keeps
    this one waiting.
    """
    send_signal = send_signal or SendSignal()

    def book(claimed: Claimed, result: SendResult | None) -> Outcome:
        step("after send")
        journaled = result is not None and result.ok and _journal(journal, claimed.row, clock.now())
        step("before mark")
        return Outcome(claimed, result, journaled)

    post = SendThreads(partial(_send, send, wall), book, send_signal)
    sent, first = 0, True
    while True:
        send_signal.hush()
        arrived = post.arrived()
        sent += sum(outcome.result is not None and outcome.result.ok for outcome in arrived)
        with store.writing() as con:
            for outcome in arrived:
                _mark(con, outcome, clock.now(), wall())
            if first:
                with suppress(WorkFailed):  # it is tried again by the next delivery
                    pay_journal(con, journal, clock.now())
            hand = leases.claim_next(con, journal, roster, clock.now(), wall(), gather_now=gather_now)
            if not hand.claimed and not post.under_way:
                return _summary(con, sent, hand)
        first = False
        for claimed in hand.claimed:
            step("after claim")
            send_signal.hush()
            post.carry(claimed)
            send_signal.wait(head_start_seconds if post.under_way == 1 else BESIDE_SLOW_SECONDS)
            post.settle()
        if not hand.claimed:
            send_signal.wait(None if hand.look_again is None else (hand.look_again - wall()).total_seconds())
        elif post.under_way >= MOST_SIDE_BY_SIDE:
            send_signal.wait(1.0)


def _send(send: Send, wall: Callable[[], datetime], claimed: Claimed) -> SendResult | None:
    """None where the claim could end before the send does: another process may have claimed the row by then."""
    if wall() > claimed.begin_by:
        return None
    row = claimed.row
    title, body = (
        (f"{REPEAT_TITLE}{row.title}", f"{row.body}\n\n{words.sending.REPEAT}")
        if row.perhaps
        else (row.title, row.body)
    )
    try:
        return send(claimed.url, title, body, severity=row.severity, recipient=row.recipient)
    except Exception as error:  # noqa: BLE001 - a channel that breaks is a channel that failed
        return SendResult(False, words.sending.BROKE_WHILE_SENDING.format(kind=type(error).__name__))


def _journal(journal: Journal, row: OutboxRow, now: datetime) -> bool:
    """Write a sent row to the journal; False when that failed, which `pay_journal` makes up for later."""
    try:
        _write(journal, row, now)
    except WorkFailed:
        return False
    return True


def _write(journal: Journal, row: OutboxRow, now: datetime) -> None:
    items = from_text(row.items)
    told = [
        decision(finding, row.contact, 0 if item.kind == "taken_back" else int(finding.severity), row.reason)
        for item in items
        for finding in item.findings
    ]
    journal.sent(row.id, row.athlete, row.contact, row.channel, row.once, told, now, row.kind, row.severity)
    for key in news_keys(items):
        if key != row.once:  # of a message that was gathered into this one
            journal.once(key, now)


def pay_journal(con: duckdb.DuckDBPyConnection, journal: Journal, now: datetime) -> None:
    """Write what the journal still lacks; WorkFailed when it cannot be written. What was written by then is noted."""
    for row in outbox.owed_to_journal(con):
        _write(journal, row, row.sent_at or now)
        outbox.mark_journaled(con, row.id)
    keys = decisions.keys_owed(con)
    for key, noted_at in keys:
        journal.once(key, noted_at)
    if keys:
        decisions.keys_paid(con)


def _mark(con: duckdb.DuckDBPyConnection, outcome: Outcome, now: datetime, wall: datetime) -> None:
    row, result = outcome.claimed.row, outcome.result
    if result is None:
        leases.give_back(con, outcome.claimed)
        return
    if result.ok:
        outbox.mark_sent(con, row.id, now, wall, journaled=outcome.journaled)
        decisions.end(con, row.line)
        return
    error = _without_secrets(result.error or words.sending.NOT_TAKEN, outcome.claimed.url)
    after = _after(row, result, wall)
    outbox.mark_tried(con, row.id, stored(error), after)
    if result.for_good or result.trouble == "recipient":
        return  # the channel works, so the others need no pause
    if after.next_try is None:  # the next message will show whether the channel works
        decisions.end(con, row.line)
        return
    failures = 1 + (before.failures if (before := decisions.load(con).get(row.line)) else 0)
    asked = _asked(result)
    until = max(wall + pause(failures), wall + asked) if asked else wall + pause(failures)
    decisions.put(con, row.line, ChannelPause(failures, until, bool(asked)))


def _after(row: OutboxRow, result: SendResult, wall: datetime) -> AfterTry:
    """When a row is tried again, and whether it was refused for good or may have arrived."""
    if result.perhaps:
        times = row.perhaps + 1
        return AfterTry(next_try_when_perhaps(times, wall), perhaps=True, given_up=Why.PERHAPS_GIVEN_UP)
    first_try = min(row.first_try_wall or wall, wall)
    again = next_try(row.tries + 1, first_try, timedelta(seconds=row.awake_s), wall)
    if again is not None and (asked := _asked(result)):
        again = max(again, wall + asked)
    return AfterTry(again, refused=result.for_good, given_up=Why.GIVEN_UP)


def pause(tries: int) -> timedelta:
    """1 min after the first try, then twice as long each time, up to 1 h."""
    doublings = min(max(tries, 1) - 1, 10)
    return min(FIRST_PAUSE * (1 << doublings), LONGEST_PAUSE)


def next_try(tries: int, first_try: datetime, awake_for: timedelta, wall: datetime) -> datetime | None:
    """When to try again after `tries` tries; None when it was tried long enough, and often enough, to give up."""
    if wall - first_try >= GIVE_UP_AFTER and tries >= LEAST_TRIES and awake_for >= LEAST_AWAKE:
        return None
    return wall + pause(tries)


def next_try_when_perhaps(times: int, wall: datetime) -> datetime | None:
    """When to send again what may have arrived `times` times already; None when that is enough."""
    return wall + PAUSES_WHEN_PERHAPS[times - 1] if times <= len(PAUSES_WHEN_PERHAPS) else None


def _asked(result: SendResult) -> timedelta | None:
    """How long the service asked to be left alone."""
    return timedelta(seconds=result.wait_seconds) if result.wait_seconds else None


def _without_secrets(error: str, url: str) -> str:
    """A short error without any part of the URL that may be secret."""

    def without(text: str) -> str:
        text = text.replace(url, shown(url))
        for part in secret_parts(url):
            text = text.replace(part, "…")
        return text[:ERROR_LENGTH]

    return error.changed(without) if isinstance(error, Reason) else without(error)


def secret_parts(url: str) -> list[str]:
    """All pieces of a URL beyond what is shown of it, longest first."""
    kept = set(re.split(r"[/:]", shown(url)))
    pieces = set(re.split(r"[/?&=@:#;,+]", url)) - kept
    pieces |= set(map(unquote, pieces))
    return sorted((piece for piece in pieces if len(piece) >= SHORTEST_SECRET), key=len, reverse=True)


def _summary(con: duckdb.DuckDBPyConnection, sent: int, hand: ClaimResult) -> Delivery:
    states = outbox.counts(con)
    held = states.get("held", 0)
    return Delivery(sent, states.get("waiting", 0) + held, states.get("failed", 0), hand.look_again, held)
