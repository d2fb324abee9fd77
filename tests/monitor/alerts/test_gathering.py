"""Bursts gathered into few messages, and what is held for the night."""

from dataclasses import replace
from datetime import time, timedelta
from pathlib import Path

from rules.findings import Severity
from tests.monitor.alerts.scene import Scene, caution, finding, roster

STOP = Severity.STOP


def test_the_first_alert_of_a_burst_goes_at_once_and_the_rest_in_one_message(scene: Scene) -> None:
    scene.queue(finding())
    assert scene.deliver(gather_now=False).sent == 1
    for days_ago in (1, 2, 3):
        scene.pass_time(seconds=5)
        scene.queue(caution(days_ago))
        assert scene.deliver(gather_now=False).sent == 0
    assert scene.outbox()[-1]["reason"] == "gathering"
    scene.pass_time(seconds=15)
    delivery = scene.deliver(gather_now=False)
    assert (delivery.sent, delivery.waiting) == (1, 0)
    assert scene.channel.titles[1] == "Caution – Runa: 71 min on day 1 (day 5), and 2 more"
    last = scene.outbox()[-1]
    assert (last["reason"], len(last["findings"])) == ("gathered", 3)


def test_a_burst_that_is_queued_at_one_time_is_two_messages(scene: Scene) -> None:
    scene.queue(finding(), *(caution(days_ago) for days_ago in range(1, 7)))
    delivery = scene.deliver(gather_now=False)
    assert delivery.sent == 1
    assert delivery.next_due == scene.wall + timedelta(seconds=30)
    scene.pass_time(seconds=30)
    assert scene.deliver(gather_now=False).waiting == 0
    assert [title[:4] for title in scene.channel.titles] == ["STOP", "Caut"]


def test_a_scan_does_not_wait_for_the_end_of_a_burst(scene: Scene) -> None:
    scene.queue(finding(), *(caution(days_ago) for days_ago in range(1, 7)))
    delivery = scene.deliver(gather_now=True)
    assert (delivery.sent, delivery.waiting) == (2, 0)
    assert scene.channel.titles[1].endswith("and 5 more")


def test_a_message_of_many_shows_what_fits_and_counts_the_rest(scene: Scene) -> None:
    scene.roster = replace(scene.roster, alerts=replace(scene.roster.alerts, late_after_days=100))
    scene.queue(finding(), *(caution(days_ago) for days_ago in range(1, 15)))
    scene.deliver()
    body = scene.channel.sent[1][2]
    shown = 1 + sum(line[:1].isdigit() for line in body.splitlines())
    assert 3 < shown < 14
    assert f"And {14 - shown} more: fallow findings runa" in body
    assert len(body) <= 1500


def test_held_alerts_go_in_one_message_when_the_quiet_hours_end(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(quiet=(time(13), time(16))))  # Oslo; judging begins at 14:00
    scene.queue(caution(1), caution(2))
    scene.queue(caution(3))
    delivery = scene.deliver()
    assert (delivery.sent, delivery.waiting, delivery.held) == (0, 3, 3)
    assert delivery.next_due == scene.wall + timedelta(hours=2)
    scene.pass_time(hours=2)
    assert scene.deliver(gather_now=False).sent == 1
    assert scene.channel.titles[0].endswith("and 2 more")
    assert [(row["state"], row["reason"]) for row in scene.outbox()] == [("sent", "folded")]


def test_one_held_alert_goes_as_it_is(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(quiet=(time(13), time(16))))
    scene.queue(caution(1))
    scene.deliver()
    scene.pass_time(hours=2)
    scene.deliver()
    assert scene.channel.titles[0].startswith("Caution – Runa: 71 min")
    assert scene.outbox()[0]["reason"] == "deferred until 16:00"


def test_a_stop_goes_through_the_quiet_hours_past_what_is_held(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(quiet=(time(13), time(16))))
    scene.queue(caution(1))
    scene.queue(finding())
    assert scene.deliver().sent == 1
    assert scene.channel.titles[0].startswith("STOP")


def test_an_alert_still_waiting_when_the_quiet_hours_begin_is_held(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(quiet=(time(15), time(16))))
    scene.channel.answer = False
    scene.queue(caution(1))
    scene.deliver()
    scene.channel.answer = True
    scene.pass_time(hours=1)
    assert scene.deliver().sent == 0
    assert scene.states() == ["held"]
    scene.pass_time(hours=1)
    assert scene.deliver().sent == 1


def test_quiet_hours_taken_out_of_the_roster_hold_nothing_any_more(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(quiet=(time(13), time(16))))
    scene.queue(caution(1))
    scene.roster = roster()
    assert scene.deliver().sent == 1
