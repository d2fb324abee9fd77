"""The commands that write: check-ins, holds, releases, marks."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.homes import LATER, Ran, fallow, make_home

ANSWERS = "n\ny\nn\n3\n2\nleft calf\n6\n7\nfever, dark urine\n"


def _checkin(home: Path, ran: Ran) -> dict[str, object]:
    assert ran.status == 0, ran.err
    (path,) = [path for path in (home / "exports/runa").rglob("*.checkin.json") if "2026-10-11" not in path.name]
    assert path.stat().st_mode & 0o777 == 0o600
    document: dict[str, object] = json.loads(path.read_text("utf-8"))
    return document


def test_a_checkin_from_flags_has_the_agreed_keys_and_nothing_that_was_not_said(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    flags = (
        "--stairs-unaided",
        "--no-squat-unaided",
        "--soreness",
        "3",
        "--pain",
        "1.5",
        "--symptom",
        "fever",
        "--note",
        "ok",
    )
    document = _checkin(home, fallow("checkin", "runa", *flags, "--date", "2026-10-13", home=home))
    assert document == {
        "date": "2026-10-13", "stairs_unaided": True, "squat_unaided": False, "soreness": 3, "pain": 1.5,
        "symptoms": ["fever"], "note": "ok",
    }  # fmt: skip


def test_a_checkin_asks_five_questions_and_takes_an_empty_answer_as_none(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    ran = fallow("checkin", "runa", home=home, typed=ANSWERS)
    document = _checkin(home, ran)
    assert str(document.pop("date")).startswith("20")
    assert document == {
        "stairs_unaided": True, "squat_unaided": False, "soreness": 3, "pain": 2, "pain_where": "left calf",
        "energy": 6, "mood": 7, "symptoms": ["fever", "dark urine"],
    }  # fmt: skip
    assert ran.err.count("/5  ") == 5


def test_a_checkin_with_a_sign_for_a_doctor_says_so_at_once(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    ran = fallow("checkin", "runa", "--symptom", "chest pain", "--date", "2026-10-06", home=home)
    said = " ".join(ran.out.split())
    assert "STOP: the check-in tells of" in said
    assert "to a doctor at once" in said
    quiet = fallow("checkin", "runa", "--symptom", "no fever", "--soreness", "3", "--date", "2026-10-06", home=home)
    assert "STOP" not in quiet.out
    assert "not understood" not in quiet.out
    other = fallow("checkin", "runa", "--symptom", "vondt i magen", "--date", "2026-10-06", home=home)
    assert "Named and not understood: vondt i magen." in " ".join(other.out.split())


def _flags(home: Path) -> list[str]:
    """Signs for a doctor that stand, after what lies in the folder was read."""
    assert fallow("scan", home=home).status == 0
    reasons = fallow("status", "--json", home=home).json()[0]["decision"]["reasons"]
    return [each["text"] for each in reasons if each["kind"] == "red_flag"]


def test_a_checkin_answers_a_sign_for_a_doctor_and_says_what_is_left(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    roster = home / "roster.toml"
    lately = (datetime.now(UTC) - timedelta(days=5)).isoformat(timespec="seconds")
    roster.write_text(re.sub(r"finish = \S+", f"finish = {lately}", roster.read_text("utf-8"), count=1), "utf-8")
    assert fallow("checkin", "runa", "--symptom", "fever", "--symptom", "chest pain", home=home).status == 0
    assert len(_flags(home)) == 2
    assert "Still open: 'chest pain'" in fallow("checkin", "runa", "--mood", "7", home=home).out.replace("\n", " ")
    assert len(_flags(home)) == 2
    part = fallow("checkin", "runa", "--gone", "fever", "--gone", "a blister", home=home).out.replace("\n", " ")
    assert "Nothing told before is called 'a blister'." in part
    assert "Still open: 'chest pain'" in part
    assert "chest pain" in " ".join(_flags(home))
    asked = fallow("checkin", "runa", typed="\n\n\n\nno\nn\ny\nDr Berg\n", home=home)
    assert "You told of 'chest pain'" in asked.err
    assert "Still open" not in asked.out
    assert _flags(home) == []


def test_by_without_a_doctor_is_wrong_use(tmp_path: Path) -> None:
    ran = fallow("checkin", "runa", "--by", "Dr Berg", home=make_home(tmp_path / "home", files={}))
    assert ran.status == 2
    assert "--seen-doctor" in ran.err


def test_a_checkin_asks_again_after_an_answer_that_cannot_be(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    document = _checkin(home, fallow("checkin", "runa", home=home, typed="maybe\ny\n11\n2\n\n\n\n"))
    assert document["soreness"] == 2
    assert "pain" not in document


def test_checkins_of_one_day_stand_beside_each_other_and_leave_no_half_file(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    for soreness in ("1", "2", "3"):
        fallow("checkin", "runa", "--soreness", soreness, "--date", "2026-10-13", home=home)
    names = sorted(path.name for path in (home / "exports/runa").iterdir())
    assert names == ["2026-10-13-2.checkin.json", "2026-10-13-3.checkin.json", "2026-10-13.checkin.json"]


def test_each_of_two_failed_tests_is_asked_as_a_whole_question(tmp_path: Path) -> None:
    ran = fallow("checkin", "runa", home=make_home(tmp_path / "home", files={}), typed=ANSWERS)
    assert "Can you take stairs up and down without holding on? (y/n)" in ran.err
    assert "Can you do a deep squat without help? (y/n)" in ran.err


def test_a_checkin_answers_other_programs_and_takes_the_word_of_the_file(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    flags = ("--symptoms", "chest pain", "--date", "2026-10-06", "--json")
    made = fallow("checkin", "runa", *flags, home=home).json()
    assert made["checkin"] == {"date": "2026-10-06", "symptoms": ["chest pain"]}
    assert Path(made["path"]).is_file()
    assert any("STOP" in line for line in made["says"])


def test_a_checkin_for_a_day_that_lies_ahead_is_refused(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    ran = fallow("checkin", "runa", "--pain", "1", "--date", "2199-01-01", home=home)
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert "lies ahead" in ran.err
    assert list((home / "exports/runa").iterdir()) == []


def test_a_checkin_needs_the_folder_to_be_there(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    (home / "exports/runa").rmdir()
    ran = fallow("checkin", "runa", "--pain", "1", home=home)
    assert ran.status == 1
    assert "the athlete's folder is not there" in ran.err


def test_a_checkin_that_was_written_is_read_by_the_next_scan(own: Path) -> None:
    fallow("checkin", "runa", "--stairs-unaided", "--squat-unaided", "--pain", "0", "--date", "2026-10-13", home=own)
    counts = fallow("scan", "--json", "--as-of", LATER, home=own).json()
    assert (counts["read"], counts["checkins"]) == (1, 1)


def test_a_hold_moves_the_days_and_a_release_restores_them(own: Path) -> None:
    before = fallow("plan", "runa", "--json", "--as-of", LATER, home=own).json()
    held = fallow("hold", "runa", "--days", "3", "--why", "calf", "--by", "Ida", "--as-of", LATER, home=own)
    assert "held for 3 days" in held.out
    after = fallow("plan", "runa", "--json", "--as-of", LATER, home=own).json()
    (hold,) = after["holds"]
    assert (hold["kind"], hold["days"], hold["why"], hold["by"]) == ("hold", 3, "calf", "Ida")
    assert after["race"]["last_day"] > before["race"]["last_day"]
    fallow("release", "runa", "--why", "fine again", "--by", "Ida", "--as-of", "2026-10-13T12:01", home=own)
    restored = fallow("plan", "runa", "--json", "--as-of", "2026-10-13T12:02", home=own).json()
    assert restored["race"]["last_day"] <= before["race"]["last_day"]
    assert [one["kind"] for one in restored["holds"]] == ["hold", "release"]


def test_holds_and_marks_outlive_the_store(own: Path) -> None:
    found = fallow("findings", "--rule", "no_running", "--json", home=own).json()[0]["id"]
    fallow("hold", "runa", "--days", "2", "--why", "calf", "--as-of", LATER, home=own)
    fallow("seen", found[:6], "--by", "Ida", "--note", "talked", home=own)
    fallow("rebuild", home=own)
    fallow("scan", "--as-of", LATER, home=own)
    assert fallow("plan", "runa", "--json", "--as-of", LATER, home=own).json()["holds"][0]["why"] == "calf"
    (again,) = fallow("findings", "--rule", "no_running", "--json", home=own).json()
    assert (again["seen_by"], again["seen"][0]["note"]) == (["Ida"], "talked")


def test_what_was_seen_is_open_no_more(own: Path) -> None:
    before = fallow("status", "--json", "--as-of", LATER, home=own).json()[0]["open_findings"]["stop"]
    found = fallow("findings", "--severity", "stop", "--json", home=own).json()[0]["id"]
    assert fallow("seen", found, "--by", "Ida", home=own).status == 0
    after = fallow("status", "--json", "--as-of", LATER, home=own).json()[0]["open_findings"]["stop"]
    assert after == before - 1


def test_explain_shows_numbers_times_limits_sources_advice_and_who_was_told(scanned: Path) -> None:
    finding = fallow("findings", "--rule", "intensity_ceiling", "--json", home=scanned).json()[0]
    shown = fallow("explain", finding["id"][:5], "--json", home=scanned).json()
    assert shown["summary"] == finding["summary"]
    assert shown["times"][0]["clock_from"].startswith("18:")
    assert {limit["name"] for limit in shown["limits"]} >= {"intensity_ceiling.caution_seconds", "zones.hrmax"}
    assert all(limit["source"] and limit["evidence"] for limit in shown["limits"])
    assert shown["advice"]
    assert shown["cautions"]
    assert shown["alerts"][0]["contact"] == "coach"
    told = fallow("explain", finding["id"], "--all", home=scanned)
    assert max(map(len, told.out.splitlines())) <= 80
    for words in ("Within the session", "The ceiling: ", "How sure: ", "What to do now", "Caution", "2026-10-09 18:00"):
        assert words in told.out


def test_the_board_is_one_private_file_whose_path_is_printed(own: Path) -> None:
    ran = fallow("board", "--as-of", LATER, home=own)
    assert ran.out.strip() == str(own / "board.html")
    assert "Runa Vik" in (own / "board.html").read_text("utf-8")
    assert (own / "board.html").stat().st_mode & 0o777 == 0o600
    assert fallow("board", "--json", "--as-of", LATER, home=own).json() == {"path": str(own / "board.html")}


def _open(home: Path) -> list[dict[str, object]]:
    return [one for one in fallow("findings", "--json", home=home).json() if not one["seen"]]


def test_several_are_marked_at_once(own: Path) -> None:
    first, second, *_ = _open(own)
    ran = fallow("seen", str(first["id"]), str(second["id"])[:8], "--by", "Ida", "--note", "talked", home=own)
    assert ran.status == 0, ran.err
    assert len(ran.out.splitlines()) == 2
    left = {one["id"] for one in _open(own)}
    assert not left & {first["id"], second["id"]}


def test_none_is_marked_where_one_is_not_known(own: Path) -> None:
    first = str(_open(own)[0]["id"])
    assert fallow("seen", first, "zzzz", home=own).status == 2
    assert first in {one["id"] for one in _open(own)}


def test_all_of_an_athlete_are_marked_up_to_a_day(own: Path) -> None:
    before = _open(own)
    last = sorted({str(one["date"]) for one in before})[-2]
    assert fallow("seen", "--athlete", "runa", "--all", "--until", last, "--by", "Ida", home=own).status == 0
    assert {one["id"] for one in _open(own)} == {one["id"] for one in before if str(one["date"]) > last}
    assert fallow("seen", "--athlete", "runa", "--all", home=own).status == 0
    assert _open(own) == []
    assert fallow("seen", "--athlete", "runa", "--all", home=own).out == "Nothing is open there.\n"


@pytest.mark.parametrize(
    "arguments",
    [(), ("--all",), ("--athlete", "runa"), ("abc", "--athlete", "runa", "--all"), ("abc", "--until", "2026-10-10")],
)
def test_seen_says_in_one_line_how_it_is_used(own: Path, arguments: tuple[str, ...]) -> None:
    ran = fallow("seen", *arguments, home=own)
    assert ran.status == 2
    assert "--athlete" in ran.err
    assert len(ran.err.splitlines()) == 1
