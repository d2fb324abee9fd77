"""What fast stretches are called, each step just below, at and just above its limit."""

from __future__ import annotations

import numpy as np
import pytest

from rules.speed_work.bouts import bout
from rules.speed_work.judge import kind_of
from tests.rules.speed_work.scene import LIMITS, ROWS, called, track


@pytest.mark.parametrize(
    ("lengths", "name"),
    [
        ((20, 20, 20, 20), "strides"), ((30, 30, 30), "strides"), ((180, 180, 180), "repeats"),
        ((60, 60, 60, 60), "repeats"),
        ((30, 180, 60, 240, 40), "fast running"), ((30, 240), "fast running"),
    ],
)  # fmt: skip
def test_several_stretches_are_called_by_their_lengths(lengths: tuple[int, ...], name: str) -> None:
    assert called(*lengths) == name


@pytest.mark.parametrize(("apart", "name"), [(19, "repeats"), (20, "repeats"), (21, "fast running")])
def test_repeats_scatter_by_a_fifth_of_their_length_at_most(apart: int, name: str) -> None:
    assert called(100 - apart, 100 + apart) == name


@pytest.mark.parametrize(
    ("slope", "name"), [(0.0, "repeats"), (0.039, "repeats"), (0.041, "hill repeats"), (0.08, "hill repeats")]
)
def test_repeats_on_a_climb_are_hill_repeats(slope: float, name: str) -> None:
    assert called(90, 90, 90, slope=slope) == name


def test_one_stretch_is_called_by_its_length_and_place() -> None:
    assert called(3500, first=50) == "a time trial"
    assert called(300, first=3295) == "a fast finish"
    assert called(120, slope=0.08) == "a hard climb"
    assert called(1500, first=600) == "sustained fast running"
    assert called(100, first=900) == "fast running"


def test_a_run_that_grows_faster_by_quarters_is_a_progression() -> None:
    speed = np.repeat([2.5, 2.8, 3.2, 3.7], ROWS // 4)
    found = track(speed, np.full(ROWS, 165.0))
    assert kind_of(found, found.effort_mps, [bout(found, found.effort_mps, 2700, 3600)], LIMITS) == "progression"
    even = track(np.repeat([2.8, 2.8, 2.8, 3.7], ROWS // 4), np.full(ROWS, 165.0))
    assert kind_of(even, even.effort_mps, [bout(even, even.effort_mps, 2700, 3600)], LIMITS) != "progression"


@pytest.mark.parametrize(("seconds", "name"), [(34, "strides"), (35, "strides"), (36, "repeats")])
def test_up_to_thirty_five_seconds_are_strides(seconds: int, name: str) -> None:
    assert called(seconds, seconds, seconds) == name


@pytest.mark.parametrize(("longest", "name"), [(35, "strides"), (36, "fast running")])
def test_uneven_strides_stay_strides_up_to_their_length(longest: int, name: str) -> None:
    assert called(14, longest, 14) == name


@pytest.mark.parametrize(("seconds", "name"), [(2519, "sustained fast running"), (2520, "a time trial")])
def test_seven_tenths_of_the_running_are_a_time_trial(seconds: int, name: str) -> None:
    assert called(seconds, first=300) == name


@pytest.mark.parametrize(("seconds", "name"), [(299, "fast running"), (300, "sustained fast running")])
def test_five_minutes_are_sustained(seconds: int, name: str) -> None:
    assert called(seconds, first=900) == name


@pytest.mark.parametrize(("end", "name"), [(3418, "fast running"), (3419, "a fast finish"), (3500, "a fast finish")])
def test_what_ends_in_the_last_three_minutes_is_a_finish(end: int, name: str) -> None:
    """The last second of running is 3599."""
    assert called(100, first=end - 100) == name


@pytest.mark.parametrize(("slope", "name"), [(0.0399, "fast running"), (0.0401, "a hard climb")])
def test_four_in_a_hundred_are_a_climb(slope: float, name: str) -> None:
    assert called(100, slope=slope) == name
    assert called(90, 90, slope=slope) == ("hill repeats" if name == "a hard climb" else "repeats")


@pytest.mark.parametrize(("growing", "name"), [(1.019, False), (1.021, True)])
def test_each_quarter_of_a_progression_is_two_in_a_hundred_faster(growing: float, *, name: bool) -> None:
    speed = np.repeat(3.0 * growing ** np.arange(4), ROWS // 4)
    found = track(speed, np.full(ROWS, 165.0))
    end = [bout(found, found.effort_mps, 2700, 2800)]
    assert (kind_of(found, found.effort_mps, end, LIMITS) == "progression") == name
