import json
import socket
import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import time, timedelta
from pathlib import Path

import pytest

from monitor.alerts.channels import SendResult
from monitor.errors import WorkFailed
from monitor.store import outbox
from monitor.store.database import Store
from monitor.store.journal import Journal
from rules.findings import Finding, Severity
from tests.monitor.alerts.scene import NOON, MemoryStore, Scene, contact, finding, roster

CAUTION, STOP = Severity.CAUTION, Severity.STOP


def caution(days_ago: float, rule: str = "duration_cap") -> Finding:
    start = NOON - timedelta(days=days_ago, hours=2)
    return finding(rule, CAUTION, start=start, summary=f"71 min on day {days_ago}")


class Killed(BaseException):
    """The process ends here."""


def kill_at(step: str, time_round: int = 1) -> Callable[[str], None]:
    seen = [0]

    def at(name: str) -> None:
        if name == step:
            seen[0] += 1
            if seen[0] == time_round:
                raise Killed

    return at


def die_and_restart(scene: Scene) -> None:
    """The claims of this process become those of one that is gone."""
    with scene.store.writing() as con:
        con.execute(
            "UPDATE outbox SET claimed_by = ? WHERE claimed_by IS NOT NULL", [f"{socket.gethostname()}:999999999"]
        )


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
    assert scene.channel.titles[1].startswith("Caution – Runa: 3 alerts, worst: 71 min on day 1")
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
    assert "6 alerts" in scene.channel.titles[1]


def test_a_message_of_many_shows_ten_and_counts_the_rest(scene: Scene) -> None:
    scene.roster = replace(scene.roster, alerts=replace(scene.roster.alerts, late_after_days=100))
    scene.queue(finding(), *(caution(days_ago) for days_ago in range(1, 15)))
    scene.deliver()
    body = scene.channel.sent[1][2]
    assert "\n10. Caution" in body
    assert "\n11. " not in body
    assert "And 4 more: fallow findings runa" in body


def test_held_alerts_go_in_one_message_when_the_quiet_hours_end(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(quiet=(time(13), time(16))))  # Oslo; judging begins at 14:00
    scene.queue(caution(1), caution(2))
    scene.queue(caution(3))
    delivery = scene.deliver()
    assert (delivery.sent, delivery.waiting, delivery.held) == (0, 3, 3)
    assert delivery.next_due == scene.wall + timedelta(hours=2)
    scene.pass_time(hours=2)
    assert scene.deliver(gather_now=False).sent == 1
    assert scene.channel.titles[0].startswith("Caution – Runa: 3 alerts from the quiet hours, worst:")
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


@pytest.mark.parametrize(("step", "times_sent"), [("after claim", 1), ("after send", 2), ("before mark", 1)])
def test_killed_at_any_step_an_alert_arrives_and_at_most_twice(scene: Scene, step: str, times_sent: int) -> None:
    scene.queue(finding())
    with pytest.raises(Killed):
        scene.deliver(step=kill_at(step))
    die_and_restart(scene)
    scene.deliver()
    assert len(scene.channel.sent) == times_sent
    assert scene.states() == ["sent"]
    assert scene.deliver().sent == 0


def test_a_row_that_a_living_process_sends_is_left_alone_until_its_claim_is_over(scene: Scene) -> None:
    scene.queue(finding())
    with pytest.raises(Killed):
        scene.deliver(step=kill_at("after claim"))
    delivery = scene.deliver()
    assert (delivery.sent, delivery.waiting) == (0, 1)
    assert delivery.next_due is not None
    scene.wall = delivery.next_due
    assert scene.deliver().sent == 1


def test_a_claim_on_another_machine_is_trusted_until_it_is_over(scene: Scene) -> None:
    scene.queue(finding())
    with pytest.raises(Killed):
        scene.deliver(step=kill_at("after claim"))
    with scene.store.writing() as con:
        con.execute("UPDATE outbox SET claimed_by = 'elsewhere:999999999'")
    assert scene.deliver().sent == 0
    scene.wall += timedelta(seconds=30)
    assert scene.deliver().sent == 1


def test_a_claim_set_by_a_clock_that_ran_ahead_is_void(scene: Scene) -> None:
    scene.queue(finding())
    with pytest.raises(Killed):
        scene.deliver(step=kill_at("after claim"))
    scene.wall -= timedelta(days=2)
    assert scene.deliver().sent == 1


def test_an_alert_being_sent_is_not_rewritten(scene: Scene) -> None:
    scene.queue(caution(1))
    with pytest.raises(Killed):
        scene.deliver(step=kill_at("after send"))
    scene.queue(withdrawn=(caution(1),))
    assert [row["title"].split(" ")[0] for row in scene.outbox()] == ["Caution", "Taken"]


def test_a_journal_that_cannot_be_written_does_not_stop_alerts_and_is_made_good(scene: Scene) -> None:
    class FullDisk(Journal):
        full = True

        def append(self, entry: object) -> None:
            if self.full:
                raise WorkFailed("fallow.journal: cannot be written")
            super().append(entry)  # type: ignore[arg-type]

    journal = FullDisk(scene.journal.path)
    scene.journal = journal
    scene.queue(finding())
    assert scene.deliver().sent == 1
    assert scene.deliver().sent == 0
    assert list(journal.entries()) == []
    journal.full = False
    scene.deliver()
    assert [entry["kind"] for entry in journal.entries()] == ["sent"]
    scene.deliver()
    assert len(list(journal.entries())) == 1


def test_a_channel_that_breaks_is_a_channel_that_failed(scene: Scene) -> None:
    def broken(url: str, title: str, body: str) -> SendResult:
        raise ValueError(url)

    scene.channel = broken  # type: ignore[assignment]
    scene.queue(finding())
    assert scene.deliver().waiting == 1
    assert scene.outbox()[0]["last_error"] == "broke while sending (ValueError)"


def test_a_rebuilt_store_sends_nothing_again(scene: Scene, tmp_path: Path) -> None:
    old = finding(start=NOON - timedelta(days=9))
    everything = (finding(), caution(1), old)
    scene.queue(*everything, first_import=True)
    scene.deliver()
    sent = len(scene.channel.sent)
    assert sent == 3
    scene.store = MemoryStore(tmp_path / "another.duckdb")
    with scene.store.writing() as con:
        assert scene.journal.replay_into(con) > 0
    scene.queue(*everything, first_import=True)
    scene.pass_time(minutes=5)
    assert scene.deliver().sent == 0
    assert len(scene.channel.sent) == sent
    scene.queue(withdrawn=(finding(),))
    scene.deliver()
    assert scene.channel.titles[-1].startswith("Taken back")


def test_a_rebuilt_store_sends_what_was_still_waiting(scene: Scene, tmp_path: Path) -> None:
    scene.queue(caution(1))
    scene.deliver()
    scene.channel.answer = False
    scene.queue(finding())
    scene.deliver()
    scene.store = MemoryStore(tmp_path / "another.duckdb")
    with scene.store.writing() as con:
        scene.journal.replay_into(con)
    scene.channel.answer = True
    scene.queue(finding(), caution(1), first_import=True)
    scene.deliver()
    assert [title.split(" ")[0] for title in scene.channel.titles] == ["Caution", "STOP"]


def test_a_rebuild_after_an_import_that_kept_nothing_back_says_nothing_either(scene: Scene, tmp_path: Path) -> None:
    scene.queue(finding(), first_import=True)
    scene.deliver()
    scene.store = MemoryStore(tmp_path / "another.duckdb")
    with scene.store.writing() as con:
        scene.journal.replay_into(con)
    scene.pass_time(days=30)
    scene.queue(finding(), caution(10), first_import=True)
    assert scene.deliver().sent == 0


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
