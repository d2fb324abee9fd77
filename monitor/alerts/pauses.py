"""How long things wait: between tries, in a burst, for a channel that does not answer. All of it in real time."""

from __future__ import annotations

from datetime import datetime, timedelta

GATHER = timedelta(seconds=30)
FIRST_PAUSE = timedelta(minutes=1)
LONGEST_PAUSE = timedelta(hours=1)
GIVE_UP_AFTER = timedelta(days=1)
LEAST_TRIES = 12  # a machine that slept, or a scan every few hours, has tried too little to give up
LEAST_AWAKE = timedelta(hours=12)
LONGEST_WISH = timedelta(hours=6)  # that a service may ask for
PAUSES_WHEN_PERHAPS = (timedelta(minutes=30), timedelta(hours=3))
"""After a try that left whole and unanswered: two more at most, for each may be one message too many."""
LEASE_MARGIN = timedelta(seconds=5)
TRIES_BEFORE_OVERTAKING = 3  # then a `stop` no longer waits behind a lesser message that does not go


def pause(tries: int) -> timedelta:
    """1 min after the first try, then twice as long each time, up to 1 h."""
    doublings = min(max(tries, 1) - 1, 10)
    return min(FIRST_PAUSE * (1 << doublings), LONGEST_PAUSE)


def awake(before: timedelta, last_try: datetime | None, wall: datetime) -> timedelta:
    """The time awake over all tries so far: of the time since the last one, no more than a pause lasts at most."""
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
    """Whether a pause is over; one longer than any pause was set by a clock that was wrong."""
    return moment is None or moment <= wall or moment > wall + LONGEST_WISH
