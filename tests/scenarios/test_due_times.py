"""What can change by the clock alone is known beforehand: nobody is judged before it, and everybody at it."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from monitor.intake.workers import Workers
from monitor.judging import due, view
from monitor.store.connections import kept
from rules.findings import Finding
from rules.limits import default_limits
from tests.scenarios.home import Scene
from tests.scenarios.outings import outing, run

OSLO = ZoneInfo("Europe/Oslo")
FINISH = datetime(2026, 10, 4, 13, 47, tzinfo=OSLO)
EVENING = datetime(2026, 10, 7, 20, tzinfo=OSLO)
MIDNIGHT = datetime(2026, 10, 8, tzinfo=OSLO)
SILENT = timedelta(hours=72)


def due_of(scene: Scene, now: datetime) -> tuple[list[str], datetime | None]:
    scanner = scene.scanner(now)
    with scanner.store.reading() as con:
        athletes, later = due(con, scanner.roster, now, default_limits())
    return [one.id for one in athletes], later


def judged_anew(scene: Scene, now: datetime) -> list[Finding]:
    """What a judgement at a moment finds, whoever thinks it due."""
    scanner = scene.scanner(now)
    with scanner.store.reading() as con:
        made = view(con, scanner.roster, scanner.roster.athletes[0], now, default_limits())
    return list(made.judgement.findings)


@pytest.fixture
def scene(tmp_path: Path, workers: Workers) -> Iterator[Scene]:
    scene = Scene(tmp_path, workers)
    scene.drop("run.fit", outing(EVENING - timedelta(hours=2), "running", run(20)))
    with kept(scene.home.store):
        scene.scan(EVENING)
        yield scene


def test_within_a_day_on_which_nothing_comes_nobody_is_judged_again(scene: Scene) -> None:
    assert due_of(scene, EVENING + timedelta(hours=3, minutes=59)) == ([], MIDNIGHT)


def test_when_a_day_begins_those_in_a_plan_are_judged(scene: Scene) -> None:
    assert due_of(scene, MIDNIGHT - timedelta(microseconds=1))[0] == []
    assert due_of(scene, MIDNIGHT)[0] == ["runa"]


def test_a_silence_is_due_at_its_hour_and_then_once_a_day(scene: Scene) -> None:
    morning = datetime(2026, 10, 10, 8, tzinfo=OSLO)
    scene.scan(morning)
    begins = EVENING + SILENT
    assert due_of(scene, morning) == ([], begins)
    assert not [one for one in scene.findings() if one.rule == "gone_quiet"]
    scene.scan(begins)
    (silence,) = [one for one in scene.findings() if one.rule == "gone_quiet"]
    assert silence.observed == 72.0
    scene.scan(datetime(2026, 10, 11, 0, 0, 1, tzinfo=OSLO))
    assert due_of(scene, begins + timedelta(hours=23)) == ([], begins + timedelta(days=1))


def test_a_race_that_is_to_come_is_due_at_its_finish(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.scan(FINISH - timedelta(days=3))
    assert due_of(scene, FINISH - timedelta(minutes=1)) == ([], FINISH)
    assert due_of(scene, FINISH)[0] == ["runa"]


def test_long_after_the_last_race_the_clock_asks_for_nothing(scene: Scene) -> None:
    later = FINISH + timedelta(days=default_limits().history.days_after_race + 30)
    scene.scan(later)
    assert due_of(scene, later + timedelta(days=100)) == ([], None)


def test_a_clock_that_was_set_back_asks_for_a_judgement(scene: Scene) -> None:
    assert due_of(scene, EVENING - timedelta(minutes=1))[0] == ["runa"]


def test_a_session_that_lies_ahead_is_due_when_it_begins(tmp_path: Path, workers: Workers) -> None:
    scene, ahead = Scene(tmp_path, workers), EVENING + timedelta(hours=1)
    scene.drop("run.fit", outing(ahead, "running", run(20)))
    scene.scan(EVENING)
    assert due_of(scene, EVENING) == ([], ahead)


def test_a_judgement_of_an_older_program_is_made_anew(scene: Scene) -> None:
    with scene.scanner(EVENING).store.writing() as con:
        con.execute("UPDATE judged SET fingerprint = split_part(fingerprint, '/', 1) || '/0123456789abcdef'")
    assert due_of(scene, EVENING)[0] == ["runa"]


def test_before_it_is_due_a_judgement_gives_what_the_last_one_gave(scene: Scene) -> None:
    rng, moment = random.Random(7), EVENING
    for _ in range(10):
        standing = {one.id: one for one in scene.findings()}
        _, again = due_of(scene, moment)
        assert again is not None
        between = [moment + (again - moment) * rng.random() for _ in range(2)] + [again - timedelta(microseconds=1)]
        for one in between:
            assert {each.id: each for each in judged_anew(scene, one)} == standing
        moment = again
        scene.scan(moment)
