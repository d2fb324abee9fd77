from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from pathlib import Path

import pytest

from monitor.alerts.routing import _tells_otherwise, weigh
from rules.findings import Severity
from tests.monitor.alerts.scene import NOON, Scene, contact, finding, roster

NOTE, CAUTION, STOP = Severity
RUN = finding()
HEART = finding("intensity_ceiling", CAUTION, summary="6 min 20 s above 121 bpm", observed=380, limit=120, unit="s")
YESTERDAY = finding("duration_cap", CAUTION, start=NOON - timedelta(hours=26), summary="71 min, over the 45 min cap")


@pytest.mark.parametrize(
    ("severity", "standing", "receives", "ended_days_ago", "reason"),
    [
        (CAUTION, None, CAUTION, 1, "first"),
        (CAUTION, 0, CAUTION, 1, "first"),
        (STOP, 2, CAUTION, 1, "worse"),
        (CAUTION, 2, CAUTION, 1, "already_told"),
        (CAUTION, 3, CAUTION, 1, "already_told"),
        (NOTE, None, CAUTION, 1, "below_receives"),
        (STOP, None, CAUTION, 7.1, "late"),
        (STOP, None, CAUTION, 6.9, "first"),
    ],
)
def test_every_finding_is_weighed_with_a_reason(
    severity: Severity, standing: int | None, receives: Severity, ended_days_ago: float, reason: str
) -> None:
    one = replace(RUN, severity=severity, subject_end=NOON - timedelta(days=ended_days_ago))
    weighed = weigh(one, standing, receives, NOON - timedelta(days=7))
    assert weighed == reason


def test_one_session_is_one_alert_with_all_its_findings_worst_first(scene: Scene) -> None:
    scene.queue(HEART, RUN)
    (row,) = scene.outbox()
    assert row["findings"] == [RUN.id, HEART.id]
    assert (row["severity"], row["state"], row["reason"]) == ("stop", "waiting", "first")
    assert row["title"].startswith("STOP – Runa: running 9 min")


def test_a_days_total_goes_with_the_session_that_made_it(scene: Scene) -> None:
    midnight = NOON.replace(hour=0) - timedelta(hours=2)
    day = finding("duration_cap", CAUTION, kind="day", start=midnight, minutes=24 * 60, date=RUN.date)
    scene.queue(day, RUN)
    (row,) = scene.outbox()
    assert row["findings"] == [RUN.id, day.id]


def test_two_sessions_are_two_alerts_the_worse_one_first(scene: Scene) -> None:
    scene.queue(YESTERDAY, RUN)
    assert [row["findings"] for row in scene.outbox()] == [[RUN.id], [YESTERDAY.id]]


def test_every_contact_and_every_channel_has_its_own_row(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(contact("coach", "json://h/1", "json://h/2"), contact("runa", role="athlete")))
    scene.queue(RUN)
    assert [(row["contact"], row["channel"]) for row in scene.outbox()] == [("coach", 1), ("coach", 2), ("runa", 1)]


def test_the_same_finding_is_queued_once(scene: Scene) -> None:
    scene.queue(RUN)
    scene.queue(RUN)
    assert len(scene.outbox()) == 1
    assert scene.reasons(RUN.id) == ["first", "already_told"]


def test_the_same_session_told_by_a_better_recording_is_not_told_again(scene: Scene) -> None:
    scene.queue(RUN)
    scene.deliver()
    other = finding(start=RUN.subject_start - timedelta(minutes=3), minutes=45)
    assert other.id != RUN.id
    scene.queue(other)
    assert scene.states() == ["sent"]
    assert scene.reasons(other.id) == ["already_told"]


def test_the_next_session_is_told_though_it_begins_as_the_last_one_ends(scene: Scene) -> None:
    scene.queue(RUN)
    scene.queue(finding(start=RUN.subject_end))
    assert len(scene.outbox()) == 2


def test_the_next_morning_is_told_though_in_another_timezone_the_last_one_overlaps_it(scene: Scene) -> None:
    """After a move by an hour a day begins an hour earlier; a day of 25 hours then reaches into the next one."""
    day = {"kind": "morning", "rule": "resting_hr_up", "severity": Severity.CAUTION}
    before = finding(**day, start=datetime(2026, 10, 25, tzinfo=UTC), minutes=25 * 60)
    after = finding(**day, start=datetime(2026, 10, 26, tzinfo=UTC), minutes=24 * 60)
    moved = replace(before, id="moved", subject_start=before.subject_start - timedelta(hours=1))
    scene.now = datetime(2026, 10, 26, 8, tzinfo=UTC)
    scene.queue(before)
    scene.queue(after)
    assert [row["findings"] for row in scene.outbox()] == [[before.id], [after.id]]
    scene.deliver()
    scene.queue(moved)
    assert len(scene.outbox()) == 2, "the same day, though it begins at another hour"


def test_a_days_total_is_not_taken_for_that_of_a_session(scene: Scene) -> None:
    session = finding("duration_cap", CAUTION)
    day = finding("duration_cap", CAUTION, kind="day", start=NOON.replace(hour=0), minutes=24 * 60)
    scene.queue(session)
    scene.deliver()
    scene.queue(day)
    assert scene.reasons(day.id) == ["first"]


def test_a_worse_finding_on_a_session_already_told_is_an_update(scene: Scene) -> None:
    scene.queue(HEART)
    scene.deliver()
    scene.queue(worse=((HEART, replace(HEART, severity=STOP)),))
    last = scene.outbox()[-1]
    assert (last["reason"], last["severity"]) == ("worse", "stop")
    assert last["title"].startswith("Update: STOP – Runa:")


def test_another_finding_on_a_session_already_told_is_an_update(scene: Scene) -> None:
    scene.queue(HEART)
    scene.deliver()
    scene.queue(RUN)
    assert scene.outbox()[-1]["title"].startswith("Update: STOP")


def test_a_finding_that_worsens_before_it_was_read_changes_the_one_alert(scene: Scene) -> None:
    scene.queue(HEART)
    scene.queue(worse=((HEART, replace(HEART, severity=STOP, summary="14 min above 121 bpm")),))
    (row,) = scene.outbox()
    assert row["title"].startswith("STOP – Runa: 14 min above 121 bpm")


def test_another_finding_on_a_session_joins_the_alert_that_nobody_has_read(scene: Scene) -> None:
    scene.queue(HEART)
    scene.queue(RUN)
    (row,) = scene.outbox()
    assert row["findings"] == [RUN.id, HEART.id]


def test_new_numbers_mend_an_unread_alert_and_leave_a_read_one_alone(scene: Scene) -> None:
    scene.queue(HEART)
    newer = replace(HEART, summary="7 min above 121 bpm")
    scene.queue(changed=((HEART, newer),))
    assert "7 min" in scene.outbox()[0]["title"]
    scene.deliver()
    scene.queue(changed=((newer, replace(newer, summary="8 min above 121 bpm")),))
    assert [row["state"] for row in scene.outbox()] == ["sent"]


def test_a_finding_that_eased_before_it_was_read_may_still_get_worse(scene: Scene) -> None:
    eased = replace(HEART, severity=CAUTION)
    worst = replace(HEART, severity=STOP)
    scene.queue(worst)
    scene.queue(changed=((worst, eased),))
    scene.queue(worse=((eased, worst),))
    (row,) = scene.outbox()
    assert row["severity"] == "stop"


def test_silence_is_a_note_to_the_athlete_and_a_caution_to_the_coach(tmp_path: Path) -> None:
    everyone = roster(
        contact("coach"), contact("runa", role="athlete"), contact("runa2", role="athlete", receives=NOTE)
    )
    scene = Scene(tmp_path, everyone)
    scene.queue(finding("gone_quiet", CAUTION, kind="silence", start=NOON - timedelta(days=20), minutes=60))
    assert [(row["contact"], row["severity"]) for row in scene.outbox()] == [("coach", "caution"), ("runa2", "note")]


def test_when_files_arrive_again_the_coach_is_told_so(scene: Scene) -> None:
    silence = finding("gone_quiet", CAUTION, kind="silence", start=NOON - timedelta(days=4), minutes=60)
    scene.queue(silence)
    scene.deliver()
    scene.queue(withdrawn=(silence,))
    assert scene.outbox()[-1]["title"] == "Runa: files arrive again"


def test_what_ended_long_ago_is_recorded_and_not_sent(scene: Scene) -> None:
    old = finding(start=NOON - timedelta(days=8))
    scene.queue(old)
    assert scene.outbox() == []
    assert scene.reasons(old.id) == ["late"]


def test_a_first_import_is_silent_but_for_one_line(scene: Scene) -> None:
    old = [finding(start=NOON - timedelta(days=days)) for days in range(9, 12)]
    scene.queue(*old, first_import=True)
    (row,) = scene.outbox()
    assert row["title"] == "Runa: 0 sessions of the past read"
    assert (row["kind"], row["severity"]) == ("notice", "note")
    scene.deliver()
    assert "3 findings older than 7 days are on record, none sent" in scene.channel.sent[0][2]


def test_an_athlete_of_whom_nothing_is_sent_hears_nothing_of_a_first_import(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(contact("runa", role="athlete", receives=Severity.NOTE)))
    scene.queue(finding(start=NOON - timedelta(days=9)), first_import=True)
    assert scene.outbox() == []


def test_a_first_import_in_two_parts_is_still_one_line(scene: Scene) -> None:
    scene.queue(finding(start=NOON - timedelta(days=9)), first_import=True)
    scene.queue(finding(start=NOON - timedelta(days=10)), first_import=True)
    assert len(scene.outbox()) == 1
    scene.deliver()
    assert "2 findings older than 7 days are on record" in scene.channel.sent[0][2]


def test_a_first_import_that_kept_nothing_back_says_nothing(scene: Scene) -> None:
    scene.queue(first_import=True)
    scene.queue(RUN, first_import=True)
    assert [row["kind"] for row in scene.outbox()] == ["alert"]


def test_in_quiet_hours_a_caution_is_held_and_a_stop_goes(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(quiet=(time(12), time(16))))
    scene.queue(YESTERDAY)
    scene.queue(RUN)
    stop, caution = sorted(scene.outbox(), key=lambda row: row["severity"], reverse=True)
    assert (stop["state"], stop["not_before"]) == ("waiting", None)
    assert (caution["state"], caution["reason"]) == ("held", "deferred until 16:00")
    assert datetime.fromisoformat(caution["not_before"]) == NOON.replace(hour=14)


def test_a_held_alert_that_becomes_a_stop_is_held_no_longer(tmp_path: Path) -> None:
    scene = Scene(tmp_path, roster(quiet=(time(12), time(16))))
    scene.queue(HEART)
    assert scene.states() == ["held"]
    scene.queue(worse=((HEART, replace(HEART, severity=STOP)),))
    assert scene.states() == ["waiting"]


def test_an_athlete_off_the_roster_is_nobodys_business(scene: Scene) -> None:
    scene.roster = replace(scene.roster, athletes=())
    scene.queue(RUN)
    assert scene.outbox() == []


def test_a_transaction_that_fails_leaves_neither_rows_nor_decisions(scene: Scene) -> None:
    from monitor.alerts import routing
    from monitor.values import Difference

    with pytest.raises(RuntimeError), scene.store.writing() as con:  # noqa: PT012 - it must raise within
        routing.queue(con, scene.roster, "runa", Difference("runa", (RUN,)), NOON)
        raise RuntimeError
    assert scene.outbox() == []
    assert scene.reasons(RUN.id) == []


@pytest.mark.parametrize(
    ("observed", "told"), [(343.0, False), (342.1, False), (342.0, True), (341.9, True), (418, False)]
)
def test_numbers_that_a_better_file_changes_by_a_tenth_are_told_again(observed: float, *, told: bool) -> None:
    assert _tells_otherwise(HEART, replace(HEART, observed=observed)) == told


@pytest.mark.parametrize(("observed", "told"), [(422.2, False), (422.3, True)])
def test_a_tenth_is_one_of_the_greater_number(observed: float, *, told: bool) -> None:
    assert _tells_otherwise(HEART, replace(HEART, observed=observed)) == told
