"""Sending, pauses, order, and channels that change."""

import json
import threading
from datetime import time, timedelta
from pathlib import Path

from monitor.alerts.channels import SendResult
from monitor.store import outbox
from monitor.store.database import Store
from tests.monitor.alerts.scene import NOON, Scene, caution, contact, finding, roster


def test_what_waits_is_sent_once_and_marked(scene: Scene) -> None:
    scene.queue(finding())
    delivery = scene.deliver()
    assert (delivery.sent, delivery.waiting, delivery.failed, delivery.next_due) == (1, 0, 0, None)
    (row,) = scene.outbox()
    assert (row["state"], row["tries"], row["last_error"]) == ("sent", 1, None)
    assert row["sent_at"] == NOON.isoformat()
    assert scene.deliver().sent == 0
    assert len(scene.channel.sent) == 1


def test_a_channel_that_is_down_costs_nothing_but_time(scene: Scene) -> None:
    scene.channel.answer = False
    scene.queue(finding())
    delivery = scene.deliver()
    assert (delivery.sent, delivery.waiting) == (0, 1)
    assert delivery.next_due == scene.wall + timedelta(minutes=1)
    (row,) = scene.outbox()
    assert (row["state"], row["tries"], row["last_error"]) == ("waiting", 1, "answered 500 (internal server error)")


def test_pauses_grow_and_outlive_a_restart(scene: Scene) -> None:
    scene.channel.answer = False
    scene.queue(finding())
    pauses = []
    for _ in range(8):
        due = scene.deliver().next_due
        assert due is not None
        pauses.append((due - scene.wall) // timedelta(minutes=1))
        scene.wall = due - timedelta(seconds=1)
        scene.deliver()
        scene.wall = due
    assert pauses == [1, 2, 4, 8, 16, 32, 60, 60]
    assert scene.channel.tried == 8


def test_pauses_use_real_time_also_when_judging_as_of_another_moment(scene: Scene) -> None:
    scene.channel.answer = False
    scene.queue(finding())
    scene.deliver()
    scene.channel.answer = True
    scene.now += timedelta(days=3)
    assert scene.deliver().sent == 0
    scene.wall += timedelta(minutes=1)
    assert scene.deliver().sent == 1


def test_after_a_day_an_alert_is_given_up_and_no_longer_holds_up_others(scene: Scene) -> None:
    scene.channel.answer = False
    scene.queue(finding())
    scene.deliver()
    scene.wall += timedelta(hours=23)
    assert scene.deliver().failed == 0
    scene.queue(caution(1))
    scene.wall += timedelta(hours=1)
    scene.channel.answer = lambda _, title: "71 min" in title
    delivery = scene.deliver()
    assert (delivery.sent, delivery.failed) == (1, 1)
    assert [(row["state"], row["reason"]) for row in scene.outbox()] == [
        ("failed", "gave up after a day"),
        ("sent", "first"),
    ]


def test_what_was_given_up_goes_again_on_request_and_has_another_day(scene: Scene) -> None:
    scene.channel.answer = False
    scene.queue(finding())
    scene.deliver()
    scene.pass_time(hours=25)
    assert scene.deliver().failed == 1
    with scene.store.writing() as con:
        assert outbox.retry(con, scene.wall) == 1
    assert scene.deliver().failed == 0
    scene.pass_time(minutes=30)
    scene.channel.answer = True
    assert scene.deliver().sent == 1


def test_a_retry_on_request_ends_a_pause(scene: Scene) -> None:
    scene.channel.answer = False
    scene.queue(finding())
    scene.deliver()
    scene.channel.answer = True
    with scene.store.writing() as con:
        assert outbox.retry(con, scene.wall) == 1
        assert outbox.retry(con, scene.wall) == 0
    assert scene.deliver().sent == 1


def test_the_order_of_a_channel_is_kept_through_failure(scene: Scene) -> None:
    scene.channel.answer = False
    for days_ago in (3, 2, 1):
        scene.queue(caution(days_ago))
        scene.deliver(gather_now=False)
        scene.pass_time(seconds=20)
    scene.channel.answer = True
    scene.pass_time(hours=1)
    scene.deliver(gather_now=False)
    scene.pass_time(minutes=1)
    scene.deliver(gather_now=False)
    first, rest = scene.channel.titles
    assert "on day 3" in first
    assert "2 alerts" in rest


def test_a_channel_that_is_down_holds_up_no_other(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(contact("coach", "json://down/", "json://up/")))
    scene.channel.answer = lambda url, _: "up" in url
    scene.queue(finding())
    scene.queue(caution(1))
    assert scene.deliver().sent == 2
    assert [(row["channel"], row["state"]) for row in scene.outbox()] == [
        (1, "waiting"), (2, "sent"), (1, "waiting"), (2, "sent"),
    ]  # fmt: skip


def test_a_row_goes_to_the_channel_that_it_was_queued_for_when_the_roster_is_put_in_another_order(
    tmp_path: Path,
) -> None:
    scene = Scene(tmp_path, roster(contact("coach", "json://one/", "json://two/")))
    scene.queue(finding())
    scene.roster = roster(contact("coach", "json://two/", "json://one/"))
    scene.deliver()
    assert [url for url, _, _ in scene.channel.sent] == ["json://one/", "json://two/"]


def test_a_channel_with_a_new_secret_gets_what_waits(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(contact("coach", "json://one/old")))
    scene.queue(finding())
    scene.roster = roster(contact("coach", "json://one/new"))
    scene.deliver()
    assert scene.channel.sent[0][0] == "json://one/new"


def test_a_channel_taken_out_of_the_roster_fails_at_once(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(contact("coach", "json://one/", "json://two/")))
    scene.queue(finding())
    scene.roster = roster(contact("coach", "json://one/"))
    delivery = scene.deliver()
    assert (delivery.sent, delivery.failed) == (1, 1)
    assert scene.outbox()[1]["reason"] == "no such channel in the roster"


def test_the_journal_says_what_was_sent_without_words_names_or_urls(scene: Scene) -> None:
    scene.queue(finding())
    scene.deliver()
    text = scene.journal.path.read_text()
    (entry,) = [json.loads(line) for line in text.splitlines()]
    assert (entry["kind"], entry["contact"], entry["channel"], entry["athlete"]) == ("sent", "coach", 1, "runa")
    assert entry["told"][0] == {
        "finding": finding().id, "rule": "no_running", "subject_kind": "session", "severity": "stop", "told": 3,
        "start": finding().subject_start.isoformat(), "end": finding().subject_end.isoformat(),
    }  # fmt: skip
    assert "json:" not in text
    assert "Vik" not in text
    assert oct(scene.journal.path.stat().st_mode & 0o777) == "0o600"


def test_while_a_channel_is_waited_for_the_store_is_free(tmp_path: Path) -> None:
    scene = Scene(tmp_path, store=Store(tmp_path / "fallow.duckdb"))
    wrote = []

    def write() -> None:
        with scene.store.writing() as con:
            wrote.append(con.execute("SELECT count(*) FROM outbox WHERE claimed_by IS NOT NULL").fetchone())

    def slow(url: str, title: str, body: str) -> SendResult:
        other = threading.Thread(target=write, daemon=True)
        other.start()
        other.join(20)
        return SendResult(True)

    scene.channel = slow  # type: ignore[assignment]
    scene.queue(finding())
    assert scene.deliver().sent == 1
    assert wrote == [(1,)]


def test_a_held_alert_that_was_tried_before_is_not_folded_with_others(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(quiet=(time(15), time(16))))
    scene.channel.answer = False
    scene.queue(caution(1))
    scene.deliver()  # it may have arrived all the same
    scene.channel.answer = True
    scene.pass_time(hours=1)
    scene.queue(caution(2))
    assert scene.deliver().held == 2
    scene.pass_time(hours=1)
    scene.deliver()
    assert [title.partition(" – ")[2][:18] for title in scene.channel.titles] == ["Runa: 71 min on da"] * 2
