"""Delivery: claim a row, send it, write it to the journal, mark it; at least once, at most one repeat a crash.

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
from datetime import datetime

import duckdb

from monitor.alerts import claims
from monitor.alerts.channels import Send, SendResult, shown
from monitor.alerts.claims import Claimed
from monitor.alerts.items import from_text, news_keys
from monitor.alerts.pauses import next_try
from monitor.clock import Clock, SystemClock
from monitor.errors import WorkFailed
from monitor.roster import Roster
from monitor.store import decisions, outbox
from monitor.store.database import Store
from monitor.store.decisions import decision
from monitor.store.journal import Journal
from monitor.store.outbox import OutboxRow

__all__ = ["Delivery", "Send", "SendResult", "deliver"]

MOST_IN_ONE_CALL = 500
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


@dataclass(frozen=True, slots=True)
class _Outcome:
    claimed: Claimed
    result: SendResult
    journaled: bool


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
) -> Delivery:
    """Send what is due, one row at a time; nothing is held open while a channel is waited for.

    `clock` tells the time of judging, `wall` real time; `step` is told "after claim", "after send" and "before mark".
    """
    outcome: _Outcome | None = None
    sent = 0
    for number in range(MOST_IN_ONE_CALL):
        with store.writing() as con:
            if outcome is not None:
                _mark(con, outcome, clock.now(), wall())
            if number == 0:
                with suppress(WorkFailed):  # it stays owed
                    pay_journal(con, journal, clock.now())
            claimed = claims.claim_next(con, journal, roster, clock.now(), wall(), gather_now=gather_now)
            if claimed.row is None:
                return _summary(con, sent, claimed)
        step("after claim")
        outcome = _send(claimed, journal, roster, send, clock.now(), step)
        sent += outcome.result.ok
    with store.writing() as con:
        if outcome is not None:
            _mark(con, outcome, clock.now(), wall())
        return _summary(con, sent, Claimed(look_again=wall()))


def _send(
    claimed: Claimed, journal: Journal, roster: Roster, send: Send, now: datetime, step: Callable[[str], None]
) -> _Outcome:
    row = claimed.row
    assert row is not None
    try:
        result = send(claimed.url, row.title, row.body)
    except Exception as error:  # noqa: BLE001 - a channel that breaks is a channel that failed
        result = SendResult(False, f"broke while sending ({type(error).__name__})")
    step("after send")
    journaled = result.ok and _journal(journal, row, now)
    step("before mark")
    return _Outcome(claimed, result, journaled)


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
    journal.sent(row.id, row.athlete, row.contact, row.channel, row.once, told, now)
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


def _mark(con: duckdb.DuckDBPyConnection, outcome: _Outcome, now: datetime, wall: datetime) -> None:
    row = outcome.claimed.row
    assert row is not None
    if outcome.result.ok:
        outbox.mark_sent(con, row.id, now, wall, journaled=outcome.journaled)
        return
    error = _without_secrets(outcome.result.error or "did not take it", outcome.claimed.url)
    first_try = row.first_try_wall or wall
    outbox.mark_tried(con, row.id, error, next_try(row.tries + 1, min(first_try, wall), wall))


def _without_secrets(error: str, url: str) -> str:
    """A short error in which no part of the URL that may be secret is left."""
    error = error.replace(url, shown(url))
    for part in claims.secret_parts(url):
        error = error.replace(part, "…")
    return error[:ERROR_LENGTH]


def _summary(con: duckdb.DuckDBPyConnection, sent: int, claimed: Claimed) -> Delivery:
    states = outbox.counts(con)
    held = states.get("held", 0)
    return Delivery(sent, states.get("waiting", 0) + held, states.get("failed", 0), claimed.look_again, held)
