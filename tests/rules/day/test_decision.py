"""The decision of a day: the strictest open reason rules, and says until when."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from rules import words as rule_words
from rules.day import ATHLETE, COACH, Decision, Reason, decide
from rules.facts import Athlete
from rules.history import in_order
from tests.rules.people import LIMITS, at, athlete, checkin, history, judged, mornings, on, plan, race, release, session


def decided(day: int, *facts: Any, hour: float = 7, runner: Athlete | None = None) -> Decision:
    now = at(day, hour)
    judgement = judged(*facts, runner=runner, now=now)
    return decide(judgement, in_order(history(*facts, runner=runner), LIMITS), now, LIMITS)


def kinds(decision: Decision) -> list[str]:
    return [each.kind for each in decision.reasons]


def test_a_quiet_day_allows_what_the_stage_has() -> None:
    one = decided(10)
    assert (one.movement, one.allowed_min, one.running, one.run_allowed_min, one.reasons) == (
        "sport",
        60,
        "none",
        0,
        (),
    )
    assert rule_words.day.answer(one) == "60 min easy, no running"


def test_after_a_stop_there_is_walking_only_until_the_hours_are_over() -> None:
    run = session(10, hour=18, minutes=30)  # to 18:30; 65 h later it is day 13, 11:30
    one = decided(11, run)
    assert (one.movement, one.allowed_min, one.run_allowed_min, one.running) == ("walking", 0, 0, "none")
    assert kinds(one) == ["stop"]
    assert one.reasons[0].finding is not None
    assert rule_words.day.answer(one) == "walking only until Sat 11:30"
    assert one.walking_only_until == at(13, 11.5)
    assert decided(13, run, hour=11.4).rest
    after = decided(13, run, hour=11.5)
    assert (after.movement, after.allowed_min, after.running) == ("sport", 60, "none")


def test_a_stop_takes_the_tolerated_run_away_for_good() -> None:
    assert decided(13).running == "tolerated"
    assert decided(14, session(9, hour=8), hour=12).running == "none"
    assert decided(14, session(9, hour=8), hour=12).run_allowed_min == 0
    judgement = judged(session(9, hour=8), session(14, minutes=15), now=at(14, 20))
    assert [str(each.severity) for each in judgement.findings if each.rule == "no_running"] == ["stop", "stop"]


def test_the_hours_after_the_finish_end_on_the_clock_and_the_stage_follows() -> None:
    early = decided(3, hour=6)
    assert (early.allowed_min, early.movement) == (0, "walking")
    assert early.ends_today
    assert any(each.startswith("After that: up to 45 min") for each in rule_words.day.now_words(early))
    assert decided(3, hour=7).allowed_min == 45


@pytest.mark.parametrize(
    ("answers", "kind"),
    [({"pain": 4.0}, "pain"), ({"stairs_unaided": False}, "stairs"), ({"squat_unaided": False}, "squat")],
)
def test_bad_answers_of_a_checkin_advise_rest_until_a_better_one(answers: dict[str, Any], kind: str) -> None:
    bad = checkin(9, **answers)
    assert kinds(decided(10, bad)) == [kind]
    assert decided(10, bad).allowed_min == 0
    assert rule_words.day.answer(decided(10, bad)) == "walking only until a check-in says it is better"
    assert decided(11, bad, checkin(10, mood=3.0)).rest
    better = checkin(10, pain=3.9, stairs_unaided=True, squat_unaided=True)
    assert decided(11, bad, better).allowed_min == 60


def test_resting_heart_rate_up_on_two_mornings_and_variability_at_caution_advise_rest() -> None:
    up = mornings({9: 60.0, 10: 60.0})
    assert kinds(decided(10, up)) == ["resting_hr"]
    assert rule_words.day.answer(decided(10, up)) == "walking only today"
    assert not decided(11, mornings({9: 60.0, 10: 60.0, 11: 48.0})).rest
    low = mornings(None, dict.fromkeys((8, 9, 10), 20.0))
    assert "hrv" in kinds(decided(10, low))
    assert not decided(20, low).rest


def test_a_release_answers_what_was_known_to_the_minute() -> None:
    bad = checkin(9, pain=7.0, order=at(9, 19).timestamp())
    assert decided(10, bad, release(9, 8)).rest
    assert not decided(10, bad, release(9, 19)).rest
    assert not decided(10, bad, release(10, 6)).rest
    again = checkin(10, pain=7.0, order=at(10, 19).timestamp())
    assert decided(11, bad, release(10, 6), again).rest


def test_a_red_flag_stands_until_somebody_answers_it() -> None:
    ill = checkin(3, symptoms=("fever",))
    for day in (4, 9, 25, 60):
        one = decided(day, ill, checkin(8, mood=9.0))
        assert (one.movement, one.allowed_min, kinds(one)[0]) == ("nothing", 0, "red_flag")
        assert rule_words.day.answer(one) == "no training: fever, or illness below the neck"
    assert decided(9, ill, checkin(8, gone=("chest pain",))).flags
    assert not decided(9, ill, checkin(8, gone=("the fever",))).flags
    assert not decided(9, ill, checkin(8, gone=("all",))).flags
    assert not decided(9, ill, checkin(8, seen_doctor="Dr Berg")).flags
    assert not decided(9, ill, release(8)).flags
    assert decided(9, ill, release(8), checkin(8, symptoms=("fever",))).flags


def test_a_red_flag_shuts_the_gate_until_it_is_answered() -> None:
    ill = checkin(3, symptoms=("fever",))
    held = judged(ill, checkin(5, mood=9.0), now=at(40)).plans[0]
    assert held.stage_on(on(40)) == "days_off"
    assert held.gates[0].reasons[0].by == "red flag"
    well = judged(ill, checkin(9, gone=("fever",)), now=at(40)).plans[0]
    assert well.stage_on(on(9)) == "cross_training"


def test_an_emergency_calls_for_help_and_tells_the_coach_what_to_do() -> None:
    one = decided(10, checkin(9, symptoms=("chest pain",)))
    assert rule_words.day.answer(one).startswith("call for help now")
    assert "112, 999, 911" in rule_words.day.now_words(one, ATHLETE)[0]
    assert rule_words.day.now_words(one, COACH)[0].startswith("Phone now; make sure someone is with them")


def test_the_weeks_share_used_up_takes_running_away_and_names_what_is_left() -> None:
    ultra = athlete(race("ultra_100k"))
    before = [session(-35 - 7 * week - each, minutes=60) for week in range(6) for each in (2, 4, 6)]
    some = decided(24, before, session(22, minutes=36), runner=ultra)
    assert (some.week_left_min, some.run_allowed_min, some.running) == (54, 54, "share")
    assert "54 of 90 min of the week's running left" in rule_words.day.answer(some)
    used = decided(26, before, session(22, minutes=50), session(24, minutes=40), runner=ultra)
    assert (used.running, used.run_allowed_min, used.sport) == ("none", 0, True)
    assert "0 of 90 min of the week's running left" in rule_words.day.answer(used)


def test_what_is_used_of_the_day_bounds_a_run() -> None:
    one = decided(15, session(15, "cycling", 45, 8), hour=12)
    assert (one.left_min, one.run_allowed_min) == (15, 15)
    full = decided(15, session(15, "cycling", 60, 8), hour=12)
    assert (full.left_min, full.run_allowed_min, full.movement) == (0, 0, "walking")
    assert rule_words.day.answer(full) == "walking only for the rest of today"


def test_before_and_after_a_plan_nothing_is_limited() -> None:
    for day in (-3, 22):
        one = decided(day)
        assert (one.active, one.allowed_min, one.reasons, rule_words.day.now_words(one)) == (False, None, (), ())
    assert isinstance(one.now, datetime)


def test_what_ends_several_reasons_is_one_sentence() -> None:
    said = rule_words.day.now_words(decided(9, checkin(8, stairs_unaided=False, squat_unaided=False, pain=5)))
    (ends,) = [each for each in said if each.startswith("It ends with")]
    assert ends == (
        "It ends with a check-in with pain under 4 of 10, the stairs managed unaided and a squat managed unaided."
    )


def test_mornings_and_answers_end_together_in_one_sentence() -> None:
    reasons = decided(9, checkin(8, stairs_unaided=False)).reasons
    morning = Reason("resting_hr", "sport", reasons[0].since, None, "morning", None, {"value": 55, "on": "2026-10-12"})
    (said,) = rule_words.day.ending_words([*reasons, morning])
    assert said.startswith("It ends with a check-in with the stairs managed unaided, and with a new resting heart rate")


# Borders.


@pytest.mark.parametrize(
    ("minutes", "said"), [(0.9, "59 min easy"), (1.0, "59 of 60 min left, easy"), (1.5, "59 of 60 min left, easy")]
)
def test_what_is_left_is_told_of_the_whole_from_a_minute_on(minutes: float, said: str) -> None:
    assert rule_words.day.answer(decided(10, session(10, "cycling", minutes, hour=6))).startswith(said)


def test_two_stops_that_end_together_have_one_order() -> None:
    one = decided(1, session(1, "strength", 30, hour=8), hour=12)
    assert [each.numbers["rule"] for each in one.reasons if each.kind == "stop"] == ["rest_hours", "no_strength"]


def test_the_morning_of_the_day_itself_counts() -> None:
    up = mornings(resting={9: 60.0, 10: 60.0})
    assert kinds(decided(10, up)) == ["resting_hr"]
    assert kinds(decided(9, up)) == []


@pytest.mark.parametrize(("seconds", "used"), [(-1, 0), (0, 30), (1, 30)])
def test_what_began_with_the_finish_counts_to_the_day(seconds: int, used: float) -> None:
    ride = session(0, "cycling", 30, start=race().finish.astimezone(UTC) + timedelta(seconds=seconds))
    assert decided(0, ride, hour=18).used_min == used


@pytest.mark.parametrize(("seconds", "found"), [(-1, []), (0, ["pain"])])
def test_a_check_in_counts_from_the_finish_on(seconds: int, found: list[str]) -> None:
    one = checkin(0, order=race().finish.timestamp() + seconds, pain=6)
    assert [kind for kind in kinds(decided(0, one, hour=18)) if kind == "pain"] == found


@pytest.mark.parametrize(("day", "shut"), [(7, 0), (8, 1), (9, 1)])
def test_a_gate_is_on_record_from_the_first_day_that_it_keeps_waiting(day: int, shut: int) -> None:
    assert len(plan(as_of_day=day, checkins=[checkin(7, pain=6)]).gates) == shut


@pytest.mark.parametrize(("day", "counts"), [(7, True), (13, True), (14, True), (15, False), (22, True)])
def test_news_of_the_body_counts_for_a_week_and_as_long_as_they_keep_a_gate_shut(day: int, *, counts: bool) -> None:
    """It keeps the gate to cross-training shut from day 8 to day 14, the one to the test runs from day 22 on."""
    assert ("pain" in kinds(decided(day, checkin(7, pain=6)))) is counts


@pytest.mark.parametrize(("hour", "found"), [(18.4, []), (18.5, ["stop"]), (18.6, ["stop"])])
def test_a_stop_rules_from_the_moment_on_at_which_its_session_ended(hour: float, found: list[str]) -> None:
    assert [kind for kind in kinds(decided(10, session(10, hour=18, minutes=30), hour=hour)) if kind == "stop"] == found
