from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from pathlib import Path

import pytest

from monitor import words
from monitor.alerts import notices, outbox_editor
from monitor.alerts.outbox_editor import OutboxEditor
from monitor.news import (
    Daily,
    DigestRow,
    FilesUnreadable,
    FolderNews,
    MorningDigest,
    News,
    PastRead,
    PlanDone,
    StageBegins,
    StageHeld,
    Trouble,
)
from monitor.reasons import stored
from monitor.store import decisions, outbox
from rules.facts import Athlete, CheckIn, Race
from rules.findings import Severity
from rules.limits import default_limits
from rules.plan import Plan, build_plan
from tests.monitor.alerts.scene import NOON, OSLO, MemoryStore, Scene, contact, finding, roster

RACE = Race("marathon", datetime(2026, 10, 4, 13, 47, tzinfo=OSLO))
SORE = CheckIn(date(2026, 10, 11), 1.0, stairs_unaided=False)


@dataclass(frozen=True)
class Judged:
    current: Plan | None


def judged(on: date, *checkins: CheckIn) -> Judged:
    return Judged(build_plan(RACE, Athlete("runa", "Europe/Oslo"), default_limits(), as_of=on, checkins=checkins))


def look(scene: Scene, *checkins: CheckIn) -> int:
    with scene.store.writing() as con:
        return notices.queue_stage(
            con, scene.roster, "runa", judged(scene.now.astimezone(OSLO).date(), *checkins), scene.now
        )


def notice(scene: Scene, key: str = "root:runa:gone") -> bool:
    with scene.store.writing() as con:
        return notices.queue_notice(con, scene.roster, key, FolderNews("no such folder"), scene.now, athlete_id="runa")


def daily(scene: Scene) -> bool:
    with scene.store.writing() as con:
        day = Daily(5, "days_off", "walking only", ("Walking only.", "Rest."))
        return notices.queue_daily(con, scene.roster, "runa", "coach", day, scene.now)


@pytest.mark.parametrize(("athlete", "contact"), [("runa", "nobody"), ("nobody", "coach")])
def test_the_day_of_whom_the_roster_does_not_know_is_not_sent(scene: Scene, athlete: str, contact: str) -> None:
    with scene.store.writing() as con:
        day = Daily(5, "days_off", "walking only", ("Walking only.", "Rest."))
        assert not notices.queue_daily(con, scene.roster, athlete, contact, day, scene.now)
    assert scene.outbox() == []


def unreadable(scene: Scene, *paths: str) -> bool:
    with scene.store.writing() as con:
        return notices.queue_unreadable(con, scene.roster, "runa", paths, scene.now)


def test_the_first_look_at_a_plan_only_takes_note(scene: Scene) -> None:
    scene.pass_time(days=3)  # day 8, on which cross-training begins
    assert look(scene) == 0
    assert scene.outbox() == []


def test_a_stage_that_begins_is_told_once(scene: Scene) -> None:
    look(scene)
    scene.pass_time(days=3)  # day 8
    assert look(scene) == 1
    assert look(scene) == 0
    (row,) = scene.outbox()
    assert row["title"] == "Runa: cross-training begins today (day 8 of 21)"
    assert row["kind"] == "stage"


def test_the_text_on_a_stage_names_its_limits(scene: Scene) -> None:
    look(scene)
    scene.pass_time(days=3)
    look(scene)
    scene.deliver()
    assert scene.channel.sent[0][2].splitlines() == [
        "The stage has up to 60 min a day. Running: none.",
        "Strength: under the ceiling; speed work: none.",
        "It lasts to Sun 18 Oct; `fallow today` says what each day of it has.",
    ]


def test_a_stage_that_began_long_ago_is_no_news(scene: Scene) -> None:
    look(scene)
    scene.pass_time(days=7)
    assert look(scene) == 0


def test_a_stage_that_is_held_is_told_once_with_what_opens_it(scene: Scene) -> None:
    scene.now = datetime(2026, 10, 11, 9, tzinfo=OSLO)
    look(scene)
    scene.pass_time(days=1)
    assert look(scene, SORE) == 1
    scene.pass_time(days=1)
    assert look(scene, SORE) == 0
    scene.deliver()
    ((_, title, body),) = scene.channel.sent
    assert title == "Runa: cross-training waits"
    assert "Stairs not managed unaided on Sun 11 Oct." in body
    assert "What opens it: a new check-in (stairs, squat, pain)." in body


def test_who_receives_only_stops_hears_nothing_of_stages(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(contact("coach", receives=Severity.STOP)))
    look(scene)
    scene.pass_time(days=3)
    look(scene)
    assert scene.outbox() == []


def test_no_plan_is_no_news(scene: Scene) -> None:
    with scene.store.writing() as con:
        assert notices.queue_stage(con, scene.roster, "runa", Judged(None), NOON) == 0


def test_a_trouble_is_told_to_the_owner_once(scene: Scene) -> None:
    scene.roster = roster(contact("runa", role="athlete"), contact("coach"))
    assert notice(scene)
    assert not notice(scene)
    assert [(row["contact"], row["title"]) for row in scene.outbox()] == [
        ("coach", "The folder of Runa Vik is not there")
    ]


def test_a_trouble_waits_as_its_code_and_is_worded_when_it_is_sent(scene: Scene) -> None:
    bad = words.doctor.ROSTER_NOT_VALID.format(elsewhere=words.roster.KEY_MISSING.format(place="athlete 2: ", key="id"))
    with scene.store.writing() as con:
        for name, trouble in {"now": bad, "before": "The store was odd; an older program says so."}.items():
            assert notices.queue_notice(con, scene.roster, f"trouble:{name}", Trouble(stored(trouble)), NOON)
    with scene.store.reading() as con:
        kept = " ".join(row.items for row in outbox.unsent(con))
    assert '"says":"roster_not_valid {' in kept
    assert "was edited" not in kept
    scene.deliver()
    said = " ".join(" ".join(body for *_, body in scene.channel.sent).split())
    assert "The roster was edited and is not valid; the last good one stays in use. athlete 2: `id` is missing" in said
    assert "The store was odd; an older program says so." in said


def test_a_roster_without_contacts_has_nobody_to_tell(scene: Scene) -> None:
    scene.roster = replace(scene.roster, contacts=())
    assert not notice(scene)


def test_the_days_plan_goes_once_a_day_also_in_quiet_hours(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(quiet=(time(13), time(16))))
    assert daily(scene)
    assert not daily(scene)
    assert scene.deliver().sent == 1
    assert scene.channel.sent[0][1:] == ("Runa, day 5: walking only", "Rest.\nDays off.")
    scene.pass_time(days=1)
    assert daily(scene)


def test_a_days_plan_that_could_not_go_out_is_not_sent_on_another_day(scene: Scene) -> None:
    scene.channel.answer = False
    daily(scene)
    scene.deliver()
    scene.channel.answer = True
    scene.pass_time(hours=13)
    delivery = scene.deliver()
    assert (delivery.sent, delivery.failed) == (0, 1)
    assert scene.outbox()[0]["reason"] == "the day it was about is over"


def test_notices_and_days_are_not_doubled_by_a_rebuild(scene: Scene, tmp_path: Path) -> None:
    notice(scene)
    daily(scene)
    scene.deliver()
    assert len(scene.channel.sent) == 2
    scene.store = MemoryStore(tmp_path / "another.duckdb")
    with scene.store.writing() as con:
        scene.journal.replay_into(con)
    assert not notice(scene)
    assert not daily(scene)


def test_a_notice_that_was_not_sent_is_told_by_the_rebuilt_store(scene: Scene, tmp_path: Path) -> None:
    scene.channel.answer = False
    notice(scene)
    scene.deliver()
    scene.store = MemoryStore(tmp_path / "another.duckdb")
    with scene.store.writing() as con:
        scene.journal.replay_into(con)
    assert notice(scene)


def begun_anew(scene: Scene, path: Path) -> None:
    scene.store = MemoryStore(path)
    with scene.store.writing() as con:
        scene.journal.replay_into(con)


def test_a_stage_told_to_one_contact_and_not_yet_to_another_is_told_to_that_one_after_a_rebuild(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(contact("coach", "json://up/x"), contact("runa", "json://down/x", role="athlete")))
    scene.channel.answer = lambda url, title: "down" not in url
    look(scene)
    scene.pass_time(days=3)
    assert look(scene) == 1
    scene.deliver()
    begun_anew(scene, tmp_path / "another.duckdb")
    scene.channel.answer = True
    look(scene)
    scene.pass_time(minutes=5)
    scene.deliver()
    assert [url for url, _, _ in scene.channel.sent] == ["json://up/x", "json://down/x"]
    assert look(scene) == 0


def test_a_stage_that_nobody_was_told_of_is_told_after_a_rebuild_and_none_of_before(
    scene: Scene, tmp_path: Path
) -> None:
    look(scene)
    scene.deliver()
    scene.channel.answer = False
    scene.pass_time(days=3)
    assert look(scene) == 1
    scene.deliver()
    begun_anew(scene, tmp_path / "another.duckdb")
    assert look(scene) == 1
    (row,) = scene.outbox()
    assert row["title"] == "Runa: cross-training begins today (day 8 of 21)"


def test_files_that_cannot_be_read_are_one_message(scene: Scene) -> None:
    unreadable(scene, "a.fit")
    unreadable(scene, "b.fit", "c\n.fit")
    (row,) = scene.outbox()
    assert row["title"] == "3 files could not be read"
    scene.deliver()
    assert scene.channel.sent[0][2].splitlines() == [
        "Export anew what matters; `fallow intake` says why each was not read.",
        "- runa/a.fit",
        "- runa/b.fit",
        "- runa/c .fit",
    ]


def test_of_many_files_ten_are_named(scene: Scene) -> None:
    unreadable(scene, *(f"{number}.fit" for number in range(300)))
    unreadable(scene, "one more.fit")
    scene.deliver()
    _, title, body = scene.channel.sent[0]
    assert title == "301 files could not be read"
    assert len(body.splitlines()) == 12
    assert "and 291 more" in body


def test_files_after_the_days_message_wait_for_tomorrows(scene: Scene) -> None:
    unreadable(scene, "a.fit")
    scene.deliver()
    unreadable(scene, "b.fit")
    unreadable(scene, "c.fit")
    delivery = scene.deliver()
    assert (delivery.sent, delivery.held) == (0, 1)
    assert delivery.next_due == scene.wall + timedelta(hours=10)  # midnight in Oslo
    assert scene.outbox()[-1]["reason"] == "one a day"
    scene.pass_time(hours=10)
    assert scene.deliver().sent == 1
    assert scene.channel.titles == ["1 file could not be read", "2 files could not be read"]
    unreadable(scene, "d.fit")
    assert scene.deliver().held == 1


def test_a_finding_folded_with_a_notice_and_withdrawn_before_it_is_sent_is_not_told(tmp_path: Path) -> None:
    two = contact("coach", "json://127.0.0.1:1/a", "json://127.0.0.1:1/b")
    scene = Scene(tmp_path, roster(two, quiet=(time(13), time(16))))
    again = finding("run_spacing", Severity.CAUTION, summary="A run after a run the day before")
    with scene.store.writing() as con:
        notices.queue_notice(con, scene.roster, "root", FolderNews("no such folder"), scene.now, athlete_id="runa")
    scene.queue(again)
    scene.pass_time(hours=2)
    said: list[str] = []

    def withdraw_while_the_first_is_sent(step: str) -> None:
        if step == "after claim" and not said:
            said.append(step)
            scene.queue(withdrawn=(again,))

    scene.deliver(step=withdraw_while_the_first_is_sent)
    scene.pass_time(minutes=1)
    scene.deliver()
    told = {url[-1]: [body for other, _, body in scene.channel.sent if other == url] for url in two.urls}
    assert len(told["a"]) == 2
    assert again.summary in told["a"][0]
    assert "taken_back" in scene.reasons(again.id)
    assert len(told["b"]) == 1
    assert again.summary not in told["b"][0]


def folded(scene: Scene) -> None:
    """A notice of a file and an alert, made one message by the end of quiet hours, on a channel that is down."""
    scene.channel.answer = False
    unreadable(scene, "a.fit")
    scene.queue(finding("run_spacing", Severity.CAUTION, summary="A run after a run the day before"))
    scene.pass_time(hours=2)
    scene.deliver()


def test_one_more_file_finds_its_way_into_a_notice_that_was_folded_with_another(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(quiet=(time(13), time(16))))
    scene.channel.answer = False
    scene.pass_time(hours=1, minutes=59, seconds=40)
    scene.queue(finding())  # a stop, which is tried at once; what follows waits behind it
    scene.deliver()
    with scene.store.writing() as con:
        notices.queue_notice(con, scene.roster, "root", FolderNews("no such folder"), scene.now, athlete_id="runa")
    unreadable(scene, "a.fit")
    scene.pass_time(seconds=30)
    scene.deliver()
    assert [(row["state"], row["reason"]) for row in scene.outbox()][1:] == [("waiting", "folded")]
    unreadable(scene, "b.fit")
    with scene.store.reading() as con:
        told = [one.news for row in outbox.unsent(con) for one in outbox_editor.from_text(row.items)]
    assert FilesUnreadable(("runa/a.fit", "runa/b.fit"), 2) in told


def test_files_after_a_folded_message_was_tried_wait_for_tomorrows(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(quiet=(time(13), time(16))))
    folded(scene)
    assert unreadable(scene, "b.fit")
    assert [row["title"] for row in scene.outbox()][1:] == ["1 file could not be read"]


def test_a_message_that_an_older_version_queued_goes_out_in_its_words(scene: Scene) -> None:
    old = outbox_editor.Item(
        "text", Severity.CAUTION, "unreadable:2026-10-09", title="1 file could not be read", body="- a"
    )
    with scene.store.writing() as con:
        decisions.first_time(con, old.about, scene.now)
        editor = OutboxEditor(con, scene.roster, contact(), "runa", scene.now)
        editor.queue_item(1, old, "notice", kind="notice", once=old.about)
    unreadable(scene, "b.fit")
    scene.deliver()
    ((_, title, body),) = scene.channel.sent
    assert title == "Caution – 1 file could not be read, and 1 more"
    assert body.startswith("- a\n2. 1 file could not be read. Export anew")
    assert "- runa/b.fit" in body


def test_a_notice_that_was_folded_into_another_message_is_not_told_again_after_a_rebuild(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(quiet=(time(13), time(16))))
    scene.queue(finding("run_spacing", Severity.CAUTION, summary="A run after a run the day before"))
    assert notice(scene)
    scene.pass_time(hours=2)
    assert scene.deliver().sent == 1
    begun_anew(scene, tmp_path / "another.duckdb")
    assert not notice(scene)


def test_news_of_every_kind_comes_back_from_the_store_as_it_was() -> None:
    day = date(2026, 10, 12)
    every: list[News] = [
        FilesUnreadable(("a",), 1),
        PastRead(3, 2, 7.0),
        FolderNews("gone"),
        Trouble("no space"),
        StageBegins("days_off", day, day, day, 1, 21, "none", 45, None, 121, "none", "none"),
        StageHeld("test_runs", ("pain 5 of 10",), ("a new check-in",)),
        PlanDone(("21 days.",)),
        Daily(5, "days_off", "walking only", ("Walk.",)),
        MorningDigest((DigestRow("Runa", 5, "days_off", "walking only"),)),
    ]
    told = tuple(outbox_editor.news_item(f"key {number}", news, Severity.NOTE) for number, news in enumerate(every))
    assert outbox_editor.from_text(outbox_editor.to_text(told)) == told
