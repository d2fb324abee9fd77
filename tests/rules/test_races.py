"""Several races: the stricter stage rules each day, and nothing is limited in between."""

from __future__ import annotations

from datetime import timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from rules.plan import Plan
from rules.plan.build import current_plan, own_files, race_recordings, ruling_at, ruling_on
from rules.plan.stages import strictness
from tests.rules.people import FINISH, LIMITS, at, athlete, judged, on, plan, race, session, told


def plans(*events: tuple[str, int]) -> list[Plan]:
    """Plans of races by event and day of the finish, counted from the first."""
    races = [race(event, FINISH + timedelta(days=day)) for event, day in events]
    runner = athlete(*races)
    return [plan(each, runner) for each in races]


def stages(laid: list[Plan], days: list[int]) -> list[str]:
    return [ruling.stage_on(on(day)) if (ruling := ruling_on(laid, on(day))) else "free" for day in days]


def test_a_race_inside_anothers_plan_begins_its_own_days_off() -> None:
    two = plans(("marathon", 0), ("5k", 17))
    assert stages(two, [16, 18, 20, 21]) == ["test_runs", "days_off", "days_off", "cross_training"]
    # on day 21 the 5k's cross-training is stricter than the marathon's test runs
    assert ruling_on(two, on(21)) is two[1]


def test_a_small_race_before_a_great_one_gives_way_to_it() -> None:
    two = plans(("half", -3), ("marathon", 0))
    assert stages(two, [-2, -1]) == ["days_off", "days_off"]
    assert stages(two, [1, 7, 8, 11, 15, 22]) == [
        "days_off", "days_off", "cross_training", "cross_training", "test_runs", "free",
    ]  # fmt: skip


def test_back_to_back_races_are_ruled_by_the_stricter_stage_and_then_by_the_later() -> None:
    two = plans(("10k", 0), ("10k", 1))
    # the first: days off to 3, cross-training to 6; the second: days off to 4, cross-training to 7
    assert stages(two, [1, 3, 4, 5, 6, 7, 9, 10, 11]) == [
        "days_off", "days_off", "days_off", "cross_training", "cross_training", "cross_training", "test_runs",
        "test_runs", "free",
    ]  # fmt: skip
    assert ruling_on(two, on(3)) is two[1]


def test_between_races_that_lie_apart_nothing_is_limited() -> None:
    two = plans(("5k", 0), ("5k", 30))
    assert stages(two, [5, 6, 29, 30, 31]) == ["test_runs", "free", "free", "free", "days_off"]


def test_the_day_of_a_second_race_is_ruled_by_the_first_until_the_finish() -> None:
    two = plans(("marathon", 0), ("5k", 17))
    assert ruling_at(two, at(17, 13)) is two[0]
    assert ruling_at(two, at(17, 14)) is two[1]


def test_the_plan_to_show_is_the_ruling_then_the_last_done_then_the_next() -> None:
    two = plans(("5k", 0), ("half", 30))
    assert current_plan(two, at(-5)) is two[0]
    assert current_plan(two, at(3)) is two[0]
    assert current_plan(two, at(20)) is two[0]
    assert two[0].stage_at(at(20)) == "done"
    assert current_plan(two, at(32)) is two[1]
    assert current_plan(two, at(300)) is two[1]
    assert current_plan([], at(0)) is None


def test_past_seasons_stay_and_keep_their_findings() -> None:
    last_year = FINISH.replace(year=2025)
    runner = athlete(race(finish=last_year), race())
    old = session(0, start=at(5, finish=last_year))
    found = judged(old, session(5), runner=runner)
    assert [each.date.year for each in found.findings] == [2025, 2026]
    assert len(found.plans) == 2


def test_a_stop_holds_the_gates_of_every_plan_it_lies_in() -> None:
    runner = athlete(race("ultra_50k"), race("5k", FINISH + timedelta(days=19)))
    found = judged(session(21, hour=17), runner=runner, day=24)
    # day 21 is the 5k's second day off; both next gates, on day 22 and on day 23, wait to day 24, 10:30
    assert [plan.stage_on(on(24)) for plan in found.plans] == ["test_runs", "days_off"]


def test_a_finish_after_a_stop_does_not_inherit_it() -> None:
    runner = athlete(race("marathon"), race("half", FINISH + timedelta(days=40)))
    found = judged(session(3), session(10), session(43, "walking"), runner=runner, day=60)
    assert [row.held_days for row in found.plans[1].stages] == [0, 0, 0]


def test_the_recordings_of_a_race_lead_up_to_its_finish_without_a_gap() -> None:
    legs = [
        session(0, "swimming", 30, 9), session(0, "cycling", 150, 9.6), session(0, "running", 96, 12.2),
    ]  # fmt: skip
    warm_up = session(0, "running", 20, 7)
    after = session(0, "running", 10, 14)
    found = race_recordings([*legs, warm_up, after], race("tri_half"), LIMITS)
    assert found == legs


def test_a_recording_stopped_some_minutes_before_the_typed_finish_is_still_the_race() -> None:
    own = session(0, minutes=200, hour=10)  # to 13:20, the finish was typed as 13:47
    assert own_files([own], [race()], LIMITS) == {own.key}
    assert own_files([session(0, minutes=60, hour=8)], [race()], LIMITS) == frozenset()


def test_no_race_means_no_plan_and_no_finding() -> None:
    from dataclasses import replace

    nobody = replace(athlete(), races=())
    found = judged(session(3), runner=nobody)
    assert (found.plans, found.current, told(found)) == ((), None, [])


RACES = st.lists(
    st.tuples(st.sampled_from(["5k", "10k", "half", "marathon", "ultra_50k"]), st.integers(0, 60)),
    min_size=1,
    max_size=4,
)


@settings(max_examples=60, deadline=None)
@given(RACES)
def test_the_ruling_stage_is_never_milder_than_that_of_any_plan(events: list[tuple[str, int]]) -> None:
    laid = plans(*events)
    for day in range(-2, 95):
        inside = [each.stage_on(on(day)) for each in laid if each.day0 < on(day) <= each.last_date]
        ruling = ruling_on(laid, on(day))
        if not inside:
            assert ruling is None
        else:
            assert ruling is not None
            assert strictness(ruling.stage_on(on(day))) == min(map(strictness, inside))


def test_a_stage_race_over_days_is_one_race_a_day_or_one_with_the_condition() -> None:
    days = [race("half", FINISH + timedelta(days=day)) for day in range(3)]
    runner = athlete(*days)
    stages_run = [session(day, minutes=120, hour=11.8, km=21) for day in range(3)]
    found = judged(stages_run, runner=runner, day=20)
    assert told(found) == []
    laid = list(found.plans)
    assert stages(laid, [1, 2, 9, 10, 13, 16, 17]) == [
        "days_off", "days_off", "days_off", "cross_training", "cross_training", "test_runs", "free",
    ]  # fmt: skip
    whole = plan(race("half", FINISH + timedelta(days=2), conditions=("stage_race",)))
    assert (whole.length_days, whole.last_date) == (16, on(18))


def test_a_race_not_finished_or_run_easily_asks_for_fewer_days_in_the_same_order() -> None:
    easy = plan(race("marathon", effort="controlled"))
    assert easy.length_days == 16
    assert [row.stage for row in easy.stages] == ["days_off", "cross_training", "test_runs"]


def test_a_run_between_two_races_of_a_weekend_is_held_against_the_first() -> None:
    runner = athlete(race("10k"), race("10k", FINISH + timedelta(days=1)))
    found = judged(session(0, minutes=20, hour=19), runner=runner, day=12)
    assert ("rest_hours", "stop") in [(rule, severity) for _, rule, severity in told(found)]
