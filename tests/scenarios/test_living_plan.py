"""The plan as a living thing, from files in a folder to what commands show."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from monitor.home import Home
from monitor.intake.workers import Workers
from monitor.rebuilding import rebuild
from tests.homes import fallow
from tests.scenarios.home import ROSTER, Scene
from tests.scenarios.outings import Stretch, outing, ride, run

OSLO = ZoneInfo("Europe/Oslo")
FINISH = datetime(2026, 10, 4, 13, 47, tzinfo=OSLO)
LAST_YEAR = """
[[athlete.race]]
event = "half"
finish = 2025-09-14T12:30:00
effort = "controlled"
"""


def on(day: int, hour: int = 12) -> datetime:
    return (FINISH + timedelta(days=day)).replace(hour=hour, minute=0)


def shown(home: Home, *arguments: str, day: int = 9) -> Any:
    return fallow(*arguments, "--json", "--as-of", on(day).isoformat(), home=home.path).json()


def test_holds_releases_and_marks_survive_a_rebuild_of_the_store(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("run.fit", outing(on(5, 18), "running", run(25)))
    scene.scan(on(6))
    at = ("--as-of", on(6).isoformat())
    fallow("hold", "runa", "--days", "3", "--why", "calf tight", "--by", "Ida", *at, home=scene.home.path)
    fallow("hold", "runa", "--why", "to be seen", "--by", "Ida", *at, home=scene.home.path)
    late = ("--as-of", on(9).isoformat())
    fallow("release", "runa", "--why", "seen", "--by", "Ida", *late, home=scene.home.path)
    [stop] = [one for one in scene.findings() if one.rule == "no_running"]
    fallow("seen", stop.id, "--by", "Ida", home=scene.home.path)
    scene.scan(on(12))
    before = shown(scene.home, "plan", "runa", day=12)
    status = shown(scene.home, "status", day=12)
    sent = len(scene.sent.messages)

    assert rebuild(scene.home, on(12)) is not None
    empty = shown(scene.home, "plan", "runa", day=12)
    assert empty["holds"] == before["holds"]
    scene.scan(on(12))

    after = shown(scene.home, "plan", "runa", day=12)
    assert len(before["holds"]) == 3
    assert after == before
    assert shown(scene.home, "status", day=12)[0]["open_findings"] == status[0]["open_findings"]
    assert [one.id for one in scene.findings() if one.rule == "no_running"] == [stop.id]
    assert len(scene.sent.messages) == sent


def _board(scene: Scene, day: int) -> str:
    ran = fallow("board", "--as-of", on(day).isoformat(), home=scene.home.path)
    assert ran.status == 0, ran.err
    return scene.home.board.read_text("utf-8")


def test_the_recording_of_the_race_suggests_and_the_roster_decides(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers, ROSTER + 'result = "3:25:10"\n')
    start = FINISH - timedelta(seconds=12000)
    hilly = [Stretch(600, 152 + 24 * (number % 2), 3.5, 172, 0.12 * (number % 2) - 0.06) for number in range(20)]
    scene.drop("race.fit", outing(start, "running", hilly))
    scene.scan(on(1))
    plan = shown(scene.home, "plan", "runa", day=1)
    file = plan["race_file"]
    assert isinstance(file, dict)
    assert [one["condition"] for one in file["suggestions"]] == ["hills"]
    assert file["more_days"] == 2
    assert plan["race"]["length_days"] == 21
    words = " ".join(fallow("plan", "runa", "--as-of", on(1).isoformat(), home=scene.home.path).out.split())
    assert "against the result 3 h 25 min" in words
    assert 'The roster decides: with conditions = ["hills"] it would be 2 days more in all.' in words
    assert "Questions for the roster" in _board(scene, 1)
    assert "It suggests the condition hills" in _board(scene, 1)
    assert "Questions for the roster" not in _board(scene, 25)


def test_a_run_like_a_race_is_asked_about_until_somebody_answers(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers, ROSTER.split("[[athlete.race]]")[0])
    for number in range(11):
        scene.drop(f"{number}.fit", outing(on(-40 + 3 * number, 9), "running", run(30, 135, 2.7), noise=number))
    scene.drop("long.fit", outing(on(-2, 9), "running", run(90, 166, 3.4)))
    scene.scan(on(0))
    [row] = shown(scene.home, "status", day=0)
    [asked] = row["looks_like_a_race"]
    assert asked["source"] == "long.fit"
    text = " ".join(fallow("status", "--as-of", on(0).isoformat(), home=scene.home.path).out.split())
    assert "was the run of 2026-10-02 09:00 a race?" in text
    assert f"`fallow seen {asked['id']}`" in text
    assert f"Was the run of 2026-10-02 09:00 a race? {asked['reason']}." in _board(scene, 0)
    marked = fallow("seen", asked["id"][:6], "--by", "Ida", "--as-of", on(0).isoformat(), home=scene.home.path)
    assert marked.status == 0, marked.err
    [row] = shown(scene.home, "status", day=0)
    assert row["looks_like_a_race"] == []
    assert "a race?" not in _board(scene, 0)
    rebuild(scene.home, on(0))
    scene.scan(on(0))
    [row] = shown(scene.home, "status", day=0)
    assert row["looks_like_a_race"] == []


def test_plans_of_past_seasons_stay_readable(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers, ROSTER + LAST_YEAR)
    scene.drop("old.fit", outing(datetime(2025, 9, 16, 18, tzinfo=OSLO), "running", run(25)))
    scene.scan(on(9))
    old = shown(scene.home, "plan", "runa", "--race", "1")
    assert (old["race"]["event"], old["race"]["length_days"]) == ("half", 10)
    assert any("1 stop" in each or "2 stop" in each for each in old["summary"])
    assert shown(scene.home, "plan", "runa", "--race", "2")["race"] == shown(scene.home, "plan", "runa")["race"]
    wrong = fallow("plan", "runa", "--race", "3", home=scene.home.path)
    assert wrong.status == 2
    assert "1 = half 2025-09-14, 2 = marathon 2026-10-04" in wrong.err


def test_the_end_of_a_plan_is_told_once_with_what_became_of_it(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("ride.fit", outing(on(10, 17), "cycling", ride(40, 120)))
    for day in (11, 21, 22, 22, 23):
        scene.scan(on(day))
    [(_, title, body)] = [one for one in scene.sent.messages if "done" in one[1]]
    assert title == "Runa: the plan after the race is done"
    assert body.startswith("Nothing is limited from here on; keep hard days apart for some weeks yet.")
    assert "The reverse taper is done: 21 days, as planned, from Sun 4 Oct to Sun 25 Oct." in body
    assert "1 session, 40 min" in body
    [row] = shown(scene.home, "status", day=22)
    assert row["summary"][0].startswith("The reverse taper is done")
    [row] = shown(scene.home, "status", day=40)
    assert row["summary"] == []


def test_what_holds_a_stage_is_said_once_in_a_plan(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    for day in (2, 4, 6):
        scene.drop(f"{day}.fit", outing(on(day, 18), "running", run(25), noise=day))
    scene.scan(on(9))
    words = " ".join(fallow("plan", "runa", "--as-of", on(9).isoformat(), home=scene.home.path).out.split())
    assert words.count("held for the coach") == 1
    assert "2 days longer than planned" in words


def test_a_sheet_saved_again_with_a_line_more_is_no_news_of_the_old_lines(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    sheet = "date,stairs_unaided,pain\n2026-10-09,yes,5\n"
    scene.drop("form.csv", sheet)
    scene.scan(on(5))
    told = len(scene.sent.messages)
    scene.drop("form.csv", sheet + "2026-10-10,yes,1\n")
    scene.scan(on(6))
    assert [(one.rule, one.day) for one in scene.findings()] == [("pain", 5)]
    assert len(scene.sent.messages) == told
