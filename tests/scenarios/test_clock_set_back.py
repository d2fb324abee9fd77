"""A clock that is set back loses no finding and tells none a second time."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from monitor.intake.workers import Workers
from tests.scenarios.home import Scene
from tests.scenarios.outings import outing, run

RUN_AT = datetime(2026, 10, 9, 16, 0, tzinfo=UTC)
NOW = RUN_AT + timedelta(hours=1)


@pytest.fixture
def scene(tmp_path: Path, workers: Workers) -> Scene:
    return Scene(tmp_path, workers)


@pytest.mark.parametrize(
    "back", [timedelta(hours=2), timedelta(days=1, hours=2), timedelta(days=4), timedelta(days=40)]
)
def test_findings_of_what_now_lies_ahead_stand_and_are_told_once(scene: Scene, back: timedelta) -> None:
    scene.drop("run.fit", outing(RUN_AT, "running", run(20)))
    scene.scan(NOW)
    found = [one for one in scene.findings() if one.subject_kind == "session"]
    assert {one.rule for one in found} >= {"no_running"}
    told = _of_sessions(scene)
    for moment in (NOW - back, NOW + timedelta(minutes=5)):
        scanner = scene.scanner(moment)
        scanner.judge_due()
        scanner.deliver(gather_now=True)
        assert [one for one in scene.findings() if one.subject_kind == "session"] == found
    assert _of_sessions(scene) == told


def _of_sessions(scene: Scene) -> list[str]:
    """What was sent, but for word of silence, which a clock set back may bring."""
    return [title for _, title, _ in scene.sent.messages if "nothing came" not in title and "arrive again" not in title]


def test_a_session_that_lies_ahead_of_the_as_of_is_judged_when_its_time_has_come(scene: Scene) -> None:
    scene.drop("run.fit", outing(RUN_AT, "running", run(20)))
    scene.scan(RUN_AT - timedelta(hours=2))
    assert [one for one in scene.findings() if one.subject_kind == "session"] == []
    assert scene.sent.messages == []
    scanner = scene.scanner(NOW)
    scanner.judge_due()
    scanner.deliver(gather_now=True)
    assert {one.rule for one in scene.findings()} >= {"no_running"}
    assert len(_of_sessions(scene)) == 1
