"""Claims the row that is sent next, for a limited time: quiet hours, folding and bursts, in one transaction."""

from __future__ import annotations

import os
import re
import socket
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from urllib.parse import unquote

import duckdb

from monitor.alerts import outbox_editor
from monitor.alerts.channels import recipients_of, shown, timeout_of
from monitor.alerts.message import message_of
from monitor.alerts.outbox_editor import ALWAYS_GOES
from monitor.alerts.readers import zone_of
from monitor.alerts.send_order import GATHER, LEASE_MARGIN, awake, choose, quiet_until
from monitor.reasons import Why
from monitor.roster import Roster
from monitor.store import decisions, outbox
from monitor.store.journal import Journal
from monitor.store.outbox import Draft, OutboxRow
from rules.findings import Severity

SHORTEST_SECRET = 4  # letters; replacing shorter pieces would spoil ordinary words
LONGEST_HOLD = timedelta(hours=26)  # a day, and two hours for a clock that is put back


@dataclass(frozen=True, slots=True)
class Claimed:
    """A row taken for sending and the URL it goes to.

    Sent after `begin_by` (real time), it might still be under way when the claim is over and somebody else sends it.
    """

    row: OutboxRow
    url: str
    begin_by: datetime


@dataclass(frozen=True, slots=True)
class ClaimResult:
    """The rows claimed, one for each recipient; where there are none, when to look again."""

    claimed: tuple[Claimed, ...] = ()
    look_again: datetime | None = None


def claim_next(
    con: duckdb.DuckDBPyConnection,
    journal: Journal,
    roster: Roster,
    now: datetime,
    wall: datetime,
    *,
    gather_now: bool,
) -> ClaimResult:
    """Claim the row that goes next; nobody else sends it while the claim lasts."""
    rows = outbox.unsent(con)
    if _free_claims(con, journal, rows, now, wall):
        rows = outbox.unsent(con)
    changed, until = _keep_quiet(con, roster, rows, now)
    last_sent, pauses = outbox.last_sent(con, wall - GATHER, wall), decisions.load(con)
    while True:
        rows = outbox.unsent(con) if changed else rows
        waiting = [row for row in rows if row.state == "waiting"]
        choice = choose(waiting, last_sent, wall, gather_now=gather_now, pauses=pauses)
        for row in choice.gathering:
            if row.reason != Why.GATHERING:
                outbox.set_state(con, row.id, "waiting", Why.GATHERING)
        if choice.take is None:
            return ClaimResult(look_again=_sooner(choice.look_again, until and wall + (until - now)))
        url = _url_of(roster, choice.take)
        changed = True
        if url is None:
            outbox.set_state(con, choice.take.id, "failed", Why.NO_CHANNEL)
        elif _day_is_over(choice.take, roster, now):
            outbox.set_state(con, choice.take.id, "failed", Why.DAY_OVER)
        else:
            return ClaimResult(tuple(_claim(con, roster, [choice.take, *choice.mates], url, now, wall)))


def _claim(
    con: duckdb.DuckDBPyConnection, roster: Roster, rows: Sequence[OutboxRow], url: str, now: datetime, wall: datetime
) -> Iterator[Claimed]:
    """The rows as one message, worded now; one row for each recipient where the address has several."""
    row = rows[0] if len(rows) == 1 else gather(con, rows, Why.GATHERED)
    message = message_of(row, roster, now)
    outbox.put_into_words(con, row.id, message.title, message.body)
    row = replace(row, title=message.title, body=message.body)
    recipients = recipients_of(url) if row.tries == 0 and not row.recipient else ()
    begin_by = wall + LEASE_MARGIN
    until = begin_by + timedelta(seconds=timeout_of(url))
    for one in outbox.split(con, row, recipients) if recipients else [row]:
        awake_for = awake(timedelta(seconds=one.awake_s), one.tried_wall, wall)
        outbox.claim(con, one.id, _me(), wall, until, awake_for.total_seconds())
        yield Claimed(replace(one, awake_s=awake_for.total_seconds()), url, begin_by)


def gather(con: duckdb.DuckDBPyConnection, rows: Sequence[OutboxRow], reason: Why) -> OutboxRow:
    """Make several rows one: the first takes in the others."""
    first = rows[0]
    told = [one for row in rows for one in outbox_editor.from_text(row.items)]
    draft = Draft(
        outbox_editor.worst(told), outbox_editor.to_text(told), outbox_editor.finding_ids(told), "waiting", reason
    )
    outbox.rewrite(con, first.id, draft)
    for row in rows[1:]:
        outbox.drop(con, row.id)
    return replace(
        first, severity=draft.severity, items=draft.items, findings=draft.findings, reason=reason, state="waiting"
    )


def give_back(con: duckdb.DuckDBPyConnection, claimed: Claimed) -> None:
    """Free a row that was not sent within its claim, unless another process has claimed it since."""
    outbox.free(con, claimed.row.id, by=_me())


def _free_claims(
    con: duckdb.DuckDBPyConnection, journal: Journal, rows: Sequence[OutboxRow], now: datetime, wall: datetime
) -> bool:
    """Free rows claimed by processes that are gone, or mark them sent if the journal says so; whether any were."""
    stale = [row for row in rows if row.claimed_by is not None and not _alive(row, wall)]
    known = journal.rows_sent() if stale else set()
    for row in stale:
        if row.id in known:
            outbox.mark_sent(con, row.id, now, wall, journaled=True)
        else:
            outbox.free(con, row.id)
    return bool(stale)


def in_hand(con: duckdb.DuckDBPyConnection, wall: datetime) -> bool:
    """Whether any process is sending a message just now."""
    return any(row.claimed_by is not None and _alive(row, wall) for row in outbox.unsent(con))


def _alive(row: OutboxRow, wall: datetime) -> bool:
    """Whether a claim still holds: its time is neither over nor absurdly far off, and its process is not seen gone."""
    until = row.claimed_until_wall
    if until is None or not wall < until <= wall + timedelta(minutes=5):
        return False
    host, _, number = (row.claimed_by or "").rpartition(":")
    if os.name != "posix" or host != socket.gethostname() or not number.isdigit():
        return True
    try:
        os.kill(int(number), 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


def _me() -> str:
    return f"{socket.gethostname()}:{os.getpid()}"


def _keep_quiet(
    con: duckdb.DuckDBPyConnection, roster: Roster, rows: Sequence[OutboxRow], now: datetime
) -> tuple[bool, datetime | None]:
    """Hold rows within quiet hours; release those whose quiet hours are over, several as one.

    Whether that changed a row, and when the next quiet hours end.
    """
    released: dict[tuple[str, str, int], list[OutboxRow]] = defaultdict(list)
    ends: list[datetime] = []
    changed = False
    for row in rows:
        zone = zone_of(roster, row.athlete, row.contact)
        if (
            row.state == "held"
            and row.kind == "notice"
            and row.not_before
            and now < row.not_before <= now + LONGEST_HOLD
        ):
            ends.append(row.not_before)
            continue
        until = None
        if row.severity < Severity.STOP and row.kind not in ALWAYS_GOES and row.claimed_by is None:
            until = quiet_until(now, roster.alerts.quiet_hours, zone)
        if until is not None:
            ends.append(until)
            if row.state != "held" or row.not_before != until:
                outbox.set_state(con, row.id, "held", Why.QUIET_HOURS, until)
                changed = True
        elif row.state == "held":
            changed = True
            outbox.set_state(con, row.id, "waiting", row.reason, row.not_before)
            if row.untouched:
                released[row.group].append(row)
    for together in released.values():
        if len(together) > 1:
            gather(con, together, Why.FOLDED)
    return changed, min(ends, default=None)


def _url_of(roster: Roster, row: OutboxRow) -> str | None:
    """The URL that the row was queued for, also where the roster lists it at another position now."""
    contact = roster.contact(row.contact)
    if contact is None:
        return None
    at = dict(enumerate(contact.urls, start=1))
    same = [position for position, url in at.items() if shown(url) == row.channel_shown]
    if row.channel in same or not same:
        return at.get(row.channel)
    return at[same[0]]


def _day_is_over(row: OutboxRow, roster: Roster, now: datetime) -> bool:
    """A day's plan is not sent on another day."""
    zone = zone_of(roster, row.athlete, row.contact)
    return row.kind == "daily" and row.created_at.astimezone(zone).date() < now.astimezone(zone).date()


def _sooner(one: datetime | None, other: datetime | None) -> datetime | None:
    return min((moment for moment in (one, other) if moment is not None), default=None)


def secret_parts(url: str) -> list[str]:
    """All pieces of a URL beyond what is shown of it, longest first."""
    kept = set(re.split(r"[/:]", shown(url)))
    pieces = set(re.split(r"[/?&=@:#;,+]", url)) - kept
    pieces |= set(map(unquote, pieces))
    return sorted((piece for piece in pieces if len(piece) >= SHORTEST_SECRET), key=len, reverse=True)
