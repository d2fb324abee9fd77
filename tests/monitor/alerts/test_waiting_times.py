"""How long a message waits for its next try, and when it is given up: just before, at and after each border."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from monitor.alerts.delivery import next_try
from monitor.alerts.leases import awake, is_due

NOW = datetime(2026, 10, 9, 12, tzinfo=UTC)
SECOND = timedelta(seconds=1)
HOURS = timedelta(hours=1)


@pytest.mark.parametrize(
    ("since", "counted"),
    [
        (timedelta(minutes=59), timedelta(minutes=59)),
        (HOURS, HOURS),
        (HOURS + SECOND, HOURS),
        (50 * HOURS, HOURS),
        (-HOURS, 0 * HOURS),
    ],
)
def test_between_two_tries_an_hour_at_most_counts_as_awake(since: timedelta, counted: timedelta) -> None:
    """A laptop that slept was not awake; a clock that was set back takes nothing away."""
    assert awake(3 * HOURS, NOW - since, NOW) == 3 * HOURS + counted
    assert awake(3 * HOURS, None, NOW) == 3 * HOURS


@pytest.mark.parametrize(
    ("tries", "age", "awake_for", "given_up"),
    [
        (12, 24 * HOURS, 12 * HOURS, True),
        (11, 24 * HOURS, 12 * HOURS, False),
        (12, 24 * HOURS - SECOND, 12 * HOURS, False),
        (12, 24 * HOURS, 12 * HOURS - SECOND, False),
        (40, 72 * HOURS, 30 * HOURS, True),
    ],
)
def test_a_message_is_given_up_after_a_day_twelve_tries_and_twelve_waking_hours(
    tries: int, age: timedelta, awake_for: timedelta, *, given_up: bool
) -> None:
    expected = None if given_up else NOW + HOURS
    assert next_try(tries, NOW - age, awake_for, NOW) == expected


@pytest.mark.parametrize(
    ("moment", "due"),
    [
        (None, True),
        (NOW, True),
        (NOW - SECOND, True),
        (NOW + SECOND, False),
        (NOW + 6 * HOURS, False),
        (NOW + 6 * HOURS + SECOND, True),
    ],
)
def test_a_pause_longer_than_any_was_set_by_a_wrong_clock(moment: datetime | None, *, due: bool) -> None:
    assert is_due(moment, NOW) == due
