"""Formulas against published values and worked examples; the source stands beside each."""

from __future__ import annotations

import numpy as np
import pytest

from rules.facts import riegel_seconds, riegel_threshold
from rules.limits import default_limits
from rules.plan.stages import trimp
from rules.session.digest import peak_force_bw
from rules.session.ground import cost_of_running, effort_speed

# Minetti et al. 2002, J Appl Physiol 93:1039: cost of running measured on the treadmill, mean and SD, J/kg/m.
MEASURED_RUNNING = [(0.0, 3.40, 0.24), (0.45, 18.93, 1.74), (-0.20, 1.73, 0.36), (-0.45, 3.92, 0.81)]
# The same paper's polynomial, worked out at more slopes.
POLYNOMIAL = [
    (-0.30, 2.46224),
    (-0.10, 2.15171),
    (0.10, 5.96821),
    (0.30, 12.57928),
]


@pytest.mark.parametrize(("slope", "mean", "deviation"), MEASURED_RUNNING)
def test_the_cost_of_running_lies_within_a_deviation_of_what_was_measured(
    slope: float, mean: float, deviation: float
) -> None:
    assert abs(float(cost_of_running(np.array([slope]))[0]) - mean) <= deviation


@pytest.mark.parametrize(("slope", "running"), POLYNOMIAL)
def test_the_cost_polynomial_is_that_of_the_paper(slope: float, running: float) -> None:
    assert float(cost_of_running(np.array([slope]))[0]) == pytest.approx(running, abs=2e-5)


def test_a_climb_counts_as_the_speed_it_costs_and_a_descent_never_less_than_its_own() -> None:
    # Minetti 2002: 3.0 m/s at +10 % costs as much as 4.9735 m/s on the level
    assert float(effort_speed(np.array([3.0]), np.array([0.10]), default_limits())[0]) == pytest.approx(
        4.973512, abs=1e-5
    )
    assert float(effort_speed(np.array([3.0]), np.array([-0.10]), default_limits())[0]) == 3.0


# Banister 1991 with the constants of Morton et al. 1990: 60 min at 150, rest 50, highest 190; and the widely copied
# example of 30 min at 130, rest 40, highest 200, which prints 32.
IMPULSES = [
    (150, 60, 50, 190, "male", 108.09536),
    (150, 60, 50, 190, "female", 121.49907),
    (130, 30, 40, 200, "male", 31.802539),
    (130, 30, 40, 200, "female", 37.128518),
]


@pytest.mark.parametrize(("bpm", "minutes", "rest", "highest", "sex", "impulse"), IMPULSES)
def test_the_training_impulse_is_that_of_the_worked_examples(
    bpm: int, minutes: float, rest: float, highest: float, sex: str, impulse: float
) -> None:
    assert trimp({bpm: minutes * 60.0}, rest, highest, sex) == pytest.approx(impulse, abs=1e-5)


def test_women_weigh_with_their_own_factor() -> None:
    # 0.86 e^1.67 = 4.568 a minute at the highest heart rate; 0.64 would give the 3.40 that is often copied
    assert trimp({190: 60.0}, 50, 190, "female") == pytest.approx(4.568464, abs=1e-6)


def test_the_impulse_is_summed_over_samples_and_not_taken_from_the_mean() -> None:
    # reserve 100: half an hour each at 0.4 and 0.8 is a fifth more than an hour at 0.6
    apart = trimp({90: 1800.0, 130: 1800.0}, 50, 150, "male")
    assert apart == pytest.approx(87.9160, abs=1e-3)
    assert apart / trimp({110: 3600.0}, 50, 150, "male") == pytest.approx(1.206, abs=1e-3)


# Riegel 1981, Am Sci 69:285, T2 = T1 (D2/D1)^1.06.
EQUIVALENTS = [
    (10.0, 2400, 42.195, 11040.48),
    (5.0, 1200, 10.0, 2501.92),
    (21.0975, 5400, 42.195, 11258.63),
    (5.0, 1200, 21.0975, 5520.24),
]


@pytest.mark.parametrize(("distance", "seconds", "other", "expected"), EQUIVALENTS)
def test_equivalent_times_are_those_of_riegel(distance: float, seconds: float, other: float, expected: float) -> None:
    assert riegel_seconds(distance, seconds, other) == pytest.approx(expected, abs=0.02)


def test_the_threshold_speed_is_the_one_held_for_an_hour() -> None:
    speed = riegel_threshold(10.0, 2400)
    assert riegel_seconds(10.0, 2400, speed * 3.6) == pytest.approx(3600, abs=0.01)


def test_peak_force_leaps_from_walking_to_running() -> None:
    """Walking 1.0-1.5 body weights, running 2.0-2.9 (Nilsson 1989); 2.5 to 2.8 at 3 to 5 m/s (Munro 1987)."""
    limits = default_limits()
    speeds = np.array([1.4, 2.0, 2.2, 3.0, 5.0])
    walking = peak_force_bw(speeds, np.zeros(5, dtype=bool), limits)
    running = peak_force_bw(speeds, np.ones(5, dtype=bool), limits)
    assert ((walking >= 1.0) & (walking <= 1.5)).all()
    assert ((running >= 2.0) & (running <= 2.9)).all()
    assert running[3] == pytest.approx(2.5, abs=0.1)
    assert running[4] == pytest.approx(2.8, abs=0.1)
