"""Findings that no longer hold, ease, or come again."""

from dataclasses import replace
from pathlib import Path

from rules.findings import Severity
from tests.monitor.alerts.scene import NOON, MemoryStore, Scene, finding

NOTE, CAUTION, STOP = Severity
RUN = finding()
HEART = finding("intensity_ceiling", CAUTION, summary="6 min 20 s above 121 bpm", observed=380, limit=120, unit="s")


def test_a_withdrawn_finding_that_was_sent_is_taken_back_once(scene: Scene) -> None:
    scene.queue(RUN)
    scene.deliver()
    scene.queue(withdrawn=(RUN,))
    scene.queue(withdrawn=(RUN,))
    assert [row["title"].split(":")[0] for row in scene.outbox()] == ["STOP – Runa", "Taken back"]


def test_what_no_longer_holds_is_told_before_what_was_found_with_it(scene: Scene) -> None:
    scene.queue(RUN)
    scene.deliver()
    scene.queue(finding("pain", CAUTION, start=NOON, kind="day", summary="Pain 5 of 10"), withdrawn=(RUN,))
    assert [row["title"].split(" ")[0] for row in scene.outbox()] == ["STOP", "Taken", "Caution"]


def test_a_withdrawn_finding_that_nobody_read_vanishes(scene: Scene) -> None:
    scene.queue(RUN, HEART)
    scene.queue(withdrawn=(RUN,))
    (row,) = scene.outbox()
    assert row["findings"] == [HEART.id]
    assert row["severity"] == "caution"
    scene.queue(withdrawn=(HEART,))
    assert scene.outbox() == []


def test_a_withdrawn_finding_that_was_never_told_is_not_taken_back(scene: Scene) -> None:
    note = replace(RUN, severity=NOTE)
    scene.queue(note)
    scene.queue(withdrawn=(note,))
    assert scene.outbox() == []


def test_a_finding_taken_back_that_comes_again_is_told_again(scene: Scene) -> None:
    scene.queue(RUN)
    scene.deliver()
    scene.pass_time(minutes=1)
    scene.queue(withdrawn=(RUN,))
    scene.deliver()
    scene.pass_time(minutes=1)
    scene.queue(RUN)
    scene.deliver()
    assert [title.split(" ")[0] for title in scene.channel.titles] == ["STOP", "Taken", "Update:"]


def test_an_update_not_yet_read_is_taken_off_and_the_alert_before_it_taken_back(scene: Scene) -> None:
    scene.queue(HEART)
    scene.deliver()
    stop = replace(HEART, severity=STOP)
    scene.queue(worse=((HEART, stop),))
    scene.queue(withdrawn=(stop,))
    assert [row["title"].split(" ")[0] for row in scene.outbox()] == ["Caution", "Taken"]


def test_a_finding_that_sinks_below_what_a_contact_receives_is_taken_back(scene: Scene) -> None:
    scene.queue(RUN)
    scene.deliver()
    scene.queue(changed=((RUN, replace(RUN, severity=NOTE)),))
    assert scene.outbox()[-1]["title"].startswith("Taken back: ")
    assert scene.reasons(RUN.id) == ["first", "now_below_receives"]


def test_a_channel_that_was_given_up_is_not_told_of_a_withdrawal(scene: Scene) -> None:
    scene.channel.answer = False
    scene.queue(RUN)
    scene.try_until_given_up()
    assert scene.states() == ["failed"]
    scene.queue(withdrawn=(RUN,))
    assert scene.outbox() == []


def test_a_finding_taken_back_and_found_again_before_anyone_read_that_is_no_news(scene: Scene) -> None:
    scene.queue(RUN)
    scene.deliver()
    scene.queue(withdrawn=(RUN,))
    scene.queue(RUN)
    assert scene.states() == ["sent"]
    scene.queue(withdrawn=(RUN,))
    assert scene.outbox()[-1]["title"].startswith("Taken back")


def test_one_found_again_and_worse_is_an_update_and_nothing_is_taken_back(scene: Scene) -> None:
    scene.queue(HEART)
    scene.deliver()
    scene.queue(withdrawn=(HEART,))
    scene.queue(replace(HEART, severity=STOP))
    assert [row["title"].split(" ")[0] for row in scene.outbox()] == ["Caution", "Update:"]


def test_of_an_alert_that_was_given_up_the_rest_stays_when_a_finding_is_withdrawn(scene: Scene) -> None:
    scene.channel.answer = False
    scene.queue(RUN, HEART)
    scene.try_until_given_up()
    scene.queue(withdrawn=(RUN,))
    (row,) = scene.outbox()
    assert (row["state"], row["reason"], row["findings"]) == ("failed", "gave up after a day", [HEART.id])


def test_after_a_rebuild_an_unread_update_vanishes_and_the_alert_sent_before_is_taken_back(
    scene: Scene, tmp_path: Path
) -> None:
    scene.queue(HEART)
    scene.deliver()
    scene.store = MemoryStore(tmp_path / "another.duckdb")
    with scene.store.writing() as con:
        scene.journal.replay_into(con)
    stop = replace(HEART, severity=STOP)
    scene.queue(stop)
    assert [row["title"].split(":")[0] for row in scene.outbox()] == ["intensity_ceiling", "Update"], "one sent before"
    scene.queue(withdrawn=(stop,))
    assert [row["title"].split(":")[0] for row in scene.outbox()] == ["intensity_ceiling", "Taken back"]


def test_a_finding_that_eased_before_it_was_read_and_worsens_after_is_an_update(scene: Scene) -> None:
    eased = replace(HEART, severity=CAUTION)
    worst = replace(HEART, severity=STOP)
    scene.queue(worst)
    scene.queue(changed=((worst, eased),))
    scene.deliver()
    scene.queue(worse=((eased, worst),))
    assert [(row["severity"], row["reason"]) for row in scene.outbox()] == [("caution", "first"), ("stop", "worse")]


def test_what_was_given_up_is_not_kept_beside_a_worse_telling_of_the_same(scene: Scene) -> None:
    scene.channel.answer = False
    scene.queue(HEART)
    scene.try_until_given_up()
    scene.queue(worse=((HEART, replace(HEART, severity=STOP)),))
    assert [(row["state"], row["severity"]) for row in scene.outbox()] == [("waiting", "stop")]


SHORT = finding(
    "duration_cap", CAUTION, observed=52.0, limit=45.0, evidence={"of": "day", "day": [1]}, summary="52 min"
)
WHOLE = replace(SHORT, observed=66.0, summary="66 min")


def test_a_fuller_file_that_changes_numbers_already_told_is_told_as_a_correction(scene: Scene) -> None:
    scene.queue(SHORT)
    scene.deliver()
    scene.queue(changed=((SHORT, WHOLE),))
    scene.queue(changed=((WHOLE, replace(WHOLE, observed=67.0)),))
    scene.pass_time(minutes=1)
    scene.deliver()
    title, body = scene.channel.sent[-1][1:]
    assert len(scene.channel.sent) == 2
    assert title == "Correction: Caution – Runa: 67 min, 22 over the day's 45 (day 5)"
    assert "You were told: 52 min, 7 over the day's 45." in body


def test_numbers_that_hardly_change_or_that_nobody_read_are_no_correction(scene: Scene) -> None:
    scene.queue(SHORT)
    scene.queue(changed=((SHORT, WHOLE),))
    assert [row["title"] for row in scene.outbox()] == ["Caution – Runa: 66 min, 21 over the day's 45 (day 5)"]
    scene.deliver()
    scene.queue(changed=((WHOLE, replace(WHOLE, observed=69.0)),))
    assert len(scene.outbox()) == 1


def test_a_correction_of_what_is_long_past_is_only_on_record(scene: Scene) -> None:
    scene.queue(SHORT)
    scene.deliver()
    scene.pass_time(days=9)
    scene.queue(changed=((SHORT, WHOLE),))
    assert len(scene.outbox()) == 1
