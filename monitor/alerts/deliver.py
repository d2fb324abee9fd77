"""Delivery: claim rows, send them, write them to the journal, mark them: at least once.

At most one repeat a crash, and one more for each channel that was slow to answer just then.

Numbered steps, each of which may be the last before a crash:
1. the claim is committed          -> the row is sent again once the claim is void
2. the channel took the message    -> the one place where a crash makes a repeat
3. the journal has it              -> the row is marked from the journal, not sent again
4. the mark is committed
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial

import duckdb

from monitor.alerts import claims
from monitor.alerts.answers import SendResult
from monitor.alerts.channels import Send, shown
from monitor.alerts.claims import Claimed, Hand
from monitor.alerts.items import from_text, news_keys
from monitor.alerts.pauses import next_try, next_try_when_perhaps, pause
from monitor.alerts.post import Bell, Outcome, Post
from monitor.clock import Clock, SystemClock
from monitor.errors import WorkFailed
from monitor.roster import Roster
from monitor.store import channel_pauses, decisions, outbox
from monitor.store.channel_pauses import ChannelPause
from monitor.store.database import Store
from monitor.store.decisions import decision
from monitor.store.journal import Journal
from monitor.store.outbox import AfterTry, OutboxRow

__all__ = ["Bell", "Delivery", "Send", "SendResult", "deliver"]

MOST_SIDE_BY_SIDE = 32
HEAD_START_SECONDS = 1.0
"""The next message goes when the last is in the books, so that a crash repeats one; or after this, side by side."""
BESIDE_SLOW_SECONDS = 0.2  # the same where another one is slow already
GIVEN_UP = "gave up after a day"
PERHAPS_GIVEN_UP = "perhaps delivered; not sent again"
REPEAT_TITLE = "Perhaps again: "
REPEAT = "This may be a repeat: the last time it was sent no answer came, so nobody knows whether it arrived."
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
    bell: Bell | None = None,
    head_start_seconds: float = HEAD_START_SECONDS,
) -> Delivery:
    """Send what is due, all channels side by side and each in its order; no store is held open meanwhile.

    `clock` tells the time of judging, `wall` real time; `step` is told "after claim", "after send" and "before mark",
    the latter two in the thread that sends. Whoever rings the `bell` has what is new sent while a slow channel keeps
    this one waiting.
    """
    bell = bell or Bell()

    def book(claimed: Claimed, result: SendResult) -> Outcome:
        step("after send")
        journaled = result.ok and _journal(journal, claimed.row, clock.now())
        step("before mark")
        return Outcome(claimed, result, journaled)

    post = Post(partial(_send, send), book, bell)
    sent, first = 0, True
    while True:
        bell.hush()
        arrived = post.arrived()
        sent += sum(outcome.result.ok for outcome in arrived)
        with store.writing() as con:
            for outcome in arrived:
                _mark(con, outcome, clock.now(), wall())
            if first:
                with suppress(WorkFailed):  # it stays owed
                    pay_journal(con, journal, clock.now())
            hand = claims.claim_next(con, journal, roster, clock.now(), wall(), gather_now=gather_now)
            if not hand.claimed and not post.under_way:
                return _summary(con, sent, hand)
        first = False
        for claimed in hand.claimed:
            step("after claim")
            bell.hush()
            post.carry(claimed)
            bell.wait(head_start_seconds if post.under_way == 1 else BESIDE_SLOW_SECONDS)
            post.settle()
        if not hand.claimed:
            bell.wait(None if hand.look_again is None else (hand.look_again - wall()).total_seconds())
        elif post.under_way >= MOST_SIDE_BY_SIDE:
            bell.wait(1.0)


def _send(send: Send, claimed: Claimed) -> SendResult:
    row = claimed.row
    title, body = (f"{REPEAT_TITLE}{row.title}", f"{row.body}\n\n{REPEAT}") if row.perhaps else (row.title, row.body)
    try:
        return send(claimed.url, title, body, severity=row.severity, recipient=row.recipient)
    except Exception as error:  # noqa: BLE001 - a channel that breaks is a channel that failed
        return SendResult(False, f"broke while sending ({type(error).__name__})")


def _journal(journal: Journal, row: OutboxRow, now: datetime) -> bool:
    """Write a sent row to the journal; False when it could not take it, which is made good later."""
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
    """Write what the journal is owed; WorkFailed when it cannot take it, what it took before being noted."""
    for row in outbox.owed_to_journal(con):
        _write(journal, row, row.sent_at or now)
        outbox.mark_journaled(con, row.id)
    keys = decisions.keys_owed(con)
    for key in keys:
        journal.once(key, now)
    if keys:
        decisions.keys_paid(con)


def _mark(con: duckdb.DuckDBPyConnection, outcome: Outcome, now: datetime, wall: datetime) -> None:
    row, result = outcome.claimed.row, outcome.result
    if result.ok:
        outbox.mark_sent(con, row.id, now, wall, journaled=outcome.journaled)
        channel_pauses.end(con, row.line)
        return
    error = _without_secrets(result.error or "did not take it", outcome.claimed.url)
    after = _after(row, result, wall)
    outbox.mark_tried(con, row.id, error, after)
    if result.for_good or result.trouble == "recipient":
        return  # the channel answers; only this it does not take
    if after.next_try is None:  # whether it was the message or the channel, the next one shows
        channel_pauses.end(con, row.line)
        return
    failures = 1 + (before.failures if (before := channel_pauses.load(con).get(row.line)) else 0)
    asked = _asked(result)
    until = max(wall + pause(failures), wall + asked) if asked else wall + pause(failures)
    channel_pauses.put(con, row.line, ChannelPause(failures, until, bool(asked)))


def _after(row: OutboxRow, result: SendResult, wall: datetime) -> AfterTry:
    """When a row is tried again, and what is known of it by now."""
    if result.perhaps:
        times = row.perhaps + 1
        return AfterTry(next_try_when_perhaps(times, wall), perhaps=True, given_up=PERHAPS_GIVEN_UP)
    first_try = min(row.first_try_wall or wall, wall)
    again = next_try(row.tries + 1, first_try, timedelta(seconds=row.awake_s), wall)
    if again is not None and (asked := _asked(result)):
        again = max(again, wall + asked)
    return AfterTry(again, refused=result.for_good, given_up=GIVEN_UP)


def _asked(result: SendResult) -> timedelta | None:
    """How long the service asked to be left alone."""
    return timedelta(seconds=result.wait_seconds) if result.wait_seconds else None


def _without_secrets(error: str, url: str) -> str:
    """A short error in which no part of the URL that may be secret is left."""
    error = error.replace(url, shown(url))
    for part in claims.secret_parts(url):
        error = error.replace(part, "…")
    return error[:ERROR_LENGTH]


def _summary(con: duckdb.DuckDBPyConnection, sent: int, hand: Hand) -> Delivery:
    states = outbox.counts(con)
    held = states.get("held", 0)
    return Delivery(sent, states.get("waiting", 0) + held, states.get("failed", 0), hand.look_again, held)
