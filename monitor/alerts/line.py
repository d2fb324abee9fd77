"""Which row goes next: the order within a channel, pauses between tries, bursts gathered into one message. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from monitor.alerts.pauses import GATHER, TRIES_BEFORE_OVERTAKING, is_due
from monitor.store.outbox import LastSent, OutboxRow
from rules.findings import Severity

GATHERING = "gathering"  # the reason of a row that waits for the end of a burst
Group = tuple[str, str, int]


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

    candidates: list[tuple[OutboxRow, tuple[OutboxRow, ...]]] = field(default_factory=list)
    gathering: list[OutboxRow] = field(default_factory=list)
    moments: list[datetime] = field(default_factory=list)


def choose(
    waiting: Iterable[OutboxRow],
    last_sent: Mapping[Group, LastSent],
    wall: datetime,
    *,
    gather_now: bool,
) -> Choice:
    """One step of delivery. `last_sent` holds what went out within the time of a burst; the graver does not wait."""
    lines: dict[tuple[str, int], list[OutboxRow]] = defaultdict(list)
    for row in sorted(waiting, key=lambda one: one.number):
        lines[row.line].append(row)
    look = _Look()
    for rows in lines.values():
        _look_at(rows, last_sent, wall, look, gather_now=gather_now)
    again = min(look.moments, default=None)
    if not look.candidates:
        return Choice(gathering=tuple(look.gathering), look_again=again)
    # A channel in trouble comes last, so that it holds up no other by its silence.
    take, mates = min(look.candidates, key=lambda pair: (pair[0].tries > 0, pair[0].number))
    return Choice(take, mates, tuple(look.gathering), again)


def _look_at(
    rows: Sequence[OutboxRow],
    last_sent: Mapping[Group, LastSent],
    wall: datetime,
    look: _Look,
    *,
    gather_now: bool,
) -> None:
    """Find what may go next on one channel."""
    for row in rows:
        if row.claimed_until_wall is not None:  # being sent by another process: its turn first
            look.moments.append(row.claimed_until_wall)
            return
    for index, row in enumerate(rows):
        if row.tries:
            if is_due(row.next_try_wall, wall):
                look.candidates.append((row, ()))
                return
            if row.next_try_wall is not None:
                look.moments.append(row.next_try_wall)
            _overtake(row, rows[index + 1 :], wall, look)
            return
        sent = last_sent.get(row.group) if row.kind == "alert" else None
        if sent is not None and not gather_now and row.severity <= sent.gravest:
            look.gathering.append(row)
            look.moments.append(sent.at + GATHER)
            continue
        burst = sent is not None or row.reason == GATHERING
        first, *mates = _together(row, rows) if burst and row.kind == "alert" else [row]
        look.candidates.append((first, tuple(mates)))
        return


def _together(row: OutboxRow, rows: Sequence[OutboxRow]) -> list[OutboxRow]:
    """The row with all other alerts of the same athlete that nobody has read, the oldest first."""
    return [one for one in rows if one is row or (one.group == row.group and one.kind == "alert" and one.untouched)]


def _overtake(stuck: OutboxRow, behind: Sequence[OutboxRow], wall: datetime, look: _Look) -> None:
    """A `stop` does not wait behind a lesser message that has failed a few times."""
    if stuck.tries < TRIES_BEFORE_OVERTAKING or stuck.severity == Severity.STOP:
        return
    urgent = next((row for row in behind if row.severity == Severity.STOP), None)
    if urgent is not None and is_due(urgent.next_try_wall, wall):
        look.candidates.append((urgent, ()))
    elif urgent is not None and urgent.next_try_wall is not None:
        look.moments.append(urgent.next_try_wall)
