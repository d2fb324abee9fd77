"""A file changed in place says what it says now; whoever was told something else hears of it, and a new home agrees."""

from __future__ import annotations

import json
import shutil
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from monitor.intake.workers import Workers
from monitor.rebuilding import rebuild
from rules.words import said
from tests.monitor.store.told import season
from tests.scenarios.home import ROSTER, Scene

NOW = datetime.fromisoformat("2026-10-10T12:00+02:00")
CHEST = {"date": "2026-10-09T08:00", "symptoms": ["chest pain"], "pain": 2}
WELL = {"date": "2026-10-09T08:00", "pain": 1}


def checkin(*told: dict[str, Any]) -> str:
    return json.dumps(list(told))


def told(scene: Scene) -> list[tuple[str, str, str]]:
    return sorted((one.id, str(one.severity), said(one.summary)) for one in scene.findings())


def of_a_new_home(scene: Scene, folder: Path, workers: Workers) -> list[tuple[str, str, str]]:
    new = Scene(folder, workers, scene.home.roster.read_text())
    shutil.copytree(scene.exports, new.exports, dirs_exist_ok=True)
    new.scan(NOW)
    return told(new)


def signs(scene: Scene) -> int:
    return sum(one.rule == "see_a_doctor" for one in scene.findings())


@pytest.fixture
def scene(tmp_path: Path, workers: Workers) -> Scene:
    return Scene(tmp_path, workers)


def test_a_sign_for_a_doctor_that_is_corrected_is_taken_back_to_whoever_was_told(
    scene: Scene, tmp_path: Path, workers: Workers
) -> None:
    scene.drop("a.checkin.json", checkin(CHEST))
    scene.scan(NOW)
    assert signs(scene) == 1
    scene.drop("a.checkin.json", checkin(WELL))
    scene.scan(NOW)
    assert told(scene) == of_a_new_home(scene, tmp_path / "new", workers) == []
    title, text = scene.sent.messages[-1][1:]
    assert title.startswith("Taken back")
    assert "corrected" in text
    assert "doctor" in text, "who felt it is not told that there is nothing to do"
    assert "Nothing more to do" not in text
    rebuild(scene.home, NOW)
    sent = len(scene.sent.messages)
    scene.scan(NOW)
    assert (told(scene), len(scene.sent.messages)) == ([], sent)


def test_a_sign_that_comes_back_by_another_correction_is_told_again(scene: Scene) -> None:
    for minutes, text in enumerate((CHEST, WELL, CHEST)):
        scene.drop("a.checkin.json", checkin(text))
        scene.scan(NOW + timedelta(minutes=minutes))
    assert [title.split(" ")[0] for _, title, _ in scene.sent.messages] == ["STOP", "Taken", "STOP"]


@pytest.mark.parametrize("order", [("a", "b"), ("b", "a")])
def test_a_sign_that_another_file_still_names_stands(scene: Scene, order: tuple[str, str]) -> None:
    for name in order:
        scene.drop(f"{name}.checkin.json", checkin(CHEST) + " " * (name == "b"))
        scene.scan(NOW)
    scene.drop("a.checkin.json", checkin(WELL))
    scene.scan(NOW)
    assert signs(scene) == 1
    scene.drop("b.checkin.json", checkin(WELL) + " ")
    scene.scan(NOW)
    assert signs(scene) == 0


def test_a_check_in_of_the_evening_written_over_that_of_the_morning_unsays_no_sign(scene: Scene) -> None:
    scene.drop("today.checkin.json", checkin(CHEST))
    scene.scan(NOW)
    scene.drop("today.checkin.json", checkin({**WELL, "date": "2026-10-09T20:00"}))
    scene.scan(NOW)
    assert signs(scene) == 1


def test_a_row_of_a_table_that_is_changed_says_what_it_says_now(scene: Scene, tmp_path: Path, workers: Workers) -> None:
    head = "date,symptoms,pain,total_sleep_min,resting_hr\n"
    scene.drop("days.csv", f"{head}2026-10-08,,1,430,50\n2026-10-09,chest pain,2,420,51\n")
    scene.scan(NOW)
    assert signs(scene) == 1
    scene.drop("days.csv", f"{head}2026-10-08,,1,,50\n2026-10-09,,2,420,\n")
    scene.scan(NOW)
    assert told(scene) == of_a_new_home(scene, tmp_path / "new", workers)
    with scene.scanner(NOW).store.reading() as con:
        nights = season(con, "runa", NOW.date() - timedelta(days=9), NOW.date()).nights
        mornings = season(con, "runa", NOW.date() - timedelta(days=9), NOW.date()).mornings
    assert [(night.date.day, night.total_sleep_min) for night in nights if night.total_sleep_min] == [(9, 420)]
    assert [(morning.date.day, morning.resting_hr) for morning in mornings if morning.resting_hr] == [(8, 50)]


def test_a_cell_that_is_emptied_leaves_what_an_older_file_says(scene: Scene) -> None:
    for name in ("older", "newer"):
        scene.drop(f"{name}.csv", f"date,total_sleep_min,resting_hr\n2026-10-09,420,51\n{' ' * (name == 'newer')}\n")
        scene.scan(NOW)
    scene.drop("newer.csv", "date,total_sleep_min,resting_hr\n2026-10-09,,50\n")
    scene.scan(NOW)
    with scene.scanner(NOW).store.reading() as con:
        (night,) = season(con, "runa", NOW.date() - timedelta(days=1), NOW.date()).nights
    assert night.total_sleep_min == 420


def test_a_table_that_grew_is_forgotten_whole_when_its_dates_turn_out_to_be_others(
    tmp_path: Path, workers: Workers
) -> None:
    def ordered(order: str) -> str:
        columns = f'\n[athlete.columns]\ndate = "Day"\nresting_hr = "Pulse"\ndate_order = "{order}"\n\n[[athlete.race]]'
        return ROSTER.replace("\n[[athlete.race]]", columns)

    scene = Scene(tmp_path, workers, ordered("mdy"))
    scene.drop("pulse.csv", "Day;Pulse\n05/10/2026;50\n")
    scene.scan(NOW)
    scene.drop("pulse.csv", "Day;Pulse\n05/10/2026;50\n06/10/2026;51\n")
    scene.scan(NOW)
    scene.home.roster.write_text(ordered("dmy"))
    scene.scan(NOW)
    with scene.scanner(NOW).store.reading() as con:
        assert con.execute("SELECT strftime(date, '%d %m') FROM morning ORDER BY date").fetchall() == [
            ("05 10",),
            ("06 10",),
        ]
