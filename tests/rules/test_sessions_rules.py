"""Rules about sessions: rest, running, strength, time, spacing, weeks, jumps, and what cannot be judged."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from rules.facts import SampleContext, Session
from rules.findings import Breach, Severity
from tests.rules.people import FINISH, at, athlete, hold, judged, only, race, session, told

# rest_hours


@pytest.mark.parametrize(
    ("hours", "severity"), [(1, "stop"), (47.9, "stop"), (48, "caution"), (64.9, "caution"), (65, None), (70, None)]
)
def test_training_soon_after_the_finish_is_a_stop_then_a_caution(hours: float, severity: str | None) -> None:
    start = at(0, 13) + timedelta(minutes=47, hours=hours)
    found = only(judged(session(0, "swimming", start=start)), "rest_hours")
    assert [str(each.severity) for each in found] == ([severity] if severity else [])


@pytest.mark.parametrize("sport", ["walking", "mobility", "transport"])
def test_walking_and_mobility_have_their_place_at_any_hour(sport: str) -> None:
    assert told(judged(session(1, sport, 40))) == []


@pytest.mark.parametrize("sport", ["cycling", "swimming", "strength", "yoga", "running", "elliptical", "other"])
def test_any_other_sport_is_too_soon(sport: str) -> None:
    assert (1, "rest_hours", "stop") in told(judged(session(1, sport, 20)))


def test_the_hours_are_counted_through_a_night_on_which_clocks_change() -> None:
    # Oslo, finish on Saturday 2026-10-24 at 13:47, clocks back an hour that night: Tuesday 5:47 is 65 h later
    one = athlete(race(finish=FINISH.replace(day=24)))
    inside = session(0, "cycling", 30, start=at(23, 5.75))
    outside = session(0, "cycling", 30, start=at(23, 5.8))
    assert [each.session_start for each in only(judged(inside, outside, runner=one), "rest_hours")] == [inside.start]


# no_running


def test_a_run_in_the_days_off_is_a_stop() -> None:
    [found] = judged(session(5)).findings
    assert (found.rule, found.severity, found.stage, found.day) == ("no_running", Severity.STOP, "days_off", 5)
    assert found.observed == 30
    assert found.advice


def test_running_in_a_walk_counts_however_it_is_labelled() -> None:
    [found] = only(judged(session(5, "walking", 40, running_min=9, label="walking")), "no_running")
    assert found.severity == Severity.STOP
    assert found.observed == 9
    assert "walking" in found.summary


def test_a_dash_for_the_bus_is_no_run_and_a_ride_never_is() -> None:
    assert told(judged(session(5, "walking", 40, running_min=0.9))) == []
    assert only(judged(session(5, "cycling", 30, running_min=20)), "no_running") == []


def test_one_short_run_near_the_end_of_cross_training_is_a_note_and_a_second_a_stop() -> None:
    assert told(judged(session(13, minutes=20))) == [(13, "no_running", "note")]
    assert told(judged(session(12, minutes=20))) == [(12, "no_running", "stop")]
    assert told(judged(session(13, minutes=15), session(14, minutes=15))) == [
        (13, "no_running", "note"),
        (14, "no_running", "stop"),
    ]
    [found] = judged(session(13, minutes=25)).findings
    assert found.severity == Severity.STOP
    assert "longer" in found.evidence["not_tolerated"]


def test_a_short_run_over_the_ceiling_is_not_tolerated() -> None:
    def hard(session: Session, context: SampleContext) -> tuple[Breach, ...]:
        assert context.ceiling is not None
        assert context.ceiling.bpm == 146
        return (Breach("intensity_ceiling", Severity.CAUTION, "3 min above 146"),)

    assert told(judged(session(14, minutes=15), judge_one=hard)) == [
        (14, "intensity_ceiling", "caution"),
        (14, "no_running", "stop"),
    ]


def test_a_tolerated_run_without_heart_rate_says_what_was_assumed() -> None:
    silent = session(13, minutes=15)
    silent = replace(silent, digest=replace(silent.digest, hr_known_s=0))
    [found] = judged(silent).findings
    assert found.severity == Severity.NOTE
    assert "assumed" in found.evidence


def test_test_runs_may_run() -> None:
    assert told(judged(session(15), session(17), session(19))) == []


# no_strength


def test_strength_in_the_days_off_is_a_stop_yoga_a_note_and_care_is_fine() -> None:
    assert told(judged(session(5, "strength"))) == [(5, "no_strength", "stop")]
    assert told(judged(session(5, "yoga"))) == [(5, "no_strength", "note")]
    assert told(judged(session(5, "mobility"))) == []
    assert told(judged(session(9, "strength"))) == []


# duration_cap


@pytest.mark.parametrize(
    ("day", "minutes", "severity"),
    [
        (5, 45, None), (5, 47.25, None), (5, 47.3, "caution"), (5, 67.5, "caution"), (5, 67.6, "stop"),
        (9, 63, None), (9, 63.1, "caution"), (9, 90, "caution"), (9, 90.1, "stop"), (16, 63, None), (16, 64, "caution"),
    ],
)  # fmt: skip
def test_a_day_over_its_cap_by_more_than_the_slack_is_a_caution_and_half_as_much_again_a_stop(
    day: int, minutes: float, severity: str | None
) -> None:
    found = judged(session(day, "cycling", minutes)).findings
    assert [str(each.severity) for each in found] == ([severity] if severity else [])


def test_the_sessions_of_a_day_add_up_and_walking_does_not() -> None:
    rides = [session(9, "cycling", 40, 7), session(9, "walking", 120, 12), session(9, "swimming", 30, 18)]
    [found] = judged(rides).findings
    assert found.session_start == rides[2].start
    assert found.observed == 70
    assert [part["minutes"] for part in found.evidence["day"]] == [40, 30]


def test_every_session_that_finds_the_day_over_its_cap_is_told_with_the_day_so_far() -> None:
    found = judged([session(9, "cycling", 40, hour) for hour in (7, 12, 18)]).findings
    assert [(each.observed, str(each.severity)) for each in found] == [(80, "caution"), (120, "stop")]


def test_only_the_running_in_a_walk_counts_to_the_day() -> None:
    day = [session(16, "cycling", 45, 7), session(16, "walking", 90, 18, running_min=20)]
    assert [each.observed for each in only(judged(day), "duration_cap")] == [65]


def test_a_session_belongs_to_the_local_day_of_its_start() -> None:
    late = session(9, "cycling", 50, 23.5)  # to 0:20 of the next day
    assert told(judged(late, session(10, "cycling", 50, 8))) == []
    assert len(judged(late, session(9, "cycling", 20, 8)).findings) == 1


@pytest.mark.parametrize(("minutes", "severity"), [(32, None), (32.1, "caution"), (45, "caution"), (45.1, "stop")])
def test_a_run_has_a_cap_of_its_own_in_the_test_runs(minutes: float, severity: str | None) -> None:
    found = judged(session(16, minutes=minutes)).findings
    assert [str(each.severity) for each in found] == ([severity] if severity else [])


def test_a_session_over_both_caps_is_one_finding_with_the_graver_first() -> None:
    [found] = judged(session(16, "cycling", 30, 7), session(16, minutes=46, hour=18)).findings
    assert found.severity == Severity.STOP
    assert found.evidence["of"] == "run"
    assert "76 min" in found.evidence["also"]


def test_of_two_caps_broken_alike_the_one_further_over_is_told() -> None:
    [found] = judged(session(16, "cycling", 45, 7), session(16, minutes=34, hour=18)).findings
    assert (found.evidence["of"], found.observed) == ("day", 79)
    assert "34 min" in found.evidence["also"]


def test_the_on_ramp_has_no_cap() -> None:
    assert told(judged(session(23, "cycling", 200), runner=athlete(race("ultra_50k")))) == []


# run_spacing


def test_runs_on_following_days_are_a_caution_in_the_test_runs() -> None:
    assert told(judged(session(15), session(16), session(18))) == [(16, "run_spacing", "caution")]
    assert (15, "run_spacing", "caution") in told(judged(session(14, minutes=15), session(15)))


def test_two_files_of_one_run_are_one_run_and_a_second_run_of_the_day_is_not() -> None:
    assert told(judged(session(15, minutes=10, hour=9), session(15, minutes=10, hour=10))) == []
    assert told(judged(session(15, minutes=10, hour=7), session(15, minutes=10, hour=18))) == [
        (15, "run_spacing", "caution")
    ]


# weekly_running and long_run_jump

ULTRA = athlete(race("ultra_100k"))
BEFORE = [session(-35 - 7 * week - each, minutes=60) for week in range(6) for each in (2, 4, 6)]
"""Three hours of running in each of the six weeks before a taper of 35 days."""


def test_running_over_the_weeks_share_is_a_caution() -> None:
    # usual week 180 min: 90 in the first week of the on-ramp, 135 in the second
    first = [session(day, minutes=30, km=5) for day in (22, 24, 26)]
    assert told(judged(BEFORE, first, runner=ULTRA)) == []
    over = judged(BEFORE, first, session(28, minutes=10, km=2), runner=ULTRA)
    assert told(over) == [(28, "weekly_running", "caution")]
    assert (over.findings[0].observed, over.findings[0].limit) == (100, 90)
    assert over.findings[0].evidence["usual_weeks_min"] == [180.0] * 6
    assert told(judged(BEFORE, first, session(29, minutes=35, km=5), runner=ULTRA)) == []


def test_without_a_usual_week_nothing_is_found_and_it_is_said() -> None:
    found = judged([session(day, minutes=90, km=15) for day in (22, 23, 24, 25)], runner=ULTRA)
    assert told(found) == []
    assert any("running a week" in each for each in found.thin)


def test_weeks_before_the_history_began_are_not_weeks_without_running() -> None:
    young = [each for each in BEFORE if each.start > at(-35 - 28)]
    [found] = judged(young, session(22, minutes=100), runner=ULTRA).findings
    assert found.evidence["usual_week_min"] == 180


def test_a_run_longer_than_a_tenth_over_the_longest_since_the_race_is_a_caution() -> None:
    longest = session(19, minutes=30, km=10)
    assert told(judged(longest, session(23, minutes=60, km=11), runner=ULTRA)) == []
    [found] = judged(longest, session(23, minutes=60, km=11.001), runner=ULTRA).findings
    assert (found.rule, found.observed, found.limit) == ("long_run_jump", 11001, 11000)


def test_the_race_itself_and_runs_before_it_do_not_blind_the_jump_rule() -> None:
    own = session(0, minutes=300, km=100, hour=8.8)
    found = judged(own, session(-3, km=20), session(19, km=5), session(23, km=6), runner=ULTRA)
    assert told(found) == [(23, "long_run_jump", "caution")]


def test_runs_of_more_than_thirty_days_ago_do_not_count() -> None:
    long_plan = athlete(race("ultra_100k", taper_days=60))
    runs = [session(16, minutes=30, km=10), session(40, minutes=30, km=5), session(47, minutes=40, km=8)]
    assert (47, "long_run_jump", "caution") in told(judged(runs, runner=long_plan))
    assert (46, "long_run_jump", "caution") not in told(judged([*runs[:2], session(46, km=8)], runner=long_plan))


# what is judged at all


def test_the_race_file_and_everything_before_it_is_never_judged() -> None:
    own = session(0, minutes=210, hour=10.3)
    assert own.start < at(0, 13.78) < own.end
    assert told(judged(own, session(-1), session(0, minutes=10, hour=9))) == []


def test_a_jog_after_the_finish_is_judged_as_a_day_off() -> None:
    found = judged(session(0, minutes=15, hour=15))
    assert told(found) == [(0, "no_running", "stop"), (0, "rest_hours", "stop")]
    assert {each.stage for each in found.findings} == {"days_off"}


def test_a_race_inside_anothers_plan_is_not_judged_as_training() -> None:
    two = athlete(race(), race("5k", FINISH + timedelta(days=17)))
    legs = [session(17, minutes=20, hour=13.4), session(17, "cycling", 40, 12.6)]
    assert told(judged(legs, runner=two)) == []


def test_a_session_without_time_or_sport_is_said_to_be_unjudged() -> None:
    lost = session(5, "unknown", 30)
    [found] = judged(lost).findings
    assert (found.rule, found.severity) == ("not_judged", Severity.NOTE)
    [found] = judged(session(5, "cycling", 0, elapsed_s=1800)).findings
    assert "how long" in found.summary
    assert told(judged(session(5, "unknown", 0.5))) == []


def test_samples_are_asked_for_only_inside_plans() -> None:
    asked = []

    def note(session: Session, context: SampleContext) -> tuple[Breach, ...]:
        asked.append((session.key, context.speed_work, context.easy_ground, context.ceiling and context.ceiling.bpm))
        return ()

    days = [session(day, "cycling") for day in (-5, 5, 10, 16, 23, 34, 40)]
    judged(days, session(12, "transport"), runner=ULTRA, judge_one=note)
    assert asked == [
        (days[1].key, "none", True, 121),
        (days[2].key, "none", True, 146),
        (days[3].key, "none", True, 146),
        (days[4].key, "none", True, 146),
        (days[5].key, "strides", False, None),
    ]


def test_a_sample_verdict_on_missing_data_joins_the_one_on_missing_sport() -> None:
    def blind(session: Session, context: SampleContext) -> tuple[Breach, ...]:
        del session, context
        return (Breach("not_judged", Severity.NOTE, "No heart rate was recorded"),)

    [found] = judged(session(5, "unknown", 30), judge_one=blind).findings
    assert "what sport" in found.summary
    assert "No heart rate" in found.summary


# stops and plans, settled together


def test_a_stop_moves_the_plan_and_the_moved_plan_judges_what_follows() -> None:
    # a run on day 7 holds the days off to day 10: 50 min of riding on day 9 are then over the cap
    found = judged(session(7, hour=17), session(9, "cycling", 50))
    assert told(found) == [(7, "no_running", "stop"), (9, "duration_cap", "caution")]
    assert told(judged(session(9, "cycling", 50))) == []


def test_speed_work_holds_the_gate_as_running_does() -> None:
    def fast(session: Session, context: SampleContext) -> tuple[Breach, ...]:
        del context
        return (Breach("no_speed_work", Severity.STOP, "fast"),) if session.digest.sport == "running" else ()

    found = judged(session(21, minutes=25, hour=17), runner=athlete(race("ultra_50k")), judge_one=fast, day=24)
    assert found.current is not None
    assert found.current.stages[3].first_day == 25


def test_a_session_that_is_a_stop_for_two_reasons_counts_once() -> None:
    def fast(session: Session, context: SampleContext) -> tuple[Breach, ...]:
        del session, context
        return (Breach("no_speed_work", Severity.STOP, "fast"),)

    found = judged(session(3, hour=17), judge_one=fast, day=20)
    assert found.current is not None
    assert found.current.stage_at(at(20)) == "test_runs"


def test_after_two_stops_the_stage_waits_for_the_coach() -> None:
    runs = [session(3), session(10)]
    waiting = judged(runs, session(18), day=20)
    assert [each for each in told(waiting) if each[0] == 18] == [(18, "no_running", "stop")]
    assert waiting.current is not None
    assert waiting.current.gates[-1].until is None
    released = judged(runs, session(18), replace(hold(16, hour=6), kind="release"), day=20)
    assert told(released)[-1] == (10, "no_running", "stop")
