"""The check-in from the phone: written as the command writes it, once, and answered with what today allows now."""

from __future__ import annotations

import json
import os
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from monitor import words
from monitor.judging import view
from monitor.pages.athlete import KEPT_ON_THE_PHONE
from monitor.roster import read_roster
from monitor.store.connections import StoreHeld
from monitor.store.database import Store
from rules.body.checkins import see_a_doctor
from rules.facts import CheckIn
from rules.findings import Severity
from rules.limits import default_limits
from tests.homes import fallow
from tests.monitor.pages.scene import HERE, NOW, ODD, Pages, filled, sent, words_of

ALL_WELL = {
    "stairs_unaided": "yes", "squat_unaided": "yes", "soreness": "2", "pain": "0", "energy": "7", "mood": "8",
}  # fmt: skip
BEFORE = (NOW - timedelta(minutes=10)).isoformat()


def _written(pages: Pages) -> list[dict[str, Any]]:
    found = [path for path in pages.folder.rglob("*.checkin.json") if "-" in path.stem[17:]]
    return [json.loads(path.read_text("utf-8")) for path in sorted(found)]


def test_a_check_in_is_a_file_as_the_command_writes_it(pages: Pages) -> None:
    browser = pages.opened()
    answers = {**ALL_WELL, "pain": "3", "pain_where": " left calf ", "symptom_more": "cold feet, tired", "note": "ok"}
    answer = sent(browser, filled(browser, **answers))
    assert (answer.status_code, answer.headers["location"]) == (303, "/?noted")
    (document,) = _written(pages)
    assert document == {
        "date": "2026-10-13T12:00:00+02:00", "stairs_unaided": True, "squat_unaided": True, "soreness": 2, "pain": 3,
        "energy": 7, "mood": 8, "pain_where": "left calf", "symptoms": ["cold feet", "tired"], "note": "ok",
    }  # fmt: skip
    (path,) = [one for one in (pages.folder / "checkins").iterdir() if "2026-10-13" in one.name]
    assert path.stat().st_mode & 0o077 == 0


def test_today_changes_at_once_before_any_daemon_has_read_the_file(pages: Pages) -> None:
    browser = pages.opened()
    before = words_of(browser.get("/"))
    assert "Walking only until a check-in says it is better" in before
    sent(browser, filled(browser, **ALL_WELL))
    after = words_of(browser.get("/"))
    assert "Walking only" not in after
    assert "Noted today: stairs yes, squat yes, soreness 2, pain 0, energy 7, mood 8." in after


def test_the_page_says_what_the_command_says_before_and_after_the_file_is_read(pages: Pages) -> None:
    browser = pages.opened()
    sent(browser, filled(browser, **ALL_WELL))
    first = words_of(browser.get("/"))
    for path in (pages.folder / "checkins").iterdir():
        os.utime(path, (1, 1))
    assert fallow("scan", "--as-of", NOW.isoformat(), home=pages.path).status == 0
    told = fallow("today", "runa", "--as-of", NOW.isoformat(), "--json", home=pages.path).json()
    for page in (first, words_of(browser.get("/"))):
        assert told["answer"][1:] in page
        for sentence in told["sentences"]:
            assert " ".join(sentence.split()) in page.replace("&#39;", "'")


def test_the_same_sent_again_is_taken_for_sent_and_written_once(pages: Pages) -> None:
    browser = pages.opened()
    data = filled(browser, **ALL_WELL)
    assert [sent(browser, data).status_code for _ in range(3)] == [303, 303, 303]
    assert len(_written(pages)) == 1
    other = Pages(pages.path).following  # another process over the same home knows it too
    again = other(pages.links.make(pages.links.of_session(_cookie(browser)), datetime.now(UTC)))
    assert sent(again, {**filled(again, **ALL_WELL), "once": data["once"]}).status_code == 303
    assert len(_written(pages)) == 1
    assert sent(again, filled(again, **ALL_WELL)).status_code == 303
    assert len(_written(pages)) == 2, "while a second check-in is a second one"


def _cookie(browser: Any) -> str:
    return str(browser.headers["cookie"]).partition("=")[2]


@pytest.mark.parametrize("once", ["", "short", "../../../../etc/passwd00", "a" * 65, "<script>aaaaaaaaaa"])
def test_a_name_of_a_sending_that_no_page_made_is_refused(pages: Pages, once: str) -> None:
    browser = pages.opened()
    assert sent(browser, {**filled(browser, **ALL_WELL), "once": once}).status_code == 400
    assert _written(pages) == []


@pytest.mark.parametrize(
    ("back", "kept"),
    [
        (timedelta(hours=5), True),
        (KEPT_ON_THE_PHONE, True),
        (KEPT_ON_THE_PHONE + timedelta(seconds=1), False),
        (-timedelta(minutes=1), False),
    ],
)
def test_answers_kept_on_the_phone_count_as_of_when_they_were_given(pages: Pages, back: timedelta, kept: bool) -> None:
    browser = pages.opened()
    at = (NOW - back).astimezone(UTC)
    sent(browser, filled(browser, said_at=at.isoformat().replace("+00:00", "Z"), **ALL_WELL))
    (document,) = _written(pages)
    assert datetime.fromisoformat(document["date"]) == (at if kept else NOW)


def test_an_answer_that_is_wrong_is_named_and_the_rest_stays_in_the_form(pages: Pages) -> None:
    browser = pages.opened()
    answer = sent(browser, filled(browser, **{**ALL_WELL, "pain": "11", "note": "keep me"}))
    assert answer.status_code == 400
    assert "Pain: must be a number from 0 to 10." in words_of(answer)
    assert ">keep me</textarea>" in answer.text
    assert 'name="soreness" value="2" checked' in answer.text
    assert _written(pages) == []


def test_an_empty_check_in_is_said_to_be_none(pages: Pages) -> None:
    browser = pages.opened()
    answer = sent(browser, filled(browser))
    assert (answer.status_code, "without an answer" in words_of(answer)) == (400, True)


@pytest.mark.parametrize("symptom", words.interview.SYMPTOMS)
def test_each_symptom_that_is_asked_for_by_name_is_a_sign_for_a_doctor(symptom: str) -> None:
    found = see_a_doctor(CheckIn(date(2026, 10, 5), 0.0, symptoms=(symptom,)), 1)
    assert found is not None
    assert found.severity is Severity.STOP


def test_a_sign_for_a_doctor_is_answered_at_once_and_before_all_else(pages: Pages) -> None:
    browser = pages.opened()
    sent(browser, filled(browser, symptom=["chest pain"], said_at=BEFORE, **ALL_WELL))
    said = words_of(browser.get("/"))
    assert said.startswith("Before all else STOP")
    assert "call" in said.lower()
    sent(browser, filled(browser, gone=["chest pain"], **ALL_WELL))
    assert "Before all else" not in words_of(browser.get("/"))


def test_a_sign_told_before_is_asked_about_in_the_next_check_in(pages: Pages) -> None:
    browser = pages.opened()
    assert "is it gone?" not in browser.get("/checkin").text
    sent(browser, filled(browser, symptom=["fever"], said_at=BEFORE))
    assert "fever (Tue 13 Oct) is gone" in browser.get("/checkin").text
    sent(browser, filled(browser, seen_doctor="yes", doctor="Dr Berg"))
    assert _written(pages)[-1]["seen_doctor"] == "Dr Berg"
    assert "is it gone?" not in browser.get("/checkin").text


def test_a_symptom_that_no_page_offers_does_not_come_in_by_the_list(pages: Pages) -> None:
    browser = pages.opened()
    sent(browser, filled(browser, symptom=["x" * 50], pain="0"))
    assert "symptoms" not in _written(pages)[0]


def test_a_folder_that_takes_nothing_is_said_and_the_answers_stay_with_the_phone(pages: Pages) -> None:
    browser = pages.opened()
    data = filled(browser, **ALL_WELL)
    pages.folder.rename(pages.folder.with_name("away"))
    answer = sent(browser, data)
    assert answer.status_code == 503, "which the page's script takes for not sent"
    assert str(pages.folder) not in answer.text
    pages.folder.with_name("away").rename(pages.folder)
    assert sent(browser, data).status_code == 303
    assert len(_written(pages)) == 1


def test_nothing_is_written_through_a_link_in_the_place_of_the_folder(pages: Pages, tmp_path: Path) -> None:
    browser = pages.opened()
    elsewhere = tmp_path / "elsewhere"
    (pages.folder / "checkins").rename(elsewhere)
    (pages.folder / "checkins").symlink_to(elsewhere)
    before = sorted(elsewhere.iterdir())
    assert sent(browser, filled(browser, **ALL_WELL)).status_code == 503
    assert sorted(elsewhere.iterdir()) == before


def test_only_check_ins_and_received_are_written_and_only_in_the_own_folder(pages: Pages) -> None:
    before = set((pages.path / "exports").rglob("*"))
    browser = pages.opened()
    sent(browser, filled(browser, **ALL_WELL))
    browser.post(
        "/received",
        data={"token": filled(browser)["token"]},
        files={"files": ("a.csv", b"date,resting_hr\n2026-10-12,50\n")},
        headers={"origin": HERE},
    )
    new = set((pages.path / "exports").rglob("*")) - before
    assert {path.relative_to(pages.folder).parts[0] for path in new} == {"checkins", "received"}


def test_the_page_is_shown_while_another_process_holds_the_store(pages: Pages) -> None:
    browser = pages.opened()
    sent(browser, filled(browser, pain="0", said_at=BEFORE))
    browser.get("/")
    reading = pages.app.state.pages.reading
    os.utime(pages.home.store)  # as if it had been written to
    with pytest.MonkeyPatch.context() as patch:

        def held(*_: object) -> None:
            raise StoreHeld("held")

        patch.setattr(reading, "_read", held)
        assert browser.get("/").status_code == 200
        assert sent(browser, filled(browser, **ALL_WELL)).status_code == 303
        assert "Noted today: stairs yes" in words_of(browser.get("/"))
        reading._kept.clear()
        assert browser.get("/").status_code == 503


def test_what_was_just_sent_is_shown_though_another_of_today_counts_as_of_an_hour_to_come(pages: Pages) -> None:
    later = {"date": "2026-10-13T12:30:00+02:00", "energy": 1}  # as one without a time does in the morning
    (pages.folder / f"checkins/2026-10-13-{1:012x}.checkin.json").write_text(json.dumps(later), "utf-8")
    browser = pages.opened()
    assert "Noted today: energy 1" in words_of(browser.get("/"))
    sent(browser, filled(browser, said_at=BEFORE, **ALL_WELL))
    assert "Noted today: stairs yes" in words_of(browser.get("/"))


def test_nobody_waits_behind_who_waits_for_the_store(pages: Pages) -> None:
    browser = pages.opened()
    assert browser.get("/").status_code == 200
    reading = pages.app.state.pages.reading
    os.utime(pages.home.store)
    with reading._turn:  # another phone is being answered, and waits for the store
        assert sent(browser, filled(browser, **ALL_WELL)).status_code == 303
        assert "Noted today: stairs yes" in words_of(browser.get("/"))


def test_who_has_a_link_is_read_along_with_the_first_who_asks(pages: Pages, monkeypatch: pytest.MonkeyPatch) -> None:
    odd, runa = pages.opened(ODD), pages.opened()
    assert runa.get("/").status_code == 200
    monkeypatch.setattr(pages.app.state.pages.reading, "_read", None)
    assert odd.get("/").status_code == 200
    assert set(pages.app.state.pages.reading._kept) == {"runa", "odd"}, "and nobody else, who could not ask"


def test_a_home_without_a_store_shows_a_day_without_facts(pages: Pages) -> None:
    pages.home.store.unlink()
    browser = pages.opened()
    assert browser.get("/").status_code == 200
    assert not pages.home.store.exists(), "and makes none"


def test_a_check_in_file_that_is_odd_keeps_nobody_from_the_page(pages: Pages) -> None:
    browser = pages.opened()
    folder = pages.folder / "checkins"
    for number, content in enumerate((b"{", b"[]", b"\xff" * 100, b'{"date": "x", "pain": 1}', b" " * 100_000)):
        (folder / f"2026-10-13T00000{number}-{number:012x}.checkin.json").write_bytes(content)
    os.mkfifo(folder / f"2026-10-13T000009-{9:012x}.checkin.json")
    (folder / f"2026-10-13T000010-{10:012x}.checkin.json").symlink_to("/dev/zero")
    assert browser.get("/").status_code == 200


def test_what_a_page_reads_is_what_the_store_holds(pages: Pages) -> None:
    """No second truth: the same plans and findings as the full judgement."""
    roster = read_roster(pages.home.roster)
    with Store(pages.home.store).reading() as con:
        whole = view(con, roster, roster.athletes[0], NOW, default_limits())
    look = pages.app.state.pages.look("runa")
    assert look.known.made.judgement.plans == whole.judgement.plans
    assert {one.id for one in look.known.standing} == {one.id for one in whole.judgement.findings}


def test_a_finding_is_shown_with_its_numbers_times_and_sources(pages: Pages) -> None:
    browser = pages.opened()
    above = next(one for one in pages.standing() if one.rule == "intensity_ceiling")
    said = words_of(browser.get(f"/f/{above.id}"))
    for part in ("25 min above 120 bpm", "The numbers", "When, within the session", "on the clock", "Garber"):
        assert part in said, part


def test_reading_says_that_the_work_failed_where_the_store_is_broken(pages: Pages) -> None:
    browser = pages.opened()
    pages.home.store.write_bytes(b"no store" * 10_000)
    answer = browser.get("/")
    assert (answer.status_code, "cannot read its store" in words_of(answer)) == (503, True)
