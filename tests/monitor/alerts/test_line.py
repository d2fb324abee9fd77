from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.alerts.delivery import next_try, next_try_when_perhaps, pause
from monitor.alerts.leases import choose
from monitor.reasons import Why
from monitor.store.decisions import ChannelPause
from monitor.store.outbox import LastSent, OutboxRow
from rules.findings import Severity

WALL = datetime(2026, 11, 25, 9, tzinfo=UTC)


def row(number: int, **more: object) -> OutboxRow:
    base = OutboxRow(
        id=f"r{number}", number=number, athlete="runa", contact="coach", channel=1, channel_shown="json://h",
        kind="alert", severity=Severity.CAUTION, items="[]", findings=(), once=None, title="", body="", state="waiting",
        reason="first", created_at=WALL, not_before=None, sent_at=None, tries=0, last_error=None, first_try_wall=None,
        next_try_wall=None, claimed_by=None, claimed_until_wall=None, sent_wall=None, journaled=False,
    )  # fmt: skip
    return replace(base, **more)


def paused(number: int, tries: int = 1, **more: object) -> OutboxRow:
    return row(number, tries=tries, next_try_wall=WALL + timedelta(minutes=1), **more)


def test_the_oldest_row_of_a_channel_goes_first() -> None:
    choice = choose([row(2, athlete="olav"), row(1)], {}, WALL, gather_now=False)
    assert choice.take is not None
    assert choice.take.number == 1
    assert choice.mates == ()


def test_a_row_in_its_pause_holds_back_newer_ones_of_its_athlete() -> None:
    choice = choose([paused(1), row(3)], {}, WALL, gather_now=True)
    assert choice.take is None
    assert choice.look_again == WALL + timedelta(minutes=1)


def test_a_row_in_its_pause_holds_back_no_other_channel() -> None:
    choice = choose([paused(1), row(2, channel=2)], {}, WALL, gather_now=True)
    assert choice.take is not None
    assert choice.take.number == 2


def test_a_channel_in_trouble_is_tried_after_those_that_are_not() -> None:
    choice = choose([row(1, tries=1, next_try_wall=WALL), row(2, channel=2)], {}, WALL, gather_now=True)
    assert choice.take is not None
    assert choice.take.number == 2


def test_a_row_that_another_process_sends_holds_back_its_channel() -> None:
    busy = row(1, tries=1, claimed_by="h:1", claimed_until_wall=WALL + timedelta(seconds=9))
    choice = choose([busy, row(2)], {}, WALL, gather_now=True)
    assert choice.take is None
    assert choice.look_again == WALL + timedelta(seconds=9)


def test_within_a_burst_rows_wait_for_its_end() -> None:
    sent = {("runa", "coach", 1): LastSent(WALL - timedelta(seconds=10), Severity.CAUTION)}
    choice = choose([row(1), row(2)], sent, WALL, gather_now=False)
    assert choice.take is None
    assert [one.number for one in choice.gathering] == [1, 2]
    assert choice.look_again == WALL + timedelta(seconds=20)


def test_what_is_graver_than_the_burst_goes_at_once_and_takes_along_what_waits() -> None:
    sent = {("runa", "coach", 1): LastSent(WALL - timedelta(seconds=10), Severity.CAUTION)}
    waiting = [row(1, reason=Why.GATHERING), row(2, severity=Severity.STOP), row(3, athlete="olav")]
    choice = choose(waiting, sent, WALL, gather_now=False)
    assert choice.take is not None
    assert (choice.take.number, [one.number for one in choice.mates]) == (1, [2])


def test_a_burst_of_one_athlete_holds_back_no_other() -> None:
    sent = {("runa", "coach", 1): LastSent(WALL - timedelta(seconds=10), Severity.CAUTION)}
    choice = choose([row(1), row(2, athlete="olav")], sent, WALL, gather_now=False)
    assert choice.take is not None
    assert choice.take.number == 2


def test_a_burst_holds_back_neither_a_days_plan_nor_a_notice() -> None:
    sent = {("runa", "coach", 1): LastSent(WALL - timedelta(seconds=10), Severity.CAUTION)}
    choice = choose([row(1, kind="daily")], sent, WALL, gather_now=False)
    assert choice.take is not None


def test_after_a_burst_all_that_waited_is_one_message() -> None:
    waited = [row(1, reason=Why.GATHERING), row(2, reason=Why.GATHERING), row(3)]
    choice = choose(waited, {}, WALL, gather_now=False)
    assert choice.take is not None
    assert (choice.take.number, [one.number for one in choice.mates]) == (1, [2, 3])


def test_without_waiting_the_rest_of_a_burst_is_one_message_at_once() -> None:
    sent = {("runa", "coach", 1): LastSent(WALL - timedelta(seconds=1), Severity.CAUTION)}
    choice = choose([row(2), row(3)], sent, WALL, gather_now=True)
    assert choice.take is not None
    assert [one.number for one in choice.mates] == [3]


def test_what_was_tried_before_is_never_gathered() -> None:
    tried = row(3, tries=1, next_try_wall=WALL)
    choice = choose([row(1, reason=Why.GATHERING), row(2, kind="daily"), tried], {}, WALL, gather_now=True)
    assert choice.mates == ()


def test_a_stop_waits_behind_a_message_that_failed_once() -> None:
    choice = choose([paused(1), row(2, severity=Severity.STOP)], {}, WALL, gather_now=True)
    assert choice.take is None


def test_a_stop_overtakes_a_lesser_message_that_failed_three_times() -> None:
    choice = choose([paused(1, 3), row(2), row(3, severity=Severity.STOP)], {}, WALL, gather_now=True)
    assert choice.take is not None
    assert choice.take.number == 3


def test_a_stop_does_not_overtake_another_stop() -> None:
    stuck = paused(1, 9, severity=Severity.STOP)
    assert choose([stuck, row(2, severity=Severity.STOP)], {}, WALL, gather_now=True).take is None


def test_a_pause_set_by_a_clock_that_ran_ahead_is_over() -> None:
    choice = choose([row(1, tries=2, next_try_wall=WALL + timedelta(days=3))], {}, WALL, gather_now=True)
    assert choice.take is not None


def test_pauses_grow_from_a_minute_to_an_hour() -> None:
    assert [pause(tries) // timedelta(minutes=1) for tries in range(1, 10)] == [1, 2, 4, 8, 16, 32, 60, 60, 60]


@pytest.mark.parametrize(
    ("hours", "tries", "awake_hours", "gives_up"),
    [(24, 12, 12, True), (23.99, 12, 12, False), (24, 11, 12, False), (24, 12, 11.99, False), (99, 40, 50, True)],
)
def test_a_row_is_given_up_after_a_day_twelve_tries_and_twelve_waking_hours(
    hours: float, tries: int, awake_hours: float, gives_up: bool
) -> None:
    again = next_try(tries, WALL - timedelta(hours=hours), timedelta(hours=awake_hours), WALL)
    assert again == (None if gives_up else WALL + timedelta(hours=1))


def test_what_may_have_arrived_is_sent_twice_more_far_apart() -> None:
    assert next_try_when_perhaps(1, WALL) == WALL + timedelta(minutes=30)
    assert next_try_when_perhaps(2, WALL) == WALL + timedelta(hours=3)
    assert next_try_when_perhaps(3, WALL) is None


def test_a_refused_row_waits_alone() -> None:
    refused = paused(1, severity=Severity.STOP, refused=True)
    choice = choose([refused, row(2, severity=Severity.STOP)], {}, WALL, gather_now=True)
    assert choice.take is not None
    assert choice.take.number == 2


def test_of_several_recipients_each_has_an_order_of_its_own() -> None:
    rows = [paused(1, recipient="a"), row(2, recipient="b"), row(3)]
    choice = choose(rows, {}, WALL, gather_now=True)
    assert choice.take is not None
    assert choice.take.number == 2
    assert choose([rows[0], rows[2]], {}, WALL, gather_now=True).take is None


DOWN = ("coach", 1)


def test_a_channel_that_failed_is_left_alone_by_other_athletes_too_until_its_pause_is_over() -> None:
    pauses = {DOWN: ChannelPause(3, WALL + timedelta(minutes=4))}
    choice = choose([row(1, athlete="olav")], {}, WALL, gather_now=True, pauses=pauses)
    assert (choice.take, choice.look_again) == (None, WALL + timedelta(minutes=4))
    later = choose([row(1, athlete="olav")], {}, WALL + timedelta(minutes=4), gather_now=True, pauses=pauses)
    assert later.take is not None


def test_a_stop_that_was_never_tried_does_not_wait_for_a_channel_unless_it_asked_for_that() -> None:
    until = WALL + timedelta(minutes=4)
    stop = row(1, athlete="olav", severity=Severity.STOP)
    choice = choose([stop], {}, WALL, gather_now=True, pauses={DOWN: ChannelPause(3, until)})
    assert choice.take is not None
    asked = choose([stop], {}, WALL, gather_now=True, pauses={DOWN: ChannelPause(1, until, asked=True)})
    assert (asked.take, asked.look_again) == (None, until)


def test_what_was_never_tried_goes_before_what_failed() -> None:
    due = row(1, tries=2, next_try_wall=WALL)
    choice = choose([due, row(2, athlete="olav")], {}, WALL, gather_now=True)
    assert choice.take is not None
    assert choice.take.number == 2


ROWS = st.builds(
    lambda number, channel, athlete, in_pause, severity: (paused if in_pause else row)(
        number, channel=channel, athlete=athlete, severity=severity
    ),
    st.integers(1, 50),
    st.integers(1, 3),
    st.sampled_from(["runa", "olav"]),
    st.booleans(),
    st.sampled_from(Severity),
)


@given(st.lists(ROWS, unique_by=lambda one: one.number), st.booleans())
def test_whatever_waits_no_row_passes_an_older_one_of_its_athlete(rows: list[OutboxRow], gather_now: bool) -> None:
    choice = choose(rows, {}, WALL, gather_now=gather_now)
    if choice.take is not None:
        older = [one for one in rows if one.group == choice.take.group and one.number < choice.take.number]
        assert older == [] or choice.take.severity == Severity.STOP
    else:
        assert not rows or choice.look_again is not None
