"""Mornings, nights and check-ins: what the usual comes to, and each limit just below, at and above its border."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from rules.body import checkins as good
from rules.body import mornings as judged
from rules.body import mornings as usual
from rules.body.checkins import HeartRecovery
from rules.body.mornings import Baseline, Level, baseline
from rules.findings import Breach, Severity
from rules.words import said
from tests.rules.people import LIMITS, at, checkin, on, session

DAY0 = on(0)


def normal(
    *, mornings: int = 20, mean: float = 48.0, middle: float = 48.0, spread: float = 2.0, likeness: float = 0.0
) -> Baseline:
    return Baseline(middle, spread, mornings, 14, on(-30), on(-8), mean, spread, likeness)


def days(values: Iterable[float], last: int = -8) -> dict[date, float]:
    """A value a day, the last of them on a day."""
    listed = list(values)
    return {on(last - len(listed) + 1 + number): value for number, value in enumerate(listed)}


# The usual before the race.


def test_a_lone_outlier_among_equal_mornings_is_drawn_in_by_the_mean_deviation() -> None:
    """Fourteen at 48 and one at 90: |off| is 2.8 on average, so 2.5 x 1.2533 x 2.8 = 8.773 is as far as it counts."""
    found = baseline(days([48.0] * 14 + [90.0]), DAY0, (), LIMITS)
    assert found is not None
    assert (found.middle, found.sd) == (48, 0)
    assert found.mean == pytest.approx(48 + 8.7731 / 15)
    assert found.spread == pytest.approx(1.02 * (8.7731**2 * (1 - 1 / 15) / 14) ** 0.5)


def test_values_within_two_and_a_half_deviations_stay_and_others_are_drawn_in_to_there() -> None:
    """Seven at 46, seven at 50 and one at 70: the median is 50 - of 15 the eighth -, most lie 4 or 0 away."""
    found = baseline(days([46.0] * 7 + [50.0] * 7 + [70.0]), DAY0, (), LIMITS)
    assert found is not None
    assert (found.middle, found.sd) == (50, pytest.approx(4 * 1.4826))
    drawn_in = 50 + 2.5 * 4 * 1.4826
    mean = (7 * 46 + 7 * 50 + drawn_in) / 15
    assert found.mean == pytest.approx(mean)
    squares = 7 * (46 - mean) ** 2 + 7 * (50 - mean) ** 2 + (drawn_in - mean) ** 2
    assert found.spread == pytest.approx(1.02 * (squares / 14) ** 0.5)


def test_a_single_morning_has_a_middle_and_no_spread() -> None:
    found = baseline({on(-9): 50.0}, DAY0, (), LIMITS)
    assert found is not None
    assert (found.middle, found.mean, found.spread, found.mornings, found.enough) == (50, 50, 0, 1, False)


@pytest.mark.parametrize(
    ("likeness", "mornings", "unsure"),
    [(0.0, 20, 0.05), (0.25, 20, 1.25 / 0.75 / 20), (0.5, 20, 0.15), (0.5, 4, 0.75), (0.5, 3, 0.75), (0.0, 1, 0.75)],
)
def test_the_mean_of_few_or_like_mornings_is_less_sure(likeness: float, mornings: int, unsure: float) -> None:
    found = normal(mornings=mornings, likeness=likeness, spread=2.0)
    assert found.unsure == pytest.approx(unsure)
    assert found.morning_sd == pytest.approx(2.0 / (1 - unsure) ** 0.5)
    assert found.difference_sd == pytest.approx(2.0 / (1 - unsure) ** 0.5 * (1 + unsure) ** 0.5)


@pytest.mark.parametrize(
    ("signs", "likeness"),
    [
        ([1, -1] * 10, 0.0),  # never negative
        ([1] * 10 + [-1] * 10, 0.5),  # half at the most
        # ten of nineteen pairs alike and nine not: 1/19, and 1/20 for the mean, drawn half of the way to a quarter
        ([1, 1, -1, -1] * 5, (1 / 19 + 1 / 20 + 0.25) / 2),
        ([0] * 20, 0.25),
    ],
)
def test_likeness_is_the_correlation_of_following_days_drawn_towards_a_quarter(
    signs: list[int], likeness: float
) -> None:
    found = baseline(days([48.0 + sign for sign in signs]), DAY0, (), LIMITS)
    assert found is not None
    assert found.likeness == pytest.approx(likeness)


def test_days_that_do_not_follow_each_other_tell_no_likeness() -> None:
    values = {on(-8 - 2 * number): 48.0 + (-1) ** number for number in range(20)}
    found = baseline(values, DAY0, (), LIMITS)
    assert found is not None
    assert found.likeness == 0.25


@pytest.mark.parametrize(("day", "counts"), [(-90, True), (-91, False)])
def test_a_baseline_reaches_ninety_days_back(day: int, *, counts: bool) -> None:
    found = baseline(days([48.0] * 14) | {on(day): 48.0}, DAY0, (), LIMITS)
    assert found is not None
    assert found.mornings == (15 if counts else 14)


@pytest.mark.parametrize(("day", "counts"), [(-8, True), (-7, False), (-1, False)])
def test_the_week_before_the_race_is_none_of_the_usual(day: int, *, counts: bool) -> None:
    found = baseline(days([48.0] * 14, last=-9) | {on(day): 48.0}, DAY0, (), LIMITS)
    assert found is not None
    assert found.mornings == (15 if counts else 14)


@pytest.mark.parametrize(("after", "counts"), [(0, True), (1, False), (14, False), (15, True)])
def test_two_weeks_after_another_race_are_none_of_it(after: int, *, counts: bool) -> None:
    other = on(-60)
    values = days([48.0] * 14) | {other + timedelta(days=after): 48.0}
    found = baseline(values, DAY0, (other,), LIMITS)
    assert found is not None
    assert found.mornings == (15 if counts else 14)


# The chart of mornings.


def level(values: dict[int, float], of: Baseline | None = None, day: int = 20) -> Level | None:
    return usual.level_on(
        {on(each): value for each, value in values.items()}, on(day), DAY0, of or normal(mean=4.0, spread=0.2), LIMITS
    )


def test_the_newest_morning_weighs_three_tenths_and_each_before_it_less() -> None:
    """Weights of 1, 0.7 and 0.49: (4.0 + 0.7 x 4.1 + 0.49 x 4.3) / 2.19."""
    found = level({18: 4.3, 19: 4.1, 20: 4.0})
    assert found is not None
    assert found.mean == pytest.approx((4.0 + 0.7 * 4.1 + 0.49 * 4.3) / 2.19)
    assert (found.mornings, found.usual) == (3, 4.0)
    spread = 0.2 / 0.95**0.5
    assert found.spread == pytest.approx(spread)
    assert found.under == pytest.approx((4.0 - found.mean) / spread)
    error = spread * ((1 + 0.7**2 + 0.49**2) / 2.19**2 + 0.05) ** 0.5
    assert found.note == pytest.approx(4.0 - usual._student(2.25, 19) * error)
    assert found.caution == pytest.approx(4.0 - usual._student(3.05, 19) * error)


def test_mornings_that_are_alike_leave_more_to_chance() -> None:
    """Each pair counts by the likeness to the power of the days between; and of 20 mornings 12 are free."""
    found = level({18: 4.0, 20: 4.0, 19: 4.0}, normal(mean=4.0, spread=0.2, likeness=0.5))
    assert found is not None
    w = {0: 1.0, 1: 0.7, 2: 0.49}
    chance = sum(w[a] * w[b] * 0.5 ** abs(a - b) for a in w for b in w) / 2.19**2
    spread = 0.2 / 0.85**0.5
    error = spread * (chance + 0.15) ** 0.5
    free = 20 * 0.75 / 1.25 - 1
    assert found.note == pytest.approx(4.0 - usual._student(2.25, free) * error)


@pytest.mark.parametrize(("spread", "least"), [(0.05, 0.12), (0.2, 0.2 / 0.95**0.5)])
def test_a_spread_has_a_floor(spread: float, least: float) -> None:
    found = level({18: 4.0, 19: 4.0, 20: 4.0}, normal(mean=4.0, spread=spread))
    assert found is not None
    assert found.spread == pytest.approx(least)


@pytest.mark.parametrize(
    ("mornings", "known"),
    [
        ((18, 19, 20), True),
        ((19, 20), False),
        ((14, 19, 20), True),
        ((13, 19, 20), False),  # not of the week that ends with day 20
        ((14, 15, 16), True),
    ],
)
def test_three_mornings_of_a_week_have_a_level(mornings: tuple[int, ...], *, known: bool) -> None:
    assert (level(dict.fromkeys(mornings, 4.0)) is not None) == known


@pytest.mark.parametrize(("first", "count"), [(7, 4), (6, 3)])
def test_two_weeks_are_remembered(first: int, count: int) -> None:
    found = level(dict.fromkeys((first, 18, 19, 20), 4.0))
    assert found is not None
    assert found.mornings == count


@pytest.mark.parametrize(("mornings", "count"), [((0, 1, 2, 3), 3), ((1, 2, 3), 3)])
def test_the_morning_of_the_race_is_none_after_it(mornings: tuple[int, ...], count: int) -> None:
    found = level(dict.fromkeys(mornings, 4.0), day=3)
    assert found is not None
    assert found.mornings == count


def test_levels_are_of_the_days_after_the_race_that_have_enough() -> None:
    values = {on(day): 4.0 for day in range(-2, 6)}
    assert list(usual.levels(values, DAY0, normal(mean=4.0), LIMITS)) == [on(3), on(4), on(5)]
    assert usual.levels(values, DAY0, None, LIMITS) == {}
    assert usual.levels(values, DAY0, normal(mornings=13), LIMITS) == {}


# Student's t, from printed tables: one-sided 0.975, 0.99 and 0.995.


@pytest.mark.parametrize(
    ("z", "free", "t"),
    [
        (1.95996, 10, 2.22814),
        (1.95996, 20, 2.08596),
        (2.32635, 10, 2.76377),
        (2.32635, 30, 2.45726),
        (2.57583, 20, 2.84534),
    ],
)
def test_students_t_is_that_of_the_tables(z: float, free: float, t: float) -> None:
    assert usual._student(z, free) == pytest.approx(t, rel=4e-3)


# Resting heart rate.


@pytest.mark.parametrize(("spread", "limit"), [(1.0, 53.0), (2.0, 53.0), (2.2, 48 + 2.3 * 2.2 / 0.95**0.5 * 1.05**0.5)])
def test_up_is_five_beats_or_two_and_three_tenths_deviations(spread: float, limit: float) -> None:
    assert judged.resting_limit(normal(spread=spread), LIMITS) == pytest.approx(limit)
    assert judged.resting_limit(normal(spread=spread, mornings=13), LIMITS) is None


@pytest.mark.parametrize(
    ("values", "up"),
    [
        ({3: 53, 4: 53}, {4}),
        ({3: 53, 4: 52.9}, set()),
        ({0: 60, 1: 60, 2: 60}, {2}),
        ({3: 60, 5: 60}, set()),
        ({3: 60, 4: 60, 5: 60}, {4, 5}),
    ],
)
def test_two_mornings_running_after_the_race_are_up(values: dict[int, float], up: set[int]) -> None:
    found = judged.mornings_up({on(day): value for day, value in values.items()}, DAY0, 53.0, LIMITS)
    assert found == {on(day) for day in up}


def test_a_rise_is_told_against_the_usual() -> None:
    found = judged.resting_hr_up({on(3): 56.0, on(4): 58.0}, DAY0, normal(), LIMITS)[on(4)]
    assert said(found.summary) == (
        "Resting heart rate 56 and 58 on two mornings running, 10 over your usual 48; from 53.0 it counts as up"
    )
    assert (found.observed, found.limit) == (58.0, 53.0)
    assert found.evidence["mornings_bpm"] == {on(3).isoformat(): 56.0, on(4).isoformat(): 58.0}


# Sleep.


@pytest.mark.parametrize(
    ("minutes", "severity"), [(420, None), (419.9, Severity.NOTE), (360, Severity.NOTE), (359.9, Severity.CAUTION)]
)
def test_three_nights_of_under_seven_hours_are_short_and_of_under_six_a_caution(
    minutes: float, severity: Severity | None
) -> None:
    found = judged.short_sleep({on(day): minutes for day in (1, 2, 3)}, DAY0, LIMITS)
    assert [breach.severity for breach in found.values()] == ([] if severity is None else [severity])
    assert list(found) == ([] if severity is None else [on(3)])


@pytest.mark.parametrize(
    ("nights", "told"), [((0, 1, 2), False), ((1, 2, 3), True), ((1, 2, 4), False), ((2, 3), False)]
)
def test_three_nights_running_after_the_race_are_judged(nights: tuple[int, ...], *, told: bool) -> None:
    assert bool(judged.short_sleep({on(day): 300.0 for day in nights}, DAY0, LIMITS)) == told


def breaches(*severities: tuple[int, Severity]) -> dict[date, Breach]:
    return {on(day): Breach("short_sleep", severity, "") for day, severity in severities}


@pytest.mark.parametrize(("last", "told"), [(9, [3]), (10, [3, 10]), (11, [3, 10])])
def test_what_lasts_is_told_again_after_a_week(last: int, told: list[int]) -> None:
    found = breaches(*((day, Severity.NOTE) for day in range(3, last + 1)))
    kept = judged.when_told(found, sorted(found), LIMITS)
    assert list(kept) == [on(day) for day in told]
    assert {breach.evidence["since"] for breach in kept.values()} == {on(3).isoformat()}


def test_what_grows_worse_is_told_at_once_and_what_comes_again_anew() -> None:
    note, caution = Severity.NOTE, Severity.CAUTION
    found = breaches((3, note), (4, caution), (5, note), (6, caution), (8, note))
    kept = judged.when_told(found, [on(day) for day in range(3, 9)], LIMITS)
    assert list(kept) == [on(3), on(4), on(8)]
    assert kept[on(8)].evidence["since"] == on(8).isoformat()


# Heart and mood are back.


@pytest.mark.parametrize(
    ("answers", "back"),
    [
        ({"mood": 7}, True),
        ({"mood": 6}, False),
        ({"energy": 7}, True),
        ({"energy": 6, "mood": 9}, False),
        ({"mood": 7, "soreness": 2}, True),
        ({"mood": 7, "soreness": 3}, False),
        ({"mood": 7, "stairs_unaided": False}, False),
        ({"mood": 7, "squat_unaided": False}, False),
        ({"mood": 7, "stairs_unaided": True, "squat_unaided": True}, True),
        ({"soreness": 0}, False),
    ],
)
def test_mood_is_back_at_seven_of_ten_with_little_soreness(answers: dict[str, Any], *, back: bool) -> None:
    assert good._mood_is_back(checkin(5, **answers), LIMITS) == back


def side(
    resting: float | None = None, ln: float | None = None, share: float | None = None, **more: Any
) -> HeartRecovery:
    variability = {} if ln is None else {on(day): ln for day in more.pop("ln_days", (3, 4, 5))}
    shares = {} if share is None else {on(more.pop("share_day", 4)): share}
    return HeartRecovery(
        {} if resting is None else {on(5): resting}, more.pop("resting_normal", normal()),
        variability, more.pop("ln_normal", normal(mean=4.0, spread=0.2)), shares,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("heart", "said"),
    [
        (side(), {}),
        (side(50), {"resting_hr_over_usual_bpm": 2}),
        (side(50.1), {}),
        (side(45), {"resting_hr_over_usual_bpm": -3}),
        (side(50, resting_normal=normal(mornings=13)), {}),
        (side(50, resting_normal=None), {}),
        (side(ln=3.9001), {"ln_rmssd_over_usual": -0.1}),
        (side(ln=3.8999), {}),
        (side(ln=3.93, ln_normal=normal(mean=4.0, spread=0.01)), {}),
        (side(ln=3.95, ln_normal=normal(mean=4.0, spread=0.01)), {"ln_rmssd_over_usual": -0.05}),
        (side(ln=4.0, ln_days=(4, 5)), {}),
        (side(ln=4.0, ln_normal=normal(mornings=13)), {}),
        (side(share=1.03), {"easy_heart_rate_per_speed_of_usual": 1.03}),
        (side(share=1.031), {}),
        (side(45, share=1.031), {}),
        (side(45, ln=3.0), {}),
        (side(share=1.0, share_day=5), {}),
        (side(share=1.0, share_day=-2), {"easy_heart_rate_per_speed_of_usual": 1.0}),
        (side(share=1.0, share_day=-3), {}),
    ],
)
def test_the_heart_is_back_where_all_that_is_known_of_it_is(heart: HeartRecovery, said: dict[str, float]) -> None:
    """Two beats, half a deviation and three in a hundred; an easy run of the seven days before."""
    assert good._heart_is_back(on(5), DAY0, heart, LIMITS) == pytest.approx(said)


@pytest.mark.parametrize(
    ("stage", "told"), [("days_off", True), ("cross_training", True), ("test_runs", True), ("on_ramp", False)]
)
def test_it_is_said_while_tendon_and_bone_are_not_back(stage: str, *, told: bool) -> None:
    found = good.feels_too_good(on(5), DAY0, stage, checkin(5, mood=8), side(47), LIMITS)
    assert (found is not None) == told
    assert found is None or (found.observed, said(found.summary)[:6]) == (5, "Day 5:")
    assert good.feels_too_good(on(5), DAY0, stage, None, side(47), LIMITS) is None
    assert good.feels_too_good(on(5), DAY0, stage, checkin(5, mood=8), side(), LIMITS) is None


def test_easy_runs_are_held_against_the_median_of_those_before() -> None:
    assert good.easy_shares([50.0, 40.0, 60.0], {on(3): 55.0}) == {on(3): 1.1}
    assert good.easy_shares([], {on(3): 55.0}) == {}
    assert good.easy_shares([0.0], {on(3): 55.0}) == {}


def loaded(day: float, load: float) -> Any:
    made = session(int(day), hour=day % 1 * 24)
    return replace(made, digest=replace(made.digest, impact_load=load))


def test_impact_is_that_of_the_last_week_over_the_mean_of_five_weeks_before_the_race_week() -> None:
    finish, now = at(0, 14), at(10, 14)
    before = [loaded(-41.5, 100.0), loaded(-20.0, 300.0), loaded(-7.5, 100.0)]  # 500 in five weeks: 100 a week
    aside = [loaded(-43.5, 900.0), loaded(-6.0, 900.0), loaded(-1.0, 900.0)]
    since = [loaded(4.0, 30.0), loaded(9.0, 20.0)]
    assert good.impact_share(
        now, [*before, *aside, *since, loaded(2.0, 700.0), loaded(11.0, 700.0)], finish, LIMITS
    ) == pytest.approx(0.5)
    assert good.impact_share(now, since, finish, LIMITS) is None
    assert good.impact_share(
        at(3, 14), [*before, loaded(-3.0, 900.0), loaded(2.0, 50.0)], finish, LIMITS
    ) == pytest.approx(0.5)
