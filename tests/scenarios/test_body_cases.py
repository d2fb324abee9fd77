"""What nights, mornings and check-ins come to: files in a folder to findings, gates and the plan.

The athlete and the plan are those of test_contract_cases.py.
"""

from __future__ import annotations

import json
import os
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from monitor.intake.workers import Workers
from monitor.judging import view
from rules.limits import default_limits
from tests.scenarios.home import Scene
from tests.scenarios.outings import outing, ride, run
from tests.scenarios.test_contract_cases import at

RACE = date(2026, 10, 4)
HEADER = "date,bedtime,wake_time,total_sleep_min,resting_hr,rmssd_ms\n"


def mornings(last_day: int, over: dict[int, dict[str, Any]] | None = None, days_before: int = 42) -> str:
    """Seven hours and a half, 48 bpm and 70 ms give or take, from weeks before the race; `over` changes single days."""
    lines = []
    for day in range(-days_before, last_day + 1):
        told = {"sleep": 450 + (day % 3) * 4, "hr": 48 + (day % 3) - 1, "rmssd": 70 + (day % 5) - 2}
        told |= (over or {}).get(day, {})
        lines.append(f"{RACE + timedelta(days=day)},23:00,06:45,{told['sleep']},{told['hr']},{told['rmssd']}")
    return HEADER + "\n".join(lines) + "\n"


def checkin(day: int, **said: Any) -> str:
    base = {"date": str(RACE + timedelta(days=day)), "stairs_unaided": True, "squat_unaided": True, "pain": 0}
    return json.dumps(base | said)


def found(scene: Scene) -> list[tuple[str, str, int]]:
    return sorted((one.rule, str(one.severity), one.day) for one in scene.findings())


def stages(scene: Scene, day: int) -> dict[str, tuple[int, int]]:
    scanner = scene.scanner(at(day, 12))
    with scanner.store.reading() as con:
        made = view(con, scanner.roster, scanner.roster.athletes[0], at(day, 12), default_limits())
    assert made.judgement.current is not None
    return {row.stage: (row.first_day, row.last_day) for row in made.judgement.current.stages}


def test_good_nights_and_mornings_find_nothing(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("nights.csv", mornings(6))
    report = scene.scan(at(6, 12))
    assert (report.counts()["nights"], report.counts()["mornings"]) == (49, 49)
    assert found(scene) == []


def test_a_resting_heart_rate_up_two_mornings_running_is_a_caution_and_shuts_the_gate(
    tmp_path: Path, workers: Workers
) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("nights.csv", mornings(8, {7: {"hr": 56}, 8: {"hr": 55}}))
    scene.scan(at(8, 12))
    assert found(scene) == [("resting_hr_up", "caution", 8)]
    assert stages(scene, 8)["days_off"] == (1, 8)
    scene.drop("nights.csv", mornings(9, {7: {"hr": 56}, 8: {"hr": 55}}))
    scene.scan(at(9, 12))
    assert stages(scene, 9)["days_off"] == (1, 8)
    assert stages(scene, 9)["cross_training"] == (9, 15)


def test_a_table_that_is_changed_and_changed_back_says_again_what_it_said_first(
    tmp_path: Path, workers: Workers
) -> None:
    scene = Scene(tmp_path, workers)
    up, mended = (mornings(8, {7: {"hr": 56}, 8: {"hr": hr}}) for hr in (55, 48))
    came_to = []
    for text, seconds in ((up, 0), (mended, 60), (up, 120), (mended, 180), (up, 240)):
        path = scene.drop("nights.csv", text)
        os.utime(path, (at(8, 9).timestamp() + seconds,) * 2)
        scene.scan(at(8, 12))
        came_to.append([rule for rule, _, _ in found(scene)])
    assert came_to == [["resting_hr_up"], [], ["resting_hr_up"], [], ["resting_hr_up"]]
    scene.drop("a copy.csv", mended)  # newer, and bytes that are known
    os.utime(scene.exports / "a copy.csv", (at(8, 9).timestamp() + 300,) * 2)
    scene.scan(at(8, 12))
    assert found(scene) == []


def test_one_morning_up_is_nothing(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("nights.csv", mornings(8, {8: {"hr": 58}}))
    scene.scan(at(8, 12))
    assert found(scene) == []


def test_mornings_too_few_for_a_baseline_find_nothing(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("nights.csv", mornings(8, {7: {"hr": 60}, 8: {"hr": 60}}, days_before=5))
    scene.scan(at(8, 12))
    assert found(scene) == []


def test_short_nights_are_a_note_and_under_six_hours_a_caution(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("nights.csv", mornings(6, {day: {"sleep": 400} for day in (4, 5, 6)}))
    scene.scan(at(6, 12))
    assert [(rule, severity) for rule, severity, _ in found(scene)] == [("short_sleep", "note")]
    scene.drop("nights.csv", mornings(6, {day: {"sleep": 340} for day in (4, 5, 6)}))
    scene.scan(at(6, 13))
    assert ("short_sleep", "caution", 6) in found(scene)


def test_a_low_variability_is_a_note_then_a_caution(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("nights.csv", mornings(8, {day: {"rmssd": 40} for day in range(1, 9)}))
    scene.scan(at(8, 12))
    assert "caution" in {severity for rule, severity, _ in found(scene) if rule == "hrv_down"}


@pytest.mark.parametrize("said", [{"stairs_unaided": False}, {"squat_unaided": False}])
def test_stairs_not_managed_is_a_caution_and_a_stop_with_training(
    said: dict[str, bool], tmp_path: Path, workers: Workers
) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("a.checkin.json", checkin(5, **said))
    scene.scan(at(5, 20))
    assert found(scene) == [("stairs_test", "caution", 5)]
    scene.drop("ride.fit", outing(at(5, 17), "cycling", ride(20, 105)))
    scene.scan(at(5, 21))
    assert found(scene) == [("stairs_test", "stop", 5)]


def test_a_gate_shut_by_a_checkin_opens_with_a_better_one_and_later_days_move(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("7.checkin.json", checkin(7, pain=5, pain_where="left knee"))
    scene.scan(at(9, 12))
    assert ("pain", "caution", 7) in found(scene)
    assert stages(scene, 9) == {"days_off": (1, 9), "cross_training": (10, 16), "test_runs": (17, 23)}
    scene.drop("9.checkin.json", checkin(9, pain=1))
    scene.scan(at(9, 18))
    assert stages(scene, 9) == {"days_off": (1, 8), "cross_training": (9, 15), "test_runs": (16, 22)}


def test_a_gate_shut_by_a_checkin_opens_after_seven_days_without_newer_data(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("7.checkin.json", checkin(7, stairs_unaided=False))
    scene.scan(at(20, 12))
    first, last = stages(scene, 20)["days_off"]
    assert first == 1
    assert last in (13, 14)


def test_pain_that_grows_over_three_checkins_is_a_caution(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    for day, pain in ((4, 1), (5, 2), (6, 3)):
        scene.drop(f"{day}.checkin.json", checkin(day, pain=pain))
    scene.scan(at(6, 20))
    assert found(scene) == [("pain", "caution", 6)]


def test_a_red_flag_is_a_stop_with_the_cautions(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("5.checkin.json", checkin(5, symptoms=["dark urine"]))
    scene.scan(at(5, 23))
    assert found(scene) == [("see_a_doctor", "stop", 5)]
    ((_, title, body),) = scene.sent.messages
    assert title.startswith("STOP")
    assert "doctor" in body.lower() or "clinician" in body.lower()


def test_a_run_stop_holds_the_next_gate_for_65_hours(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("run.fit", outing(at(7, 10), "running", run(20, 118)))
    scene.scan(at(11, 12))
    # Sunday 11 October 10:20 and 65 h: Wednesday 14 October 03:20, so cross-training begins on day 11
    assert stages(scene, 11)["cross_training"] == (11, 17)


def test_silence_in_a_plan_is_said_once_and_ends_with_the_next_file(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("ride.fit", outing(at(4), "cycling", ride(30, 105)))
    scene.scan(at(4, 20))
    assert found(scene) == []
    scene.scan(at(8, 12))
    assert [(rule, severity) for rule, severity, _ in found(scene)] == [("gone_quiet", "caution")]
    sent = len(scene.sent.messages)
    scene.scan(at(8, 15))
    assert len(scene.sent.messages) == sent


def test_the_first_look_at_an_old_folder_says_nothing_of_silence(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("ride.fit", outing(at(4), "cycling", ride(30, 105)))
    scene.scan(at(12, 12))
    assert found(scene) == []
    scene.scan(at(15, 13))
    assert [rule for rule, _, _ in found(scene)] == ["gone_quiet"]


def test_a_folder_in_which_nothing_ever_came_is_told_as_that(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.scan(at(4, 12))
    scene.scan(at(7, 13))
    ((_, title, body),) = scene.sent.messages
    assert title == "Caution – Runa: nothing ever came"
    assert body.startswith("Look together whether the exports land in the folder")
