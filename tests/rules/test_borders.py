"""Rules where facts meet: two races, what is still to come, releases, files of several parts, walks on a full day."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from rules.facts import Race
from tests.rules.people import (
    FINISH,
    at,
    athlete,
    checkin,
    judged,
    mornings,
    nights,
    on,
    only,
    plan,
    race,
    release,
    session,
    told,
)

SECOND = FINISH + timedelta(days=9)
TWO = athlete(race(), race("10k", SECOND))


def after(finish: Race, hours: float) -> timedelta:
    return finish.finish - race().finish + timedelta(hours=hours)


@pytest.mark.parametrize("hours", [0.5, 47.99, 48.0, 64.99, 65.0])
@pytest.mark.parametrize("which", [0, 1])
def test_the_hours_of_rest_are_those_of_the_last_finish(which: int, hours: float) -> None:
    """Of two races in ten days each has its own; after the second they are counted from the second."""
    finish = TWO.races[which]
    ride = session(0, "swimming", 20, start=race().finish + after(finish, hours))
    found = only(judged(ride, runner=TWO), "rest_hours")
    expected = [] if hours >= 65 else ["stop" if hours < 48 else "caution"]
    assert [str(each.severity) for each in found] == expected
    assert [each.observed for each in found] == [pytest.approx(hours, abs=0.01)] * len(expected)


def test_a_session_just_before_the_second_finish_is_no_rest_broken() -> None:
    before = session(0, "swimming", 20, start=TWO.races[1].finish - timedelta(hours=8))
    assert only(judged(before, runner=TWO), "rest_hours") == []


@pytest.mark.parametrize(("ahead", "judged_"), [(timedelta(minutes=-1), True), (timedelta(0), True)])
def test_a_session_up_to_now_is_judged(ahead: timedelta, *, judged_: bool) -> None:
    now = at(5, 12)
    run = session(5, minutes=30, start=now + ahead - timedelta(minutes=30))
    assert bool(only(judged(run, now=now), "no_running")) == judged_


def test_mornings_nights_and_check_ins_of_days_to_come_say_nothing_today() -> None:
    """Mistyped dates of next week: no finding of today, no shut gate, and what they are once their day has come."""
    now = at(5, 12)
    ahead = [*mornings({9: 62, 10: 62}), *nights({8: 4, 9: 4, 10: 4}), checkin(9, stairs_unaided=False, pain=7)]
    early = judged(ahead, now=now)
    assert [each for each in told(early) if each[0] <= 5] == []
    assert early.current is not None
    assert [gate for gate in early.current.gates if gate.reasons] == []
    rules = {rule for _, rule, _ in told(judged(ahead, now=at(11, 12)))}
    assert {"resting_hr_up", "short_sleep", "pain"} <= rules


# A stop at 10:00 of day 6 that ends at 10:30 holds the gate for 65 h, to day 9, 3:30; the stage would end with day 7.


def length(*facts: object) -> list[tuple[str, int, int]]:
    now = judged(*facts, day=40).current
    assert now is not None
    return [(row.stage, row.first_day, row.last_day) for row in now.stages][:2]


STOP = session(6, minutes=30, hour=10)
PLAIN, HELD = [("days_off", 1, 7), ("cross_training", 8, 14)], [("days_off", 1, 9), ("cross_training", 10, 14)]


def test_a_stop_holds_the_stage() -> None:
    assert length() == PLAIN
    assert length(STOP)[0][2] > PLAIN[0][2]


@pytest.mark.parametrize("hour", [10.75, 12, 20])
def test_a_release_after_the_stop_ended_answers_it(hour: float) -> None:
    assert length(STOP, release(6, hour)) == PLAIN


@pytest.mark.parametrize("hour", [9.75, 10.25])
def test_a_release_before_the_stop_ended_does_not(hour: float) -> None:
    """It was given before there was a whole session to know of."""
    assert length(STOP, release(6, hour)) == length(STOP)


# Files of several parts: an interrupted run recorded as two, a brick of three.


@pytest.mark.parametrize(("gap", "spacing"), [(119, []), (120, []), (121, [(15, "run_spacing", "caution")])])
def test_parts_of_a_run_up_to_two_hours_apart_are_one_run(gap: int, spacing: list[object]) -> None:
    first = session(15, minutes=10, hour=7)
    second = session(15, minutes=10, start=first.end + timedelta(minutes=gap))
    assert told(judged(first, second)) == spacing


def test_parts_of_one_file_share_the_day_and_are_judged_each_by_its_own_sport() -> None:
    """A brick: 30 min ridden, 20 run, 15 ridden home. The cap of 60 min is met by the last part."""
    ride = session(16, "cycling", 30, hour=9)
    run = session(16, minutes=20, start=ride.end)
    home = session(16, "cycling", 15, start=run.end)
    parts = [replace(each, source="brick.fit") for each in (ride, run, home)]
    found = judged(parts)
    assert told(found) == [(16, "duration_cap", "caution")]
    assert (found.findings[0].session_start, found.findings[0].observed) == (home.start, 65)


# A walk on a day that is over its cap already.


@pytest.mark.parametrize("minutes", [20, 180])
def test_a_walk_after_a_day_over_its_cap_is_no_finding_of_its_own(minutes: int) -> None:
    ride, walk = session(9, "cycling", 80, hour=8), session(9, "walking", minutes, hour=17)
    found = judged(ride, walk)
    assert told(found) == [(9, "duration_cap", "caution")]
    assert found.findings[0].session_start == ride.start


@pytest.mark.parametrize(("running", "ends"), [(0.9, 80), (20, 100)])
def test_a_walk_with_running_after_it_counts_only_its_running(running: float, ends: float) -> None:
    ride, walk = session(16, "cycling", 80, hour=8), session(16, "walking", 90, hour=17, running_min=running)
    over = [each.observed for each in only(judged(ride, walk), "duration_cap")]
    assert over == ([80] if ends == 80 else [80, 100])


def test_a_day_is_as_long_as_its_plan_says() -> None:
    assert plan().stages[0].last_date == on(7)
