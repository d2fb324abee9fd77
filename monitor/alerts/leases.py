"""Which row goes next, claimed for a limited time: quiet hours, folding and bursts, in one transaction."""

from __future__ import annotations

import os
import socket
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import duckdb

from monitor.alerts import outbox_editor
from monitor.alerts.channels import recipients_of, shown, timeout_of
from monitor.alerts.message import message_of
from monitor.alerts.outbox_editor import ALWAYS_GOES, zone_of
from monitor.alerts.responses import LONGEST_WISH_SECONDS
from monitor.clock import quiet_until
from monitor.reasons import Why
from monitor.roster import Roster
from monitor.store import decisions, outbox
from monitor.store.decisions import ChannelPause, Line
from monitor.store.journal import Journal
from monitor.store.outbox import Draft, LastSent, OutboxRow
from rules.findings import Severity

# How long things wait: in a burst, between tries, for a channel that does not answer. All of it in real time.
GATHER = timedelta(seconds=30)
LONGEST_PAUSE = timedelta(hours=1)
LONGEST_WISH = timedelta(seconds=LONGEST_WISH_SECONDS)
LEASE_MARGIN = timedelta(seconds=30)
"""From the claim to the begin of the send, on a busy machine; after it the send is not begun."""
TRIES_BEFORE_OVERTAKING = 3  # of a lesser message in front, before a `stop` may go first
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
    for part in outbox.split(con, row, recipients) if recipients else [row]:
        awake_for = awake(timedelta(seconds=part.awake_s), part.tried_wall, wall)
        outbox.claim(con, part.id, _me(), wall, until, awake_for.total_seconds())
        yield Claimed(replace(part, awake_s=awake_for.total_seconds()), url, begin_by)


def gather(con: duckdb.DuckDBPyConnection, rows: Sequence[OutboxRow], reason: Why) -> OutboxRow:
    """Make several rows one: the first takes in the others."""
    first = rows[0]
    told = [item for row in rows for item in outbox_editor.from_text(row.items)]
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


def awake(before: timedelta, last_try: datetime | None, wall: datetime) -> timedelta:
    """The time the machine was awake over all tries: since the last one at most LONGEST_PAUSE, the rest was sleep."""
    since = wall - last_try if last_try is not None else timedelta(0)
    return before + min(max(since, timedelta(0)), LONGEST_PAUSE)


def is_due(moment: datetime | None, wall: datetime) -> bool:
    """Whether a pause is over; one that ends later than any pause can was set by a wrong clock."""
    return moment is None or moment <= wall or moment > wall + LONGEST_WISH


# Which row goes next: order within an athlete, pauses of rows and channels, bursts gathered into one message. Pure.

Group = tuple[str, str, int]
Candidate = tuple[OutboxRow, tuple[OutboxRow, ...]]


@dataclass(frozen=True, slots=True)
class Choice:
    """The row to send now with those to gather into it; rows that wait for the end of a burst; when to look again."""

    take: OutboxRow | None = None
    mates: tuple[OutboxRow, ...] = ()
    gathering: tuple[OutboxRow, ...] = ()
    look_again: datetime | None = None


@dataclass(slots=True)
class _Look:
    """What a look at all channels found so far."""

    candidates: list[Candidate] = field(default_factory=list)
    gathering: list[OutboxRow] = field(default_factory=list)
    moments: list[datetime] = field(default_factory=list)


def choose(
    waiting: Iterable[OutboxRow],
    last_sent: Mapping[Group, LastSent],
    wall: datetime,
    *,
    gather_now: bool,
    pauses: Mapping[Line, ChannelPause] | None = None,
) -> Choice:
    """One step of delivery. `last_sent` holds what went out within the time of a burst; the graver does not wait.

    `pauses` holds the channels that failed last time: only a `stop` that was never tried goes there before its time.
    """
    lines: dict[Line, list[OutboxRow]] = defaultdict(list)
    for row in sorted(waiting, key=lambda queued: queued.number):
        lines[row.line].append(row)
    look = _Look()
    for line, rows in lines.items():
        _look_at(rows, last_sent, wall, look, gather_now=gather_now, pause=(pauses or {}).get(line))
    again = min(look.moments, default=None)
    if not look.candidates:
        return Choice(gathering=tuple(look.gathering), look_again=again)
    take, mates = min(look.candidates, key=_turn)
    return Choice(take, mates, tuple(look.gathering), again)


def _turn(candidate: Candidate) -> tuple[bool, bool, int, int]:
    """Order of candidates: what was never tried before what failed, so that failures delay nothing; a `stop` first."""
    row = candidate[0]
    return row.tries > 0, row.severity < Severity.STOP and row.tries > 0, row.tries, row.number


def _look_at(
    rows: Sequence[OutboxRow],
    last_sent: Mapping[Group, LastSent],
    wall: datetime,
    look: _Look,
    *,
    gather_now: bool,
    pause: ChannelPause | None,
) -> None:
    """Find what may go next on one channel."""
    for row in rows:
        if row.claimed_until_wall is not None:  # one message at a time on a channel
            look.moments.append(row.claimed_until_wall)
            return
    of_athlete: dict[str, list[OutboxRow]] = defaultdict(list)
    for row in rows:
        of_athlete[row.athlete].append(row)
    own = _Look()
    for in_order in of_athlete.values():
        _look_at_athlete(in_order, last_sent, wall, own, gather_now=gather_now)
    candidates = own.candidates
    if pause is not None and not is_due(pause.until_wall, wall):
        candidates = [candidate for candidate in candidates if not pause.asked and _is_fresh_stop(candidate[0])]
        own.moments = [max(moment, pause.until_wall) for moment in own.moments]
        own.moments += [pause.until_wall] if own.candidates else []
    look.candidates += candidates
    look.gathering += own.gathering
    look.moments += own.moments


def _is_fresh_stop(row: OutboxRow) -> bool:
    return row.severity == Severity.STOP and row.tries == 0


def _look_at_athlete(
    rows: Sequence[OutboxRow], last_sent: Mapping[Group, LastSent], wall: datetime, look: _Look, *, gather_now: bool
) -> None:
    """Find what may go next of one athlete on one channel: each recipient's in order, but none behind a refused one."""
    ahead: list[OutboxRow] = []
    for row in rows:
        stuck = [
            other for other in ahead if not (other.recipient and row.recipient) or other.recipient == row.recipient
        ]
        if row.refused:
            _when_due(row, wall, look)
        elif stuck:
            if _may_overtake(row, stuck, wall):
                _when_due(row, wall, look)
                ahead.append(row)
        elif row.tries:
            _when_due(row, wall, look)
            ahead.append(row)
        elif not _gathers(row, last_sent, look, gather_now=gather_now):
            burst = row.kind == "alert" and (row.group in last_sent or row.reason == Why.GATHERING)
            first, *mates = _together(row, rows) if burst else [row]
            look.candidates.append((first, tuple(mates)))
            ahead.append(row)


def _when_due(row: OutboxRow, wall: datetime, look: _Look) -> None:
    if is_due(row.next_try_wall, wall):
        look.candidates.append((row, ()))
    elif row.next_try_wall is not None:
        look.moments.append(row.next_try_wall)


def _gathers(row: OutboxRow, last_sent: Mapping[Group, LastSent], look: _Look, *, gather_now: bool) -> bool:
    """Whether a row waits for the end of a burst; one that is graver than the burst does not."""
    sent = last_sent.get(row.group) if row.kind == "alert" else None
    if sent is None or gather_now or row.severity > sent.gravest:
        return False
    look.gathering.append(row)
    look.moments.append(sent.at + GATHER)
    return True


def _together(row: OutboxRow, rows: Sequence[OutboxRow]) -> list[OutboxRow]:
    """The row with all other alerts of the same athlete that nobody has read, the oldest first."""
    return [
        other
        for other in rows
        if other is row or (other.group == row.group and other.kind == "alert" and other.untouched)
    ]


def _may_overtake(row: OutboxRow, stuck: Iterable[OutboxRow], wall: datetime) -> bool:
    """A `stop` does not wait behind lesser messages that have failed a few times and are in their pause."""
    return row.severity == Severity.STOP and all(
        other.severity < Severity.STOP
        and other.tries >= TRIES_BEFORE_OVERTAKING
        and not is_due(other.next_try_wall, wall)
        for other in stuck
    )
