"""Heart rate for its speed: which running counts, what drift, fading and scatter come to, and from how much on."""

from __future__ import annotations

import numpy as np
import pytest

from rules.limits import default_limits
from rules.session.digest import SteadyPart, decoupling, drift, easy_hr_per_mps, remarks

LIMITS = default_limits()
BEGINS = int(LIMITS.measures.settle_s)


def steady(seconds: int, hr_bpm: float = 140.0, speed_mps: float = 2.8) -> SteadyPart:
    return SteadyPart(
        np.arange(BEGINS, BEGINS + seconds, dtype=np.float64), np.full(seconds, speed_mps), np.full(seconds, hr_bpm)
    )


def test_a_heart_that_beats_more_for_the_same_speed_has_drifted_upwards() -> None:
    """154 after 140 bpm at one speed is 10 % more (Smyth 2022: later over earlier heart rate per speed)."""
    assert decoupling(np.array([140 / 2.8]), np.array([154 / 2.8])) == pytest.approx(1.1)


@pytest.mark.parametrize(("more", "told"), [(-1, False), (0, True), (1, True)])
def test_drift_is_told_from_half_an_hour_on(more: int, told: bool) -> None:
    run = steady(int(LIMITS.measures.least_drift_s) - BEGINS + more)
    run.hr_bpm[len(run.hr_bpm) // 2 :] = 147.0
    found = drift(run, LIMITS)
    assert (found is not None) == told
    assert found is None or found == pytest.approx(1.05, abs=0.001)


@pytest.mark.parametrize(("more", "told"), [(-1, False), (0, True), (1, True)])
def test_heart_rate_at_easy_speed_needs_four_minutes(more: int, told: bool) -> None:
    found = easy_hr_per_mps(steady(int(LIMITS.measures.least_easy_s) + more), LIMITS)
    assert found == (50.0 if told else None)


@pytest.mark.parametrize(("off", "kept"), [(0.09, 1200), (0.11, 1000)])
def test_what_is_a_tenth_faster_or_slower_than_usual_is_left_out(off: float, kept: int) -> None:
    run = steady(1200)
    run.speed_mps[:100] *= 1 + off
    run.speed_mps[-100:] *= 1 - off
    assert len(run.even(LIMITS.measures.even_share).speed_mps) == kept


@pytest.mark.parametrize(("ratio", "fades"), [(1.055, False), (1.065, True)])
def test_a_run_fades_whose_heart_asks_for_six_percent_more_after_three_quarters_of_an_hour(
    ratio: float, fades: bool
) -> None:
    assert ("fades_after_45_min" in told_of(600, 300, ratio)) == fades


@pytest.mark.parametrize(("early", "late"), [(599, 300), (600, 299)])
def test_a_fade_needs_ten_minutes_before_and_five_after(early: int, late: int) -> None:
    assert "fades_after_45_min" not in told_of(early, late, 1.2)


def told_of(early: int, late: int, ratio: float) -> dict[str, object]:
    border = LIMITS.measures.fade_after_s
    run = steady(early + late)
    time_s = np.arange(border - early, border + late, dtype=np.float64)
    run.hr_bpm[early:] *= ratio
    # no scatter is asked for: it needs the track, and these are at most as long as it takes
    short = SteadyPart(time_s, run.speed_mps, run.hr_bpm)
    limits = LIMITS.overridden({"measures": {"scatter_s": 10_000}})
    return remarks(None, short, limits)
