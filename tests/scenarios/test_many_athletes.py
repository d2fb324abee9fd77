"""A roster of many: nobody's new file waits for the judgement of all the others."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from monitor.folders.listing import settled
from monitor.intake.workers import Workers
from monitor.scanning import JUDGED_AT_ONCE, Scanner
from monitor.store import findings
from tests.scenarios.home import ROSTER, Scene
from tests.scenarios.outings import outing, run

NOW = datetime(2026, 10, 7, 20, tzinfo=ZoneInfo("Europe/Oslo"))
COUNT = 2 * JUDGED_AT_ONCE + 3


def scene_of(folder: Path, workers: Workers) -> Scene:
    contact, athlete = ROSTER.split("[[athlete]]")
    entries = "".join(
        "[[athlete]]" + athlete.replace('"runa"', f'"a{n}"').replace('"exports"', f'"exports/a{n}"')
        for n in range(COUNT)
    )
    scene = Scene(folder, workers, contact + entries)
    for n in range(COUNT):
        (scene.exports / f"a{n}").mkdir()
    return scene


def take(scene: Scene, scanner: Scanner, *names: str) -> None:
    ready = [(name, seen) for name in names for seen in settled(scene.exports / name, {}, wall=lambda: 4e9)[0]]
    scanner.take(ready)


def test_the_hour_s_judgement_goes_by_parts_and_a_file_between_them_is_judged_alone(
    tmp_path: Path, workers: Workers
) -> None:
    scene = scene_of(tmp_path, workers)
    scanner = scene.scanner(NOW)
    first = scanner.timers()
    assert (first.judged, first.more) == (JUDGED_AT_ONCE, True)

    last = f"a{COUNT - 1}"
    scene.drop(f"{last}/run.fit", outing(NOW - timedelta(hours=2), "running", run(20)))
    take(scene, scanner, last)
    with scanner.store.reading() as con:
        judged = set(findings.all_judged(con))
        assert "no_running" in {one.rule for one in findings.standing(con, last)}
    assert judged == {f"a{n}" for n in range(JUDGED_AT_ONCE)} | {last}

    rest = [scanner.timers(), scanner.timers(), scanner.timers()]
    assert [one.more for one in rest] == [True, False, False]
    assert rest[2].judged == 0
    with scanner.store.reading() as con:
        assert len(findings.all_judged(con)) == COUNT


def test_files_of_many_athletes_that_come_together_are_all_judged(tmp_path: Path, workers: Workers) -> None:
    scene = scene_of(tmp_path, workers)
    names = [f"a{n}" for n in range(COUNT)]
    for name in names:
        scene.drop(f"{name}/run.fit", outing(NOW - timedelta(hours=2), "running", run(20)))
    scanner = scene.scanner(NOW)
    take(scene, scanner, *names)
    with scanner.store.reading() as con:
        assert findings.to_judge(con) == {}
        for name in names:
            assert "no_running" in {one.rule for one in findings.standing(con, name)}


def test_another_roster_is_judged_by_the_next_timers(tmp_path: Path, workers: Workers) -> None:
    scene = scene_of(tmp_path, workers)
    scanner = scene.scanner(NOW)
    while scanner.timers().more:
        pass
    scene.home.roster.write_text(scene.home.roster.read_text().replace("hr_max = 190", "hr_max = 185"))
    scanner.use(scene.scanner(NOW).roster)
    assert scanner.timers().judged == JUDGED_AT_ONCE
