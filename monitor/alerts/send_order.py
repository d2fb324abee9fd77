"""Which row goes next and how long things wait: quiet hours, order within an athlete, retries, bursts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from monitor.reasons import Why
from monitor.store.decisions import ChannelPause, Line
from monitor.store.outbox import LastSent, OutboxRow
from rules.findings import Severity

# Quiet hours on the athlete's clock; they may cross midnight, and the two nights a year when clocks change.

Span = tuple[time, time]


def quiet_until(now: datetime, quiet: Span | None, zone: ZoneInfo) -> datetime | None:
    """The end of the quiet hours that `now` lies in, in UTC; None when it lies in none."""
    if quiet is None:
        return None
    begin, end = quiet
    today = now.astimezone(zone).date()
    for day in (today - timedelta(days=1), today):
        last_day = day + timedelta(days=1) if begin >= end else day
        until = _instant(last_day, end, zone, last=True)
        if _instant(day, begin, zone, last=False) <= now < until:
            return until
    return None


def _instant(day: date, clock: time, zone: ZoneInfo, *, last: bool) -> datetime:
    """The moment at which local clocks show a time.

    Of one that comes twice the first or the last; for one that is left out, the moment the clocks jump over it.
    """
    early, late = (datetime.combine(day, clock, zone).replace(fold=fold).astimezone(UTC) for fold in (0, 1))
    if early > late:  # skipped by the clock: fold 0 gives the later instant
        return _jump(late, early, zone)
    return late if last else early


def _jump(before: datetime, after: datetime, zone: ZoneInfo) -> datetime:
    """The second between two moments at which the clock is changed."""
    offset = before.astimezone(zone).utcoffset()
    while after - before > timedelta(seconds=1):
        middle = before + timedelta(seconds=(after - before) // timedelta(seconds=2))
        if middle.astimezone(zone).utcoffset() == offset:
            before = middle
        else:
            after = middle
    return after


# How long things wait: between tries, in a burst, for a channel that does not answer. All of it in real time.
GATHER = timedelta(seconds=30)
FIRST_PAUSE = timedelta(minutes=1)
LONGEST_PAUSE = timedelta(hours=1)
GIVE_UP_AFTER = timedelta(days=1)
LEAST_TRIES = 12  # where the machine sleeps, or scans come hours apart, a day holds too few tries to give up
LEAST_AWAKE = timedelta(hours=12)
LONGEST_WISH = timedelta(hours=6)  # longest Retry-After that is obeyed
PAUSES_WHEN_PERHAPS = (timedelta(minutes=30), timedelta(hours=3))
"""After a message was sent whole and no answer came: two more tries at most, since each may be a repeat."""
LEASE_MARGIN = timedelta(seconds=30)
"""From the claim to the begin of the send, on a busy machine; after it the send is not begun."""
TRIES_BEFORE_OVERTAKING = 3  # of a lesser message in front, before a `stop` may go first


def pause(tries: int) -> timedelta:
    """1 min after the first try, then twice as long each time, up to 1 h."""
    doublings = min(max(tries, 1) - 1, 10)
    return min(FIRST_PAUSE * (1 << doublings), LONGEST_PAUSE)


def awake(before: timedelta, last_try: datetime | None, wall: datetime) -> timedelta:
    """The time the machine was awake over all tries: since the last one at most LONGEST_PAUSE, the rest was sleep."""
    since = wall - last_try if last_try is not None else timedelta(0)
    return before + min(max(since, timedelta(0)), LONGEST_PAUSE)


def next_try(tries: int, first_try: datetime, awake_for: timedelta, wall: datetime) -> datetime | None:
    """When to try again after `tries` tries; None when it was tried long enough, and often enough, to give up."""
    if wall - first_try >= GIVE_UP_AFTER and tries >= LEAST_TRIES and awake_for >= LEAST_AWAKE:
        return None
    return wall + pause(tries)


def next_try_when_perhaps(times: int, wall: datetime) -> datetime | None:
    """When to send again what may have arrived `times` times already; None when that is enough."""
    return wall + PAUSES_WHEN_PERHAPS[times - 1] if times <= len(PAUSES_WHEN_PERHAPS) else None


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
    for row in sorted(waiting, key=lambda one: one.number):
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
        stuck = [one for one in ahead if not (one.recipient and row.recipient) or one.recipient == row.recipient]
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
    return [one for one in rows if one is row or (one.group == row.group and one.kind == "alert" and one.untouched)]


def _may_overtake(row: OutboxRow, stuck: Iterable[OutboxRow], wall: datetime) -> bool:
    """A `stop` does not wait behind lesser messages that have failed a few times and are in their pause."""
    return row.severity == Severity.STOP and all(
        one.severity < Severity.STOP and one.tries >= TRIES_BEFORE_OVERTAKING and not is_due(one.next_try_wall, wall)
        for one in stuck
    )
