"""Borders of sending that no other test stands on."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from monitor.alerts import channels, notices
from monitor.alerts.delivery import LEAST_AWAKE, LEAST_TRIES, next_try, next_try_when_perhaps
from monitor.alerts.leases import GATHER, LONGEST_PAUSE, LONGEST_WISH, awake, is_due
from monitor.alerts.responses import SendResult
from monitor.store import outbox
from rules.findings import Severity
from tests.monitor.alerts.scene import NOON, Scene, finding

SECOND = timedelta(seconds=1)


@pytest.mark.parametrize(("seconds", "sent"), [(0, 0), (1, 1)])
def test_a_notice_is_held_for_a_day_and_a_clock_put_back_and_no_longer(scene: Scene, seconds: int, sent: int) -> None:
    """26 hours are the longest hold."""
    with scene.store.writing() as con:
        notices.queue_unreadable(con, scene.roster, "runa", ["a.fit"], scene.now)
        (row,) = outbox.every(con)
        outbox.set_state(con, row.id, "held", row.reason, scene.now + timedelta(hours=26, seconds=seconds))
    assert scene.deliver().sent == sent


def test_a_plugin_that_raises_has_not_sent(monkeypatch: pytest.MonkeyPatch) -> None:
    def raises(url: str) -> Any:
        raise ValueError(url)

    monkeypatch.setattr(channels, "_target", raises)
    result = channels.AppriseSender(5.0)("json://127.0.0.1:9/secret", "title", "body", severity=Severity.STOP)
    assert not result.ok
    assert result.trouble == "unknown"
    assert "secret" not in result.error


def test_a_channel_that_apprise_does_not_know_is_no_sending() -> None:
    result = channels.AppriseSender(5.0)("nowhere://x", "title", "body")
    assert (result.ok, result.trouble) == (False, "unknown")


@pytest.mark.parametrize(
    ("tries", "hours", "awake_h", "gives_up"),
    [(12, 24, 12, True), (11, 24, 12, False), (12, 23.99, 12, False), (12, 24, 11.99, False), (13, 30, 20, True)],
)
def test_what_is_tried_often_and_long_enough_is_given_up(
    tries: int, hours: float, awake_h: float, gives_up: bool
) -> None:
    assert (LEAST_TRIES, timedelta(hours=12)) == (12, LEAST_AWAKE)
    again = next_try(tries, NOON - timedelta(hours=hours), timedelta(hours=awake_h), NOON)
    assert (again is None) is gives_up


@pytest.mark.parametrize(("since", "counted"), [(59, 59), (60, 60), (61, 60), (-5, 0)])
def test_of_the_time_since_the_last_try_a_pause_counts_as_awake(since: int, counted: int) -> None:
    assert timedelta(hours=1) == LONGEST_PAUSE
    assert awake(timedelta(0), NOON - timedelta(minutes=since), NOON) == timedelta(minutes=counted)


def test_what_may_have_arrived_goes_twice_more() -> None:
    assert [next_try_when_perhaps(times, NOON) for times in (1, 2, 3)] == [
        NOON + timedelta(minutes=30),
        NOON + timedelta(hours=3),
        None,
    ]


def test_a_pause_longer_than_any_was_set_by_a_wrong_clock() -> None:
    assert timedelta(hours=6) == LONGEST_WISH
    assert not is_due(NOON + LONGEST_WISH, NOON)
    assert is_due(NOON + LONGEST_WISH + SECOND, NOON)
    assert is_due(NOON, NOON)
    assert not is_due(NOON + SECOND, NOON)


@pytest.mark.parametrize(("seconds", "sent"), [(29, 0), (30, 1)])
def test_a_burst_is_gathered_for_half_a_minute(scene: Scene, seconds: int, sent: int) -> None:
    assert timedelta(seconds=30) == GATHER
    scene.queue(finding(severity=Severity.CAUTION))
    assert scene.deliver(gather_now=False).sent == 1
    scene.queue(finding("pain", Severity.CAUTION, start=NOON - timedelta(hours=5), kind="day"))
    scene.pass_time(seconds=seconds)
    assert scene.deliver(gather_now=False).sent == sent


@pytest.mark.parametrize(("asked_s", "waits_s"), [(10.0, 60.0), (59.0, 60.0), (61.0, 61.0), (600.0, 600.0)])
def test_a_service_that_asks_for_a_pause_gets_the_longer_of_the_two(
    scene: Scene, asked_s: float, waits_s: float
) -> None:
    def busy(*_: object, **__: object) -> SendResult:
        return SendResult(False, "answered 429", "busy", wait_seconds=asked_s)

    scene.channel = busy
    scene.queue(finding())
    assert scene.deliver().next_due == scene.wall + timedelta(seconds=waits_s)


def test_what_may_have_arrived_is_tried_after_half_an_hour_and_three_hours_and_given_up(scene: Scene) -> None:
    def silent(*_: object, **__: object) -> SendResult:
        return SendResult(False, "no answer", "no answer", perhaps=True)

    scene.channel = silent
    scene.queue(finding())
    for minutes in (30, 180):
        due = scene.deliver().next_due
        assert due == scene.wall + timedelta(minutes=minutes)
        scene.pass_time(minutes=minutes)
    assert scene.deliver().failed == 1


def test_files_that_cannot_be_read_are_told_today_tomorrow_and_then_with_those_of_tomorrow(scene: Scene) -> None:
    told = []
    for name in ("a.fit", "b.fit", "c.fit"):
        with scene.store.writing() as con:
            told.append(notices.queue_unreadable(con, scene.roster, "runa", [name], scene.now))
        scene.deliver()
    with scene.store.writing() as con:
        told.append(notices.queue_unreadable(con, scene.roster, "runa", [], scene.now))
    assert told == [True, True, True, False]
    assert scene.states() == ["sent", "held"]


@pytest.mark.parametrize(
    ("who", "paths", "told"), [("runa", ["a.fit"], True), ("nobody", ["a.fit"], False), ("runa", [], False)]
)
def test_files_are_told_of_whom_the_roster_knows(scene: Scene, who: str, paths: list[str], *, told: bool) -> None:
    with scene.store.writing() as con:
        assert notices.queue_unreadable(con, scene.roster, who, paths, scene.now) is told
        assert len(outbox.every(con)) == told
