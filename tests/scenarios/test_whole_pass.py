"""What is beside the work of a pass must not take the work with it."""

import json
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from monitor.alerts import notices
from monitor.alerts.responses import SendResult
from monitor.intake.workers import Workers
from monitor.store import outbox
from tests.scenarios.home import ROSTER, Scene

EVENING = datetime.fromisoformat("2026-10-08T06:29:40+02:00")
QUIET = ROSTER.replace('quiet_hours = ""', 'quiet_hours = "21:30-06:30"')
DARK = {"date": "2026-10-08", "stairs_unaided": True, "symptoms": ["dark urine"]}


def _down(url: str, title: str, body: str, **_: object) -> SendResult:
    return SendResult(False, "answered 503")


def _refuse(*_: object, **__: object) -> bool:
    raise RuntimeError("no words for it")


def _rules(scene: Scene) -> set[str]:
    return {one.rule for one in scene.findings()}


def test_one_more_unreadable_file_behind_a_folded_notice_loses_no_sign_for_a_doctor(
    tmp_path: Path, workers: Workers
) -> None:
    scene = Scene(tmp_path, workers, QUIET)
    scene.sent = _down
    scene.drop("2026-10-07.checkin.json", json.dumps({**DARK, "date": "2026-10-07"}))
    scene.scan(EVENING)  # a stop, which is tried at once and stands before what follows
    (scene.exports / "2026-10-07.checkin.json").unlink()
    scene.drop("a.fit", b"no recording")
    scene.scan(EVENING)
    scene.scanner(EVENING).roots({"runa": "no such folder"})
    scene.scanner(EVENING + timedelta(seconds=30)).deliver()
    with scene.scanner(EVENING).store.reading() as con:
        assert "folded" in {row.reason for row in outbox.unsent(con)}
    scene.drop("b.fit", b"no recording either")
    scene.drop("2026-10-08.checkin.json", json.dumps(DARK))
    report = scene.scan(EVENING + timedelta(minutes=5))
    assert (report.tally.unreadable, report.tally.checkins) == (1, 1)
    sign = next(one for one in scene.findings() if one.rule == "see_a_doctor" and str(one.date) == DARK["date"])
    with scene.scanner(EVENING).store.reading() as con:
        assert any(sign.id in row.findings for row in outbox.unsent(con))


@pytest.mark.parametrize("notice", ["queue_unreadable", "queue_stage", "sum_up_import"])
def test_a_notice_that_fails_costs_neither_facts_nor_findings_nor_alerts(
    tmp_path: Path, workers: Workers, monkeypatch: pytest.MonkeyPatch, notice: str
) -> None:
    scene = Scene(tmp_path, workers)
    monkeypatch.setattr(notices, notice, _refuse)
    scene.drop("a.fit", b"no recording")
    scene.drop("2026-10-08.checkin.json", json.dumps(DARK))
    report = scene.scan(EVENING)
    assert (report.tally.unreadable, report.tally.checkins) == (1, 1)
    assert "see_a_doctor" in _rules(scene)
    assert any("dark urine" in title + body for _, title, body in scene.sent.messages)


def test_a_pass_says_what_it_could_not_tell(tmp_path: Path, workers: Workers, monkeypatch: pytest.MonkeyPatch) -> None:
    scene = Scene(tmp_path, workers)
    monkeypatch.setattr(notices, "queue_unreadable", _refuse)
    scene.drop("a.fit", b"no recording")
    scanner = scene.scanner(EVENING)
    from monitor.single_pass import single_pass

    assert single_pass(scanner).left_out == ["runa: that files cannot be read"]
    assert scanner.left_out() == []
