"""Dates, stages and allowances of a plan, also where clocks change and days begin elsewhere."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from rules.plan import Plan
from tests.rules.people import at, athlete, on, plan, race, spans


def _dates(one: Plan) -> list[tuple[date, date]]:
    return [(row.first_date, row.last_date) for row in one.stages]


def test_day_0_is_the_local_date_of_the_finish() -> None:
    one = plan()
    assert one.day0 == date(2026, 10, 4)
    assert _dates(one)[0] == (date(2026, 10, 5), date(2026, 10, 11))
    assert one.last_date == date(2026, 10, 25)


@pytest.mark.parametrize(
    ("zone", "finish", "first", "last"),
    [
        # clocks go back on 2026-10-25 in Oslo, inside the plan: dates are counted, not hours
        ("Europe/Oslo", "2026-10-18T00:05", date(2026, 10, 19), date(2026, 11, 8)),
        # clocks go forward on 2026-09-27 in Auckland; a finish one minute before midnight
        ("Pacific/Auckland", "2026-09-26T23:59", date(2026, 9, 27), date(2026, 10, 17)),
        # 14 h ahead of UTC: the finish is still the day before in UTC
        ("Pacific/Kiritimati", "2026-02-28T09:00", date(2026, 3, 1), date(2026, 3, 21)),
        # 3:30 behind UTC, a leap day inside the plan
        ("America/St_Johns", "2028-02-20T22:45", date(2028, 2, 21), date(2028, 3, 12)),
    ],
)  # fmt: skip
def test_stages_follow_local_dates_through_clock_changes_and_the_date_line(
    zone: str, finish: str, first: date, last: date
) -> None:
    one = race("marathon", datetime.fromisoformat(finish), zone)
    laid = plan(one, athlete(one, zone=zone))
    assert laid.day0.isoformat() == finish[:10]
    assert laid.stages[0].first_date == first
    assert laid.last_date == last
    assert spans(laid) == [("days_off", 1, 7), ("cross_training", 8, 14), ("test_runs", 15, 21)]


def test_a_finish_given_in_utc_still_falls_on_the_local_date() -> None:
    one = race("5k")
    late = plan(type(one)("5k", datetime(2026, 10, 4, 23, 30, tzinfo=UTC)), athlete(one))
    assert late.day0 == date(2026, 10, 5)


def test_before_the_finish_the_stage_is_before_and_after_it_the_days_off_begin() -> None:
    one = plan()
    assert one.stage_at(at(0, 13)) == "before"
    assert one.stage_at(at(0, 14)) == "days_off"
    assert one.allowance_on(on(0)).day == 0
    assert one.stage_on(on(-1)) == "before"
    assert [one.stage_on(on(day)) for day in (1, 7, 8, 14, 15, 21, 22)] == [
        "days_off", "days_off", "cross_training", "cross_training", "test_runs", "test_runs", "done",
    ]  # fmt: skip
    assert not one.is_active(at(22, 0))
    assert one.is_active(at(21, 23))


def test_each_stage_has_the_limits_of_the_table() -> None:
    one = plan(race("ultra_100k"))
    rows = {row.stage: row for row in one.stages}
    assert [rows[name].duration_cap_min for name in rows] == [45, 60, 60, None]
    assert [rows[name].ceiling_bpm for name in rows] == [121, 146, 146, 146]
    assert [rows[name].strength for name in rows] == ["none", "under the ceiling", "under the ceiling", "free"]
    assert rows["days_off"].running == "none"
    assert rows["test_runs"].run_cap_min == 30
    assert all("none" in rows[name].speed_work for name in rows)
    assert all(rows[name].reasons for name in rows)


def test_one_short_run_is_tolerated_only_in_the_last_two_days_of_a_long_enough_stage() -> None:
    marathon = plan()
    assert [one for one in range(1, 22) if marathon.allowance_on(on(one)).running == "tolerated"] == [13, 14]
    assert marathon.allowance_on(on(13)).tolerated_run_min == 20
    half = plan(race("half"))  # cross-training is four days long
    assert all(half.allowance_on(on(day)).running != "tolerated" for day in range(1, 15))
    assert plan(race(taper_days=16)).allowance_on(on(12)).running == "tolerated"  # five days long


def test_the_last_three_days_of_the_on_ramp_are_open() -> None:
    one = plan(race("ultra_100k"))
    for day in range(22, 33):
        allowed = one.allowance_on(on(day))
        assert allowed.ceiling is not None
        assert not allowed.ceiling_open
        assert allowed.speed_work == "none"
    for day in (33, 34, 35):
        allowed = one.allowance_on(on(day))
        assert allowed.ceiling is None
        assert allowed.ceiling_open
        assert allowed.speed_work == "strides"


def test_the_on_ramp_rises_by_the_week() -> None:
    one = plan(race("ultra_100k", conditions=("heat", "hills", "altitude", "injury")))
    shares = [one.allowance_on(on(day)).weekly_share for day in (22, 28, 29, 35, 36, 42)]
    assert shares == [0.5, 0.5, 0.75, 0.75, 0.9, 0.9]


def test_outside_a_plan_nothing_is_limited() -> None:
    for day in (-1, 22):
        allowed = plan().allowance_on(on(day))
        assert (allowed.running, allowed.speed_work, allowed.day_cap_min, allowed.ceiling_open) == (
            "free",
            "free",
            None,
            True,
        )


def test_a_whole_day_shift_of_race_and_facts_moves_nothing_but_dates() -> None:
    shifted = race(finish=race().finish.replace(tzinfo=None) + timedelta(days=364))
    assert spans(plan(shifted, athlete(shifted))) == spans(plan())
