"""What outlives a process that is killed, and a store that is rebuilt."""

from datetime import timedelta
from pathlib import Path

import pytest

from monitor.alerts.channels import TIMEOUT_SECONDS
from monitor.alerts.leases import LEASE_MARGIN
from monitor.alerts.responses import SendResult
from monitor.errors import WorkFailed
from monitor.store import outbox
from monitor.store.journal import Journal
from rules.findings import Severity
from tests.monitor.alerts.dying import Killed, die_and_restart, kill_at
from tests.monitor.alerts.scene import NOON, MemoryStore, Scene, caution, finding

STOP = Severity.STOP


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


def test_a_sender_that_comes_too_late_for_its_claim_leaves_the_row_to_the_next(scene: Scene) -> None:
    """Else it might still be sending when the claim is over, and another process sends the same row."""
    scene.queue(finding())
    moments = iter([LEASE_MARGIN + timedelta(seconds=1)])

    def suspended(step: str) -> None:
        if step == "after claim":
            scene.wall += next(moments, timedelta(0))
            assert scene.channel.sent == []

    assert scene.deliver(step=suspended).sent == 1
    assert len(scene.channel.sent) == 1
    (row,) = scene.outbox()
    assert (row["state"], row["tries"]) == ("sent", 2)


def test_a_row_that_another_has_claimed_since_is_not_given_back(scene: Scene) -> None:
    scene.queue(finding())

    def overtaken(step: str) -> None:
        if step == "after claim":
            scene.wall += timedelta(hours=1)
            with scene.store.writing() as con:
                (row,) = outbox.unsent(con)
                outbox.claim(con, row.id, "elsewhere:7", scene.wall, scene.wall + timedelta(minutes=1))

    scene.deliver(step=overtaken)
    with scene.store.reading() as con:
        (row,) = outbox.unsent(con)
    assert (row.claimed_by, scene.channel.sent) == ("elsewhere:7", [])


def test_a_claim_on_another_machine_is_trusted_until_it_is_over(scene: Scene) -> None:
    scene.queue(finding())
    with pytest.raises(Killed):
        scene.deliver(step=kill_at("after claim"))
    with scene.store.writing() as con:
        con.execute("UPDATE outbox SET claimed_by = 'elsewhere:999999999'")
    assert scene.deliver().sent == 0
    scene.wall += LEASE_MARGIN + timedelta(seconds=TIMEOUT_SECONDS)
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
            super().append(entry)

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
    def broken(url: str, title: str, body: str, **_: object) -> SendResult:
        raise ValueError(url)

    scene.channel = broken
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
