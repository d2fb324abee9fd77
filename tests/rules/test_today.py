"""Today in figures and sentences, for each stage and kind of athlete."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from rules import words as rule_words
from rules.facts import Athlete
from rules.today import Today, today
from tests.rules.people import LIMITS, at, athlete, checkin, history, hold, judged, mornings, nights, on, race, session


def day(number: int, *facts: Any, runner: Athlete | None = None, hour: float = 7) -> Today:
    now = at(number, hour)
    return today(judged(*facts, runner=runner, now=now), history(*facts, runner=runner), now, LIMITS)


def test_a_day_off_says_what_is_allowed_and_what_is_not() -> None:
    one = day(5)
    assert (one.date, one.day, one.stage, one.stage_ends, one.next_stage) == (
        on(5),
        5,
        "days_off",
        on(7),
        "cross_training",
    )
    assert (one.allowed_min, one.ceiling_bpm, one.run_allowed_min, one.running) == (45, 121, 0, "none")
    assert {"running", "strength work"} <= set(one.not_allowed)
    assert one.caution
    assert any("45 min" in each for each in one.sentences)
    assert one.rest_until is None


def test_the_first_days_are_for_walking_until_a_local_hour() -> None:
    one = day(2)
    assert one.rest_until is not None
    assert one.rest_until.isoformat() == "2026-10-07T06:47:00+02:00"
    assert "walking and mobility until Wed 06:47" in one.not_allowed[0]


def test_minutes_already_used_today_are_taken_off() -> None:
    one = day(9, session(9, "cycling", 25, 6), session(9, "walking", 60, 5), hour=12)
    assert one.used_min == 25
    assert any("35 min of them left" in each for each in one.sentences)


def test_the_day_after_a_test_run_is_a_rest_day_from_running() -> None:
    runs = [session(15, hour=9)]
    assert day(15, runs, hour=8).running == "test"
    assert day(15, runs, hour=12).rest_day_from_running
    assert day(16, runs).running == "rest day"
    assert day(16, runs).run_allowed_min == 0
    assert day(17, runs).run_allowed_min == 30


def test_a_tolerated_run_is_offered_once() -> None:
    assert day(13).run_allowed_min == 20
    assert day(14, session(13, minutes=15)).running == "none"


def test_a_threshold_pace_gives_the_pace_an_easy_run_stays_behind() -> None:
    fast = athlete(race("half"), threshold_pace_s_per_km=260.0)
    assert day(13, runner=fast).pace_s_per_km == 310  # 260 / 0.84
    assert any("5:10 a km" in each for each in day(13, runner=fast).sentences)
    assert day(5, runner=fast).pace_s_per_km is None
    assert day(13, runner=athlete(race("half"))).pace_s_per_km is None


def test_mornings_say_what_is_usual_or_that_too_few_are_known() -> None:
    said = day(9, mornings({9: 49.0}, {7: 60.0, 8: 60.0, 9: 60.0}), nights({9: 7.25})).mornings
    assert said[0] == "Resting heart rate 49 this morning, usual 48: nothing unusual."
    assert "no lower than chance explains" in said[1]
    assert said[2] == "Slept 7 h 15 min to today."
    thin = day(9, [each for each in mornings({9: 49.0}) if each.date > on(-3)]).mornings
    assert "too few" in thin[0]
    assert day(9, mornings({6: 49.0})).mornings == ()
    assert day(9, mornings({7: 55.0})).mornings == ("Resting heart rate 55 on Sun 11 Oct, usual 48: that is up.",)
    low = day(9, mornings(None, dict.fromkeys((7, 8, 9), 30.0)), checkin(8, stairs_unaided=True, pain=2, soreness=3))
    assert low.mornings == (
        "RMSSD about 30 ms over 3 mornings, usual 60: lower than chance explains.",
        "You said on Mon 12 Oct: stairs unaided, pain 2 of 10, soreness 3 of 10.",
    )
    named = day(9, checkin(9, pain=1, symptoms=("vondt i brystet", "no chest pain", "None", "Übelkeit"))).mornings
    assert named[0].startswith(
        "You said this morning: pain 1 of 10. Named and not understood: vondt i brystet and Übelkeit. "
    )
    assert "in doubt" in named[0]
    two = day(9, mornings(None, {8: 60.0, 9: 60.0})).mornings
    assert two == ("RMSSD about 60 ms over 2 mornings, too few to judge.",)
    few = [each for each in mornings(None, {9: 60.0}) if each.date > on(-3)]
    assert day(9, few).mornings == (
        "RMSSD about 60 ms over 1 morning; 2 mornings before the race are too few to say what is usual.",
    )


def test_a_shut_gate_says_why_and_what_it_asks_for() -> None:
    one = day(9, checkin(7, stairs_unaided=False))
    assert one.stage == "days_off"
    assert "stairs not managed" in one.gates[0]
    assert "check-in" in one.asks[0]
    assert any("waits" in each for each in one.sentences)


def test_the_on_ramp_shows_the_weeks_minutes_and_what_is_left() -> None:
    ultra = athlete(race("ultra_100k"))
    before = [session(-35 - 7 * week - each, minutes=60) for week in range(6) for each in (2, 4, 6)]
    one = day(24, before, session(22, minutes=30), runner=ultra)
    assert one.week is not None
    assert (one.week.done, one.week.allowed, one.week.share) == (30, 90, 0.5)
    assert any("30 of 90 min, 60 left" in each for each in one.sentences)
    assert any("too thin" in each for each in day(24, runner=ultra).sentences)


def test_the_last_days_of_the_on_ramp_allow_strides_without_a_ceiling() -> None:
    one = day(34, runner=athlete(race("ultra_100k")))
    assert one.ceiling_bpm is None
    assert any("Strides" in each for each in one.sentences)
    assert not any("Effort" in each for each in one.sentences)
    assert "fast running of any kind" not in one.not_allowed


def test_notes_fit_triathletes_masters_estimates_and_those_without_heart_rate() -> None:
    def notes(number: int = 3, **more: Any) -> str:
        return " ".join(day(number, runner=athlete(**more) if "event" not in more else None).notes)

    triathlete = day(3, runner=athlete(race("tri_full")))
    assert any("Swimming" in each for each in triathlete.notes)
    assert "estimated" in notes(hr_max=None, born=1991)
    assert "by feel" in notes(hr_max=None)
    assert "Past forty" in notes(born=1970)
    assert day(5, runner=athlete(hr_max=None)).ceiling_bpm is None
    assert any("whole sentences" in each for each in day(5, runner=athlete(hr_max=None)).sentences)


def test_before_the_race_and_without_one_today_is_short() -> None:
    before = day(-3)
    assert (before.stage, before.day, before.running) == ("before", -3, "free")
    assert "in 3 days" in before.sentences[0]
    assert day(0, hour=9).stage == "before"
    assert day(0, hour=15).stage == "days_off"
    assert day(3, runner=replace(athlete(), races=())).stage is None


def test_the_next_stage_is_named() -> None:
    assert day(14).next_stage == "test_runs"
    assert day(21).next_stage == "done"


def test_after_the_last_day_the_whole_reverse_taper_is_looked_back_on() -> None:
    facts = [session(3), session(10, "cycling", 100), checkin(14, pain=6), checkin(16, pain=1)]
    one = day(30, facts)
    assert one.stage == "done"
    assert "22 days, 1 day longer than planned" in one.sentences[0]
    made = rule_words.report.summary(judged(*facts, now=at(30)), judged(*facts, now=at(30)).plans[0])
    assert (made.days_planned, made.days_taken, made.held_days) == (21, 22, 1)
    assert made.findings == {"note": 0, "caution": 1, "stop": 2}
    assert (made.sessions_found, made.mornings_found) == (2, 1)
    assert (made.sessions, made.sentences[1:]) == (2, (
        "What held it: a check-in.",
        "2 sessions, 2 h 10 min in all, 1 of them with running.",
        "Findings: 2 stop, 1 caution; 2 sessions asked too much.",
        "No mornings were recorded.",
        "The body said: pain (1 x).",
    ))  # fmt: skip
    calm = judged(mornings({19: 50.0, 20: 49.0, 21: 48.0, 22: 70.0}), now=at(30))
    assert rule_words.report.summary(calm, calm.plans[0]).sentences[1:] == (
        "No session was recorded.",
        "Not one finding.",
        "3 mornings recorded; resting heart rate at the end 49, usual before the race 48.",
        "The body said: nothing out of the ordinary in mornings, nights and check-ins.",
    )
    held = judged(hold(5, 2), session(3), session(10, "walking"), now=at(30))
    assert rule_words.report.summary(held, held.plans[0]).sentences[1:4] == (
        "What held it: a hold.",
        "2 sessions, 1 h 00 min in all, 1 of them with running.",
        "Findings: 1 stop; 1 session asked too much.",
    )


def test_a_finished_plan_is_looked_back_on_and_an_active_one_is_not() -> None:
    assert rule_words.report.looked_back(judged(now=at(22)), at(22))[0].startswith("The reverse taper is done")
    assert rule_words.report.looked_back(judged(now=at(21)), at(21)) == ()


def test_days_within_the_hours_of_rest_say_so_first_and_nothing_else_is_allowed() -> None:
    for number in (0, 1, 2):
        one = day(number, hour=20)
        assert one.sentences[0] == "Walking only until Wed 06:47: 65 h of rest after the finish."
        assert one.allowed_min == 0
        assert not any(each.startswith(("Allowed", "Heart rate up", "Effort")) for each in one.sentences)
        assert not any("swim or spin" in each for each in one.sentences)
        assert one.caution in one.sentences


def test_on_the_day_on_which_the_rest_ends_the_limits_come_after_it() -> None:
    early = day(3, hour=6).sentences
    assert early[1] == "After that: up to 45 min easy, no running today."
    assert day(3, hour=6).allowed_min == 0
    assert not any(each.startswith("Allowed:") for each in early)
    assert day(3, hour=7).sentences[0] == "45 min easy, no running."
    assert day(3, hour=7).allowed_min == 45


def test_a_sign_for_a_doctor_comes_before_anything_that_is_allowed_until_a_checkin_answers_it() -> None:
    ill = day(10, checkin(10, symptoms=("fever",), pain=0.0))
    assert (ill.allowed_min, ill.run_allowed_min) == (0, 0)
    assert ill.sentences[0] == "No training until it is gone or a doctor has looked at it."
    assert any('"fever"' in each for each in ill.sentences[:3])
    assert (ill.notes, ill.caution) == ((), "")
    assert not any(each.startswith("Allowed:") for each in ill.sentences)
    assert ill.not_allowed[0] == "training of any kind"
    silent = day(11, checkin(10, symptoms=("fever",)), checkin(11, pain=0.0))
    assert (silent.allowed_min, silent.movement) == (0, "nothing")
    well = day(11, checkin(10, symptoms=("fever",)), checkin(11, pain=0.0, gone=("fever",)))
    assert well.allowed_min
    assert any(each.startswith("Allowed:") for each in well.sentences)


def test_after_a_stop_rest_is_advised_before_anything_else_for_as_long_as_the_gate_waits() -> None:
    run = session(10, hour=18, minutes=30)  # to 18:30; 65 h later it is day 13, 11:30
    one = day(11, run)
    assert one.stop_rest_until is not None
    assert one.stop_rest_until.isoformat() == "2026-10-17T11:30:00+02:00"
    assert one.sentences[0] == "Walking only until Sat 11:30: 65 h of rest after a run on Wed 14 Oct."
    assert (one.allowed_min, one.rest, one.running) == (0, True, "none")
    assert not any(each.startswith(("Allowed:", "Should you run", "Heart rate up")) for each in one.sentences)
    assert one.caution == "Pain in one spot, on one side, or still there when you wake: tell someone today."
    assert day(13, run, hour=12).stop_rest_until is None
    assert day(11, session(10, "cycling")).stop_rest_until is None


def test_a_run_walker_hears_that_walk_breaks_count_into_a_run() -> None:
    walked = {"walking_s": 600.0}
    before = [session(-day, minutes=40, digest=walked) for day in range(5, 30, 3)]
    assert any("Walk breaks" in each for each in day(16, before).notes)
    assert not any("Walk breaks" in each for each in day(5, before).notes)
    assert not any("Walk breaks" in each for each in day(16, [session(-day) for day in range(5, 30, 3)]).notes)


@pytest.mark.parametrize(("walked", "ran", "told"), [(4, 4, False), (5, 4, True)])
def test_a_run_walker_walks_in_more_than_half_of_the_runs(walked: int, ran: int, *, told: bool) -> None:
    before = [
        session(-day, minutes=40, digest={"walking_s": 600.0 * (day <= walked)}) for day in range(1, walked + ran + 1)
    ]
    assert any("Walk breaks" in each for each in day(16, before).notes) is told


def test_walks_with_sticks_take_nothing_off_the_days_time() -> None:
    one = day(5, session(5, "walking", 120, 6, label="nordic walking"), hour=12)
    assert one.used_min == 0
    assert "Allowed: 45 min in all; walks, with sticks or without, come on top." in one.sentences


def test_a_triathletes_swim_in_the_first_week_is_exercise_and_waits_for_the_hours_of_rest() -> None:
    ironman = athlete(race("tri_full"))
    assert any("wait for those hours" in each for each in day(1, runner=ironman).notes)
    one = day(5, session(5, "swimming", 30, 6), runner=ironman, hour=12)
    assert (one.used_min, one.allowed_min) == (30, 45)
    assert any("exercise in these days, not running" in each for each in one.notes)
    assert judged(session(5, "swimming", 30), runner=ironman).findings == ()


def test_without_heart_rate_the_day_goes_by_feel() -> None:
    one = day(5, runner=athlete(hr_max=None))
    assert any(each.startswith("At most 11 of 20") for each in one.sentences)
    assert not any("bpm" in each or "Heart rate up to" in each for each in one.sentences)


def test_past_forty_the_later_day_is_taken_and_nothing_else_changes() -> None:
    masters, young = day(9, runner=athlete(born=1970)), day(9, runner=athlete(born=1995))
    assert (masters.allowed_min, masters.ceiling_bpm) == (young.allowed_min, young.ceiling_bpm)
    assert [each for each in masters.sentences if "forty" in each]
    assert not [each for each in young.sentences if "forty" in each]


@pytest.mark.parametrize(("days", "said"), [(0, "today"), (1, "in 1 day;"), (2, "in 2 days;"), (3, "in 3 days;")])
def test_how_far_away_a_race_is_is_said_in_days(days: int, said: str) -> None:
    now = at(-days, 7)
    told = today(judged(now=now), history(), now, LIMITS).sentences
    assert f"The race is {said}" in told[0]
