"""Remarks on health ask and name whom to ask; they change no limit and go into no message."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from rules.facts import HEALTH
from rules.today import Today, today
from tests.rules.people import LIMITS, at, athlete, checkin, history, judged, on, race

WORDS = {
    "beta_blocker": ("reassures falsely", "doctor who prescribes"),
    "pacemaker": ("reassures falsely", "cardiologist"),
    "insulin": ("reassures falsely", "diabetes team"),
    "nsaid": ("pain and stairs then tell less", "pharmacist"),
    "under_18": ("not judged here", "doctor"),
    "low_energy": ("Do you eat enough", "sports physician"),
}


def day(number: int, *facts: Any, **more: Any) -> Today:
    runner = athlete(race(), **more)
    now = at(number, 7)
    return today(judged(*facts, runner=runner, now=now), history(*facts, runner=runner), now, LIMITS)


def test_every_key_of_health_has_its_remark() -> None:
    assert set(WORDS) == set(HEALTH)


@pytest.mark.parametrize("key", HEALTH)
def test_a_key_of_health_adds_its_remark_and_changes_no_limit(key: str) -> None:
    plain, told = day(10), day(10, health=(key,))
    [remark] = told.remarks
    assert all(words in remark for words in WORDS[key])
    assert "?" in remark or "ask" in remark.casefold()
    assert plain.remarks == ()
    same = [name for name in Today.__slots__ if name not in {"remarks", "sentences"}]
    assert [getattr(plain, name) for name in same] == [getattr(told, name) for name in same]


@pytest.mark.parametrize("key", HEALTH)
def test_no_remark_is_among_the_sentences_that_are_sent(key: str) -> None:
    for number in (1, 5, 10, 16):
        said = " ".join(day(number, health=(key,)).sentences)
        assert WORDS[key][0] not in said
        assert key == "nsaid" or key.replace("_", " ") not in said.casefold()


def test_where_the_heart_rate_misleads_the_day_goes_by_effort() -> None:
    assert any("Heart rate up to" in each for each in day(10).sentences)
    for key in ("beta_blocker", "pacemaker", "insulin"):
        said = day(10, health=(key,)).sentences
        assert not any("Heart rate up to" in each for each in said)
        assert any(each.startswith("At most 13 of 20") for each in said)


def test_painkillers_are_spoken_of_in_the_days_around_the_race() -> None:
    assert any("NSAID" in each for each in day(3).notes)
    assert not any("NSAID" in each for each in day(4).notes)


def test_the_year_of_birth_alone_tells_of_a_young_athlete() -> None:
    assert any("Under 18" in each for each in day(10, born=2009).remarks)
    assert any("Under 18" in each for each in day(10, born=2008).remarks), "17 or 18: the younger is taken"
    assert day(10, born=2007).remarks == ()


def test_the_weeks_after_a_birth_are_counted_and_end() -> None:
    assert "12 weeks after a birth" in day(10, gave_birth=on(10) - timedelta(weeks=12)).remarks[0]
    assert "25 weeks" in day(10, gave_birth=on(10) - timedelta(weeks=26) + timedelta(days=1)).remarks[0]
    assert day(10, gave_birth=on(10) - timedelta(weeks=26)).remarks == ()
    assert day(10, gave_birth=on(11)).remarks == ()
    assert "0 weeks" in day(10, gave_birth=on(10)).remarks[0]


def test_a_bone_that_hurts_asks_whether_there_is_enough_to_eat() -> None:
    assert any("eat enough" in each for each in day(10, checkin(9, symptoms=("stress fracture",))).remarks)
