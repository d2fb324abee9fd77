"""How long things wait: between tries, in a burst, for a channel that does not answer. All of it in real time."""

from __future__ import annotations

from datetime import datetime, timedelta

GATHER = timedelta(seconds=30)
FIRST_PAUSE = timedelta(minutes=1)
LONGEST_PAUSE = timedelta(hours=1)
GIVE_UP_AFTER = timedelta(days=1)
LEASE_MARGIN = timedelta(seconds=5)
TRIES_BEFORE_OVERTAKING = 3  # then a `stop` no longer waits behind a lesser message that does not go


def pause(tries: int) -> timedelta:
    """1 min after the first try, then twice as long each time, up to 1 h."""
    doublings = min(max(tries, 1) - 1, 10)
    return min(FIRST_PAUSE * (1 << doublings), LONGEST_PAUSE)


def next_try(tries: int, first_try: datetime, wall: datetime) -> datetime | None:
    """When to try again after `tries` tries; None when a day has passed since the first."""
    return None if wall - first_try >= GIVE_UP_AFTER else wall + pause(tries)


def is_due(moment: datetime | None, wall: datetime) -> bool:
    """Whether a pause is over; one longer than any pause was set by a clock that was wrong."""
    return moment is None or moment <= wall or moment > wall + LONGEST_PAUSE
