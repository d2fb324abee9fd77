"""Rules about sessions: rest, running, strength, and what cannot be judged; and stops with plans, settled together."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from rules.catalogue import advice_of
from rules.facts import SampleContext, Session
from rules.findings import Breach, Severity
from rules.limits import default_limits
from rules.words import said
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


@pytest.mark.parametrize(
    ("minutes", "told_of"), [(0.99, []), (1, [(1, "rest_hours", "caution")]), (20, [(1, "rest_hours", "caution")])]
)
def test_what_nobody_can_tell_is_asked_about_in_the_hours_of_rest(minutes: float, told_of: list[object]) -> None:
    assert [each for each in told(judged(session(1, "unknown", minutes))) if each[1] == "rest_hours"] == told_of


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
    assert advice_of(found, default_limits())


def test_running_in_a_walk_counts_however_it_is_labelled() -> None:
    [found] = only(judged(session(5, "walking", 40, running_min=9, label="walking")), "no_running")
    assert found.severity == Severity.STOP
    assert found.observed == 9
    assert "walking" in said(found.summary)


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
    assert "longer" in said(found.evidence["not_tolerated"])


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
    assert "how long" in said(found.summary)
    assert told(judged(session(5, "unknown", 0.5))) == []


def test_samples_are_asked_for_only_inside_plans() -> None:
    asked = []

    def note(session: Session, context: SampleContext) -> tuple[Breach, ...]:
        asked.append((session.key, context.speed_work, context.easy_ground, context.ceiling and context.ceiling.bpm))
        return ()

    days = [session(day, "cycling") for day in (-5, 5, 10, 16, 23, 34, 40)]
    judged(days, session(12, "transport"), runner=athlete(race("ultra_100k")), judge_one=note)
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
    assert "what sport" in said(found.summary)
    assert "No heart rate" in said(found.summary)


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
