"""Length of a reverse taper, worked by hand from the table of events."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.plan import plan_length
from rules.plan.stages import exact, highest_whole_below, round_half_up
from tests.rules.people import LIMITS, race

EVENTS = {
    "5k": (5, 5), "10k": (9, 7), "half": (14, 10), "marathon": (21, 16), "ultra_50k": (28, 21), "ultra_100k": (35, 26),
    "ultra_100mi": (35, 26), "tri_sprint": (7, 5), "tri_olympic": (10, 7), "tri_half": (14, 10), "tri_full": (28, 21),
}  # fmt: skip
"""Days all out and under control: a quarter less, halves rounded up, never under five."""


@pytest.mark.parametrize(("event", "days"), EVENTS.items())
def test_every_event_has_its_length_all_out_and_under_control(event: str, days: tuple[int, int]) -> None:
    assert plan_length(race(event), LIMITS).days == days[0]
    assert plan_length(race(event, effort="controlled"), LIMITS).days == days[1]


@pytest.mark.parametrize(
    ("km", "days"),
    [
        (1, 5), (5, 5), (5.6, 5), (5.625, 6), (5.63, 6), (10, 9), (11.1, 9), (11.11, 10), (15, 11), (21.0975, 14),
        (21.1, 14), (22.6, 14), (22.61, 15), (30, 17), (42.195, 21), (42.2, 21), (46.1, 25), (50, 28), (53.57, 28),
        (53.572, 29), (75, 32), (100, 35), (160.9, 35),
    ],
)  # fmt: skip
def test_a_custom_distance_lies_on_the_line_between_events(km: float, days: int) -> None:
    # 5.625 km: 5 + 4 x 0.625/5 = 5.5 days, rounded half up; 11.11 km: 9.5; 22.607 km: 14.5; 75 km: 31.5
    assert plan_length(race("custom", distance_km=km), LIMITS).days == days


def test_a_custom_event_without_a_distance_is_refused() -> None:
    with pytest.raises(ValueError, match="distance_km"):
        plan_length(race("custom"), LIMITS)


def test_the_taper_sets_the_length_whatever_the_event() -> None:
    assert plan_length(race("5k", taper_days=18), LIMITS).days == 18


@pytest.mark.parametrize(
    ("conditions", "more"),
    [((), 0), (("heat",), 2), (("heat", "hills"), 4), (("heat", "hills", "cold"), 6), (("heat",) * 3, 2),
     (("heat", "hills", "altitude", "injury"), 7), (("heat", "cold", "altitude", "hills", "injury", "stage_race"), 7)],
)  # fmt: skip
def test_conditions_add_two_days_each_and_seven_at_most(conditions: tuple[str, ...], more: int) -> None:
    assert plan_length(race("marathon", conditions=conditions), LIMITS).days == 21 + more


def test_a_controlled_effort_shortens_before_conditions_lengthen() -> None:
    assert plan_length(race("ultra_50k", effort="controlled", conditions=("heat",)), LIMITS).days == 28 - 7 + 2
    assert plan_length(race("half", taper_days=14, effort="controlled"), LIMITS).days == 10
    assert plan_length(race("half", taper_days=6, effort="controlled"), LIMITS).days == 5


@given(st.integers(1, 60))
def test_a_controlled_effort_never_makes_a_plan_longer(taper: int) -> None:
    whole = plan_length(race(taper_days=taper), LIMITS).days
    controlled = plan_length(race(taper_days=taper, effort="controlled"), LIMITS).days
    assert min(whole, 5) <= controlled <= whole


def test_reasons_name_a_source_or_say_that_there_is_none() -> None:
    reasons = plan_length(race("half", effort="controlled", conditions=("heat", "hills")), LIMITS).reasons
    assert reasons == (
        "14 days for half (common practice, no source)",
        "run under control: 4 days fewer (project default)",
        "heat, hills: 4 days more (project default)",
    )


def test_decimals_are_exact_and_halves_go_up() -> None:
    assert exact(21.1) == Fraction(211, 10)
    assert [round_half_up(Fraction(n, 2)) for n in (1, 3, 5)] == [1, 2, 3]
    assert [highest_whole_below(Fraction(text)) for text in ("128", "121.6", "146.3")] == [127, 121, 146]
