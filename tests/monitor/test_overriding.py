"""What was answered by a slip is taken back: from the store, from the journal, from what people were told."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from monitor.errors import WrongUse
from monitor.home import Home
from monitor.overriding import hold, mark_all_seen, release, undo
from monitor.rebuilding import rebuild
from monitor.roster import Roster, read_roster
from monitor.store import findings
from monitor.store.database import Store
from tests.homes import LATER, OSLO, ROSTER, SECOND, fallow, make_home
from tests.targets import Target, http_target

NOW = datetime.fromisoformat(LATER).replace(tzinfo=OSLO)
MINUTE = timedelta(minutes=1)
IDA = "Coach Ida"


@contextmanager
def told_home(path: Path) -> Iterator[tuple[Home, Roster, Target]]:
    """A home whose files were read and whose messages have arrived: cross-training waits for a check-in."""
    with http_target() as target:
        home = Home(make_home(path, url=target.url()))
        assert fallow("scan", "--as-of", LATER, home=home.path).status == 0
        yield home, read_roster(home.roster), target


@pytest.fixture
def scene(tmp_path: Path) -> Iterator[tuple[Home, Roster, Target]]:
    with told_home(tmp_path / "home") as made:
        yield made


def marks_of(home: Home) -> set[str]:
    with Store(home.store).reading() as con:
        return set(findings.marks(con))


def holds_of(home: Home) -> list[str]:
    with Store(home.store).reading() as con:
        return [each.kind for each in findings.holds(con, ["runa"])["runa"]]


def stage_of(home: Home, at: datetime) -> str:
    plan = fallow("plan", "runa", "--json", "--as-of", at.isoformat(), home=home.path).json()
    return str(plan["today"]["stage"])


def titles_after(home: Home, target: Target, at: datetime) -> list[str]:
    """Titles of what a pass at this moment sends."""
    before = len(target.accepted)
    assert fallow("scan", "--as-of", at.isoformat(), home=home.path).status == 0
    return target.titles[before:]


def test_marks_that_are_taken_back_are_gone_also_after_a_rebuild(scene: tuple[Home, Roster, Target]) -> None:
    home, roster, _ = scene
    ids = [each["id"] for each in fallow("findings", "--json", home=home.path).json()]
    mark_all_seen(home, ids[:1], IDA, "talked", NOW - MINUTE)
    mark_all_seen(home, ids[1:3], IDA, "", NOW)
    undo(home, roster, "runa", IDA, NOW, NOW + 3 * MINUTE)
    assert marks_of(home) == set(ids[:1])
    rebuild(home, datetime.now(UTC))
    assert marks_of(home) == set(ids[:1])


@pytest.mark.parametrize("kind", ["hold", "release"])
def test_a_hold_or_release_that_is_taken_back_leaves_the_plan_as_it_was(
    scene: tuple[Home, Roster, Target], kind: str
) -> None:
    home, roster, _ = scene
    before = fallow("plan", "runa", "--json", "--as-of", LATER, home=home.path).json()
    if kind == "hold":
        hold(home, roster, "runa", NOW.date(), 5, "calf", IDA, NOW)
    else:
        release(home, roster, "runa", NOW.date(), "fine", IDA, NOW)
    changed = fallow("plan", "runa", "--json", "--as-of", (NOW + MINUTE).isoformat(), home=home.path).json()
    assert changed["stages"] != before["stages"]
    undo(home, roster, "runa", IDA, NOW, NOW + 2 * MINUTE)
    after = fallow("plan", "runa", "--json", "--as-of", LATER, home=home.path).json()
    assert (after["stages"], after["holds"]) == (before["stages"], [])
    rebuild(home, datetime.now(UTC))
    assert holds_of(home) == []


def test_it_can_be_taken_back_for_ten_minutes_by_whoever_answered_and_once(
    scene: tuple[Home, Roster, Target],
) -> None:
    home, roster, _ = scene
    hold(home, roster, "runa", NOW.date(), 5, "calf", IDA, NOW)
    journal = home.journal.read_bytes()
    refused = (
        (IDA, NOW, NOW + 10 * MINUTE + timedelta(microseconds=1)),
        (IDA, NOW, NOW - MINUTE),
        ("Odd", NOW, NOW + MINUTE),
        (IDA, NOW - MINUTE, NOW + MINUTE),
    )
    for by, given_at, now in refused:
        with pytest.raises(WrongUse):
            undo(home, roster, "runa", by, given_at, now)
    assert (holds_of(home), home.journal.read_bytes()) == (["hold"], journal)
    undo(home, roster, "runa", IDA, NOW, NOW + 10 * MINUTE)
    assert holds_of(home) == []
    with pytest.raises(WrongUse):
        undo(home, roster, "runa", IDA, NOW, NOW + 10 * MINUTE)


def test_what_an_answer_told_and_nobody_has_read_is_not_sent_once_it_is_taken_back(
    scene: tuple[Home, Roster, Target],
) -> None:
    home, roster, target = scene
    assert stage_of(home, NOW) == "days_off"
    release(home, roster, "runa", NOW.date(), "fine", IDA, NOW)
    assert stage_of(home, NOW + MINUTE) == "cross_training"
    undo(home, roster, "runa", IDA, NOW, NOW + 2 * MINUTE)
    assert titles_after(home, target, NOW + 3 * MINUTE) == []


def test_who_was_told_that_a_stage_begins_hears_that_it_waits_after_all(scene: tuple[Home, Roster, Target]) -> None:
    home, roster, target = scene
    release(home, roster, "runa", NOW.date(), "fine", IDA, NOW)
    assert titles_after(home, target, NOW + MINUTE) == ["Runa: cross-training begins today (day 9 of 22)"]
    undo(home, roster, "runa", IDA, NOW, NOW + 2 * MINUTE)
    assert titles_after(home, target, NOW + 3 * MINUTE) == ["Runa: cross-training waits"]
    assert stage_of(home, NOW + 3 * MINUTE) == "days_off"
    later = NOW + 5 * MINUTE
    release(home, roster, "runa", NOW.date(), "seen by the physiotherapist", IDA, later)
    again = titles_after(home, target, later + MINUTE)
    assert again == ["Runa: cross-training begins today (day 9 of 22)"], "what comes true again is told again"
    assert titles_after(home, target, later + 2 * MINUTE) == []


def test_a_word_on_one_athlete_waits_for_the_judgement_of_no_other(tmp_path: Path) -> None:
    text = ROSTER.format(url="json://127.0.0.1:9/nobody") + SECOND
    race = '\n[[athlete.race]]\nevent = "marathon"\nfinish = 2026-10-04T13:47:00\n'
    home = Home(make_home(tmp_path / "home", text + race))
    (home.path / "exports/odd").mkdir()
    assert fallow("scan", "--as-of", LATER, home=home.path).status == 0
    with Store(home.store).reading() as con:
        before = findings.all_judged(con)
    hold(home, read_roster(home.roster), "runa", NOW.date(), 2, "", IDA, NOW + timedelta(hours=3))
    with Store(home.store).reading() as con:
        after = findings.all_judged(con)
    assert after["odd"] == before["odd"], "whose hour has come waits for the daemon"
    assert after["runa"] != before["runa"]
