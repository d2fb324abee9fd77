from __future__ import annotations

from typing import Any

from monitor.views.first_word import Word, first_word
from tests.monitor.board.scenes import scene
from tests.rules.people import at, athlete, checkin, hold, race, session

DAYS = 7


def _word(*facts: Any, day: int = 20, seen: tuple[str, ...] = (), **more: Any) -> Word:
    known = scene(*facts, day=day, **more)
    marked = {each.id for each in known.standing if each.rule in seen}
    return first_word(known, marked, at(day, 12), DAYS)


def _all(day: int) -> list[Any]:
    """A check-in a day, so that nobody is quiet."""
    return [checkin(each, pain=0, stairs_unaided=True) for each in range(1, day + 1)]


def test_a_red_flag_comes_before_everything() -> None:
    flagged = _word(*_all(4), session(4), checkin(5, symptoms=("chest pain",)), day=5)
    stopped = _word(*_all(5), session(5, hour=11), day=5)
    assert flagged.rank < stopped.rank
    assert flagged.need == "a word now"
    assert flagged.why.startswith("Fri 9 Oct, see a doctor: The check-in tells of chest pain")


def test_of_a_session_that_broke_several_rules_the_first_of_the_catalogue_is_told() -> None:
    word = _word(*_all(4), session(4, minutes=80), day=4)
    assert word.severity == "stop"
    assert (
        word.why
        == "Thu 8 Oct, no running: A run of 80 min in a stage without running; 1 more finding not marked as seen."
    )


def test_the_newest_of_the_gravest_is_told() -> None:
    word = _word(*_all(6), session(3), session(6), day=6)
    assert word.why.startswith("Sat 10 Oct, no running")


def test_a_gate_that_waits_for_the_coach_is_told_when_the_stops_are_seen() -> None:
    word = _word(*_all(8), session(5), session(6), day=8, seen=("no_running", "rest_hours", "weekly_running"))
    assert word.need == "a word now"
    assert "held for the coach" in word.why
    assert word.why.endswith("It asks for a release by the coach.")
    assert word.severity == ""


def test_a_hold_of_the_coachs_own_waits_for_a_release() -> None:
    word = _word(*_all(9), hold(6), day=9)
    assert word.why == "Before cross-training: held since 2026-10-10: sore. It asks for a release."


def test_what_is_older_than_news_steps_back_and_is_not_forgotten() -> None:
    fresh = _word(*_all(20), session(17, "cycling", 70), day=20)
    old = _word(*_all(20), session(4), day=20)
    assert fresh.need == "a word soon"
    assert old.need == "in good time"
    assert fresh.rank < old.rank
    assert "no running" in old.why


def test_what_was_seen_needs_no_word() -> None:
    word = _word(*_all(20), session(4), day=20, seen=("no_running",))
    assert word.need == "nothing open"
    assert word.unseen == 0
    assert word.why == "Nothing open. The last session: Thu 8 Oct, 10:00, running, 30 min."


def test_silence_needs_a_word() -> None:
    word = _word(session(5, "cycling"), day=12, last_file_at=at(5, 12))
    assert word.need == "a word soon"
    assert word.why.startswith("Fri 9 Oct, gone quiet: ")


def test_silence_grows_no_older_while_it_lasts() -> None:
    assert _word(session(5, "cycling"), day=19, last_file_at=at(5, 12)).need == "a word soon"


def test_a_plan_that_is_over_is_over() -> None:
    word = _word(*_all(40), session(4), day=40)
    assert word.need == "nothing open"
    assert word.why == "The reverse taper is done since Sun 25 Oct; 1 finding in it not marked as seen."


def test_nobody_is_asked_about_without_a_race_or_a_file() -> None:
    assert _word(runner=athlete(race(), hr_max=None), day=-20).why == "Nothing has come in yet."
