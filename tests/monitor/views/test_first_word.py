from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from monitor.views.triage import FindingAnswers, Word, first_word
from rules.day import decide
from rules.facts import Hold
from tests.monitor.board.scenes import scene
from tests.rules.people import LIMITS, at, athlete, checkin, hold, race, release, session

DAYS = 7


def _word(
    *facts: Any, day: int = 20, seen: tuple[str, ...] = (), made: dict[str, int] | None = None, **more: Any
) -> Word:
    """`made` tells on which day, at noon, a rule's findings were made; else at the end of what they are about."""
    known, now = scene(*facts, day=day, **more), at(day, 12)
    marked = {each.id: [{"by": "Ida"}] for each in known.standing if each.rule in seen}
    made_at = {each.id: at(made[each.rule], 12) for each in known.standing if made and each.rule in made}
    decision = decide(known.made.judgement, known.facts, now, LIMITS)
    return first_word(known.made, known.standing, decision, FindingAnswers(marked, made_at), now, DAYS, LIMITS)


def _all(day: int) -> list[Any]:
    """A check-in a day, so that nobody is quiet."""
    return [checkin(each, pain=0, stairs_unaided=True) for each in range(1, day + 1)]


def test_a_red_flag_comes_before_everything() -> None:
    flagged = _word(*_all(4), session(4), checkin(5, symptoms=("chest pain",)), day=5)
    stopped = _word(*_all(5), session(5, hour=11), day=5)
    assert flagged.rank < stopped.rank
    assert flagged.need == "now"
    assert flagged.why.startswith("Fri 9 Oct, see a doctor: The check-in tells of chest pain")


def test_of_a_session_that_broke_several_rules_the_first_of_the_catalogue_is_told() -> None:
    word = _word(*_all(4), session(4, minutes=80), day=4)
    assert word.severity == "stop"
    assert word.why == "Thu 8 Oct, no running: A run of 80 min in a stage without running; 1 more not marked as seen."


def test_the_newest_of_the_gravest_is_told() -> None:
    word = _word(*_all(6), session(3), session(6), day=6)
    assert word.why.startswith("Sat 10 Oct, no running")


def test_a_gate_that_waits_for_the_coach_is_told_when_the_stops_are_seen() -> None:
    word = _word(*_all(8), session(5), session(6), day=8, seen=("no_running", "rest_hours", "weekly_running"))
    assert word.need == "now"
    assert "held for the coach" in word.why
    assert word.do == "Talk it over, then `fallow release runa`."
    assert word.severity == ""


def test_a_hold_of_the_coachs_own_waits_for_a_release() -> None:
    word = _word(*_all(9), hold(6), day=9)
    assert (word.need, word.why) == ("not", "Cross-training waits: held since Sat 10 Oct: sore."), "they know"
    assert word.do == "It asks for a release."


@pytest.mark.parametrize("answer", [hold, release])
def test_what_the_coach_answered_after_it_was_made_needs_no_word_now(answer: Callable[..., Hold]) -> None:
    facts = (*_all(6), session(5))
    assert _word(*facts, day=6).need == "now"
    answered = _word(*facts, answer(6), day=6)
    assert answered.need == "not"
    before = _word(*facts, answer(5, hour=9), day=6)
    assert before.need == "now", "a word from before the run is no answer to it"
    late = _word(*facts, answer(6, hour=11), day=6, made={"no_running": 6})
    assert late.need == "now", "nor one from before the file came"


def test_an_answer_is_named() -> None:
    word = _word(*_all(6), session(5), release(6), day=6)
    assert word.do == "Answered: released on Sat 10 Oct by somebody."


def test_it_says_what_the_coach_should_do_and_which_finding_to_look_at() -> None:
    word = _word(*_all(5), session(5, hour=11), day=5)
    assert word.do.startswith("Ran in the days off.")
    assert word.finding
    calm = _word(*_all(20), day=20)
    assert (calm.need, calm.finding, calm.do) == ("not", "", "")


def test_a_red_flag_needs_a_word_for_as_long_as_it_stands() -> None:
    flag = checkin(3, symptoms=("chest pain",))
    assert _word(flag, day=14).need == "now", "long after what is news"
    assert _word(flag, checkin(5, gone=("chest pain",)), day=14).need == "not"


def test_what_is_older_than_news_steps_back_and_is_not_forgotten() -> None:
    fresh = _word(*_all(20), session(17, "cycling", 70), day=20)
    old = _word(*_all(20), session(4), day=20)
    assert fresh.need == "today"
    assert old.need == "not"
    assert fresh.rank < old.rank
    assert "no running" in old.why


def test_what_was_seen_needs_no_word() -> None:
    word = _word(*_all(20), session(4), day=20, seen=("no_running",))
    assert word.need == "not"
    assert word.unseen == 0
    assert word.why == "Nothing open. The last session: Thu 8 Oct, 10:00, running, 30 min."


def test_silence_needs_a_word() -> None:
    word = _word(session(5, "cycling"), day=12, last_file_at=at(5, 12))
    assert word.need == "today"
    assert word.why.startswith("Fri 9 Oct, gone quiet: ")


def test_silence_grows_no_older_while_it_lasts() -> None:
    assert _word(session(5, "cycling"), day=19, last_file_at=at(5, 12)).need == "today"


def test_a_plan_that_is_over_is_over() -> None:
    word = _word(*_all(40), session(4), day=40)
    assert word.need == "not"
    assert word.why == "The reverse taper is done since Sun 25 Oct; 1 finding in it not marked as seen."


def test_nobody_is_asked_about_without_a_race_or_a_file() -> None:
    assert _word(runner=athlete(race(), hr_max=None), day=-20).why == "Nothing has come in yet."


def test_who_has_no_coach_is_spoken_to_and_not_of() -> None:
    alone = replace(athlete(), coached=False)
    stopped = _word(*_all(4), session(4), day=4, runner=alone)
    assert stopped.do.startswith("The next stage waits for 65 h of rest from the end of this run")
    waits = _word(*_all(8), session(5), session(6), day=8, seen=("no_running", "rest_hours"), runner=alone)
    assert waits.do == "Sleep on it, then `fallow release runa`."
