"""Heart-rate classes and formulas as published.

ACSM position stand: Garber et al. 2011, Med Sci Sports Exerc 43(7):1334-59, table 5: light 57-63 % of HRmax or 30-39 %
of heart rate reserve, moderate 64-76 % or 40-59 %. The classes are half open: [57, 64) and [64, 77), [30, 40) and
[40, 60).
Karvonen, Kentala, Mustala 1957: heart rate at a share of the reserve = rest + share x (HRmax - rest).
Tanaka, Monahan, Seals 2001, J Am Coll Cardiol 37:153: HRmax = 208 - 0.7 x age.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from rules.body.mornings import Baseline
from rules.plan import ceilings
from rules.plan.stages import estimated_hr_max
from rules.words import said
from tests.rules.people import LIMITS, athlete, on

ACSM_HRMAX = {"light": (57, 64), "moderate": (64, 77)}
ACSM_HRR = {"light": (30, 40), "moderate": (40, 60)}


def _class(table: dict[str, tuple[int, int]], percent: Fraction) -> str:
    return next((name for name, (low, high) in table.items() if low <= percent < high), "")


@pytest.mark.parametrize("hr_max", range(140, 226))
def test_a_ceiling_by_hrmax_is_the_last_beat_of_its_acsm_class(hr_max: int) -> None:
    both = ceilings(athlete(hr_max=hr_max), 2026, None, LIMITS)
    assert both.zone1 is not None
    assert both.zone2 is not None
    for ceiling, name in ((both.zone1, "light"), (both.zone2, "moderate")):
        assert _class(ACSM_HRMAX, Fraction(100 * ceiling.bpm, hr_max)) == name
        assert _class(ACSM_HRMAX, Fraction(100 * (ceiling.bpm + 1), hr_max)) != name


@pytest.mark.parametrize("hr_max", range(140, 226, 5))
@pytest.mark.parametrize("rest", range(35, 76, 4))
def test_a_ceiling_by_reserve_is_the_last_beat_of_its_acsm_class(hr_max: int, rest: int) -> None:
    both = ceilings(athlete(hr_max=hr_max, hr_rest=rest, intensity_model="hrr"), 2026, None, LIMITS)
    assert both.zone1 is not None
    assert both.zone2 is not None
    for ceiling, name in ((both.zone1, "light"), (both.zone2, "moderate")):
        assert _class(ACSM_HRR, Fraction(100 * (ceiling.bpm - rest), hr_max - rest)) == name
        assert _class(ACSM_HRR, Fraction(100 * (ceiling.bpm + 1 - rest), hr_max - rest)) != name


@pytest.mark.parametrize(
    ("hr_max", "zone1", "zone2"), [(190, 121, 146), (200, 127, 153), (188, 120, 144), (150, 95, 115), (175, 111, 134)]
)
def test_ceilings_by_hrmax_worked_by_hand(hr_max: int, zone1: int, zone2: int) -> None:
    # 190: 121.6 and 146.3; 200: 128 itself is no longer below 64 %, 154 no longer below 77 %
    both = ceilings(athlete(hr_max=hr_max), 2026, None, LIMITS)
    assert (both.zone1 and both.zone1.bpm, both.zone2 and both.zone2.bpm) == (zone1, zone2)


def test_karvonen_at_the_ends_of_the_zones() -> None:
    # HRmax 190, rest 50: 40 % is 106, 60 % is 134 bpm; both are the first beat of the next class
    both = ceilings(athlete(hr_rest=50, intensity_model="hrr"), 2026, None, LIMITS)
    assert (both.zone1 and both.zone1.bpm, both.zone2 and both.zone2.bpm) == (105, 133)


@pytest.mark.parametrize(("age", "bpm"), [(20, "194.0"), (30, "187.0"), (35, "183.5"), (50, "173.0"), (60, "166.0")])
def test_hrmax_from_age_is_tanakas(age: int, bpm: str) -> None:
    assert estimated_hr_max(2026 - age, 2026, LIMITS) == Fraction(bpm)


def test_an_estimate_is_marked_wherever_it_is_used() -> None:
    # age 35: 183.5; 64 % are 117.44, 77 % are 141.295
    both = ceilings(athlete(hr_max=None, born=1991), 2026, None, LIMITS)
    assert both.zone1 is not None
    assert both.zone2 is not None
    assert (both.zone1.bpm, both.zone2.bpm) == (117, 141)
    assert both.zone1.estimated
    assert both.zone2.estimated
    assert "age 35" in said(both.estimated[0])
    assert "Tanaka" in said(both.zone1.reason)


def test_resting_heart_rate_is_learned_from_mornings_and_marked() -> None:
    learned = Baseline(48.5, 1.5, 20, 14, on(-30), on(-10), 48.5, 1.5)
    both = ceilings(athlete(intensity_model="hrr"), 2026, learned, LIMITS)
    assert both.zone1 is not None
    assert both.zone1.bpm == 105  # 48.5 + 0.4 x 141.5 = 105.1
    assert both.zone1.estimated
    assert "median of 20 mornings" in said(both.estimated[0])


def test_by_threshold_the_zones_end_at_81_and_89_percent() -> None:
    # 171: 138.51 and 152.19; common practice, no source
    both = ceilings(athlete(threshold_hr=171, intensity_model="threshold"), 2026, None, LIMITS)
    assert (both.zone1 and both.zone1.bpm, both.zone2 and both.zone2.bpm) == (138, 152)
    assert both.zone1 is not None
    assert "no source" in said(both.zone1.reason)


def test_fixed_ceilings_are_taken_as_they_stand() -> None:
    both = ceilings(athlete(ceiling_zone1=118, ceiling_zone2=141, intensity_model="fixed"), 2026, None, LIMITS)
    assert (both.zone1 and both.zone1.bpm, both.zone2 and both.zone2.bpm) == (118, 141)


def test_a_model_without_its_data_falls_back_and_says_so() -> None:
    no_rest = ceilings(athlete(intensity_model="hrr"), 2026, None, LIMITS)
    assert no_rest.zone1 is not None
    assert no_rest.zone1.bpm == 121
    assert "no mornings" in said(no_rest.reasons[0])
    no_age = ceilings(athlete(hr_max=None, threshold_hr=171), 2026, None, LIMITS)
    assert no_age.zone1 is not None
    assert no_age.zone1.bpm == 138


def test_with_nothing_known_there_is_no_ceiling_but_an_effort_by_feel() -> None:
    none = ceilings(athlete(hr_max=None), 2026, None, LIMITS)
    assert none.zone1 is None
    assert none.zone2 is None
    assert "by feel" in said(none.reasons[-1])
    assert "11 of 20" in none.effort[0]  # ACSM: light is 9-11 of 20, moderate 12-13
    assert "13 of 20" in none.effort[1]
