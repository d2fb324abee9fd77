"""Whose a message is while it is sent: claims of processes that are there, gone, or elsewhere."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.alerts import channels, delivery, leases
from monitor.alerts.responses import SendResult, Trace
from monitor.store.outbox import OutboxRow
from rules.findings import Severity
from tests.monitor.alerts.scene import NOON, Scene

SECOND, HERE = timedelta(seconds=1), socket.gethostname()
ROW = OutboxRow(
    "r1", 1, "runa", "coach", 1, "json://h", "alert", Severity.STOP, "[]", (), None, "", "", "waiting", "first",
    NOON, None, None, 0, None, None, None, f"{HERE}:{os.getpid()}", NOON + 15 * SECOND, None, False,
)  # fmt: skip


@pytest.fixture(scope="module")
def gone() -> int:
    """The number of a process that has ended."""
    process = subprocess.Popen([sys.executable, "-c", ""])
    process.wait()
    return process.pid


@pytest.mark.parametrize(
    ("seconds", "alive"), [(-1, False), (0, False), (1, True), (299, True), (300, True), (301, False)]
)
def test_a_claim_holds_until_its_time_is_over_and_for_five_minutes_at_most(seconds: int, *, alive: bool) -> None:
    assert leases._alive(replace(ROW, claimed_until_wall=NOON + seconds * SECOND), NOON) is alive


def test_a_claim_of_a_process_that_is_gone_holds_no_longer(gone: int) -> None:
    assert leases._alive(ROW, NOON)
    assert not leases._alive(replace(ROW, claimed_by=f"{HERE}:{gone}"), NOON)
    assert leases._alive(replace(ROW, claimed_by=f"elsewhere:{gone}"), NOON), "nobody here can tell"
    assert leases._alive(replace(ROW, claimed_by=f"{HERE}:x"), NOON)
    assert not leases._alive(replace(ROW, claimed_until_wall=None), NOON)


def test_a_message_goes_to_the_url_that_it_was_queued_for_wherever_that_stands_now(scene: Scene) -> None:
    roster = scene.roster
    coach = next(one for one in roster.contacts if one.id == "coach")
    urls = ("json://a.example/1", "json://b.example/2", "json://b.example/3")
    moved = replace(roster, contacts=tuple(replace(one, urls=urls) if one is coach else one for one in roster.contacts))
    seen = [channels.shown(url) for url in urls]
    assert seen[1] == seen[2] != seen[0]

    def found(channel: int, shown: str, contact: str = "coach") -> str | None:
        return leases._url_of(moved, replace(ROW, contact=contact, channel=channel, channel_shown=shown))

    assert found(1, seen[0]) == urls[0]
    assert found(3, seen[1]) == urls[2], "of two that look alike its own"
    assert found(1, seen[1]) == urls[1], "else the first that looks like it"
    assert found(2, "json://gone.example") == urls[1], "what looks like none stays where it was"
    assert found(9, "json://gone.example") is None
    assert found(1, seen[0], "nobody") is None


@pytest.mark.parametrize(
    ("tries", "minutes"), [(0, 1), (1, 1), (2, 2), (3, 4), (6, 32), (7, 60), (8, 60), (11, 60), (12, 60), (5000, 60)]
)
def test_a_pause_doubles_up_to_an_hour(tries: int, minutes: int) -> None:
    assert delivery.pause(tries) == timedelta(minutes=minutes)


@pytest.mark.parametrize(("perhaps", "again"), [(0, 30), (1, 180), (2, None)])
def test_what_may_have_arrived_before_waits_longer(perhaps: int, again: int | None) -> None:
    told = delivery._after(replace(ROW, perhaps=perhaps), SendResult(False, "no answer", perhaps=True), NOON)
    assert told.next_try == (None if again is None else NOON + timedelta(minutes=again))
    assert told.perhaps


@pytest.mark.parametrize(("asked_s", "minutes"), [(None, 1.0), (59.0, 1.0), (61.0, 61 / 60), (600.0, 10.0)])
def test_a_try_that_failed_comes_again_after_the_longer_of_two_pauses(asked_s: float | None, minutes: float) -> None:
    told = delivery._after(ROW, SendResult(False, "answered 429", "busy", wait_seconds=asked_s), NOON)
    assert told.next_try == NOON + timedelta(minutes=minutes)
    assert not told.perhaps
    assert not told.refused


def test_a_trace_begins_with_nothing_sent_and_an_answer_ends_what_was_under_way() -> None:
    trace = Trace()
    assert (trace.status, trace.error, trace.message_left, trace.mail_refused) == (None, None, False, False)
    trace.message_left = True
    trace.answered(200, {})
    assert (trace.status, trace.message_left) == (200, False)


def test_what_was_never_tried_goes_first_then_a_stop_then_what_was_tried_least_then_the_oldest() -> None:
    def row(number: int, tries: int, severity: Severity = Severity.CAUTION) -> OutboxRow:
        return replace(ROW, number=number, tries=tries, severity=severity)

    stop = Severity.STOP
    order = [row(1, 0), row(2, 0, stop), row(3, 0), row(9, 1, stop), row(4, 2, stop), row(5, 1), row(6, 1), row(3, 2)]
    mixed = [order[each] for each in (7, 2, 5, 0, 4, 6, 1, 3)]
    assert sorted(mixed, key=lambda one: leases._turn((one, ()))) == order
