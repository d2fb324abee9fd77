"""The coach's override: a hold stretches a stage or keeps it waiting, a release lets it go on."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.limits import default_limits
from rules.plan.days import _by_hold, added_days
from tests.rules.people import checkin, hold, on, plan, race, release, spans

MARATHON = [("days_off", 1, 7), ("cross_training", 8, 14), ("test_runs", 15, 21)]


def test_a_hold_of_some_days_makes_its_stage_so_much_longer() -> None:
    for day in (1, 5, 7):
        assert spans(plan(holds=[hold(day, 3)])) == [
            ("days_off", 1, 10), ("cross_training", 11, 17), ("test_runs", 18, 24),
        ]  # fmt: skip
    assert spans(plan(holds=[hold(8, 2)])) == [("days_off", 1, 7), ("cross_training", 8, 16), ("test_runs", 17, 23)]


def test_days_held_twice_count_once() -> None:
    assert plan(holds=[hold(5, 3), hold(5, 3, hour=9)]).stages[0].last_day == 10
    assert plan(holds=[hold(3, 3), hold(4, 3)]).stages[0].last_day == 11


@pytest.mark.parametrize(("days", "added"), [(365, 365), (366, 366), (367, 366)])
def test_a_hold_with_an_end_lasts_gates_hold_days_at_most(days: int, added: int) -> None:
    assert added_days([hold(2, days)], default_limits()) == added


@pytest.mark.parametrize(("later", "shut"), [(0, True), (179, True), (180, False)])
def test_a_hold_without_an_end_lasts_gates_open_hold_days_at_most(later: int, *, shut: bool) -> None:
    facts: Any = SimpleNamespace(limits=default_limits())
    given = hold(2, None)
    assert bool(list(_by_hold(given.on + timedelta(days=later), [given], facts))) is shut


def test_a_hold_without_an_end_keeps_the_next_stage_waiting() -> None:
    one = plan(as_of_day=12, holds=[hold(5)])
    assert one.stage_on(on(12)) == "days_off"
    assert one.stages[1].first_day == 13
    assert one.gates[0].asks == ("a release",)
    assert "sore" in one.gates[0].reasons[0].reason


def test_a_hold_that_nobody_releases_ends_some_day() -> None:
    assert plan(as_of_day=2000, holds=[hold(5)]).last_day == 184 + 14


def test_releasing_a_hold_before_it_acts_restores_the_plan() -> None:
    assert spans(plan(holds=[hold(5), release(6)])) == MARATHON
    assert spans(plan(holds=[hold(5, 6), release(7)])) == MARATHON
    assert spans(plan(holds=[hold(5, 3), release(5)])) == MARATHON


def test_a_release_later_lets_the_next_stage_begin_on_its_day() -> None:
    assert plan(holds=[hold(5), release(12)]).stages[1].first_day == 12
    assert plan(holds=[hold(5, 10), release(10)]).stages[1].first_day == 10


def test_a_hold_after_a_release_holds_again() -> None:
    assert plan(as_of_day=15, holds=[hold(5), release(6), hold(7)]).stage_on(on(15)) == "days_off"
    assert plan(as_of_day=15, holds=[release(5, 8), hold(5, None, 10)]).stage_on(on(15)) == "days_off"


def test_a_hold_outside_the_plan_does_nothing() -> None:
    assert spans(plan(holds=[hold(-3, 5), hold(30, 5)])) == MARATHON


def test_held_days_that_a_gate_adds_tolerate_no_run_and_open_nothing() -> None:
    one = plan(checkins=[checkin(14, pain=6), checkin(17, pain=0)])
    assert one.stages[1].last_day == 16
    assert [one.allowance_on(on(day)).running for day in (13, 14, 15, 16)] == ["tolerated", "tolerated", "none", "none"]
    ramp = plan(race("ultra_50k"), checkins=[checkin(28, pain=6), checkin(31, pain=0)])
    assert [ramp.allowance_on(on(day)).speed_work for day in (26, 28, 29, 30)] == ["strides", "strides", "none", "none"]


def test_a_stretched_stage_tolerates_its_run_in_its_new_last_days() -> None:
    one = plan(holds=[hold(10, 3)])
    assert [day for day in range(8, 18) if one.allowance_on(on(day)).running == "tolerated"] == [16, 17]


def test_the_plan_keeps_the_holds_that_act_on_it() -> None:
    given_holds = [hold(5, 2), release(6), hold(60, 2), hold(-5, 1)]
    assert list(plan(holds=given_holds).holds) == given_holds[:2]


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 20), st.one_of(st.none(), st.integers(1, 12)))
def test_releasing_what_was_held_restores_the_plan(day: int, days: int | None) -> None:
    assert spans(plan(holds=[hold(day, days, 8), release(day, 9)])) == MARATHON


@pytest.mark.parametrize(("later_s", "undone"), [(-1, False), (0, False), (1, True)])
def test_a_release_undoes_what_was_held_before_it_was_given(later_s: int, *, undone: bool) -> None:
    held = hold(5, 4, 9)
    given = replace(release(6), at=held.at + timedelta(seconds=later_s))
    assert (spans(plan(holds=[held, given])) == MARATHON) is undone


@pytest.mark.parametrize(("day", "kept"), [(20, 1), (21, 1), (22, 0)])
def test_an_override_of_the_last_day_is_still_the_plans(day: int, kept: int) -> None:
    assert len(plan(holds=[release(day)]).holds) == kept
