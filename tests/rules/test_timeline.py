"""What each sample stands for in time."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from rules.limits import default_limits
from rules.session.timeline import timeline

LIMITS = default_limits()


def test_a_sample_stands_for_the_time_to_the_next_one() -> None:
    clock = timeline(np.array([0.0, 1, 4, 9, 10]), 12.0, (), LIMITS)
    assert clock.weights(np.ones(5, dtype=bool)).tolist() == [1, 3, 5, 1, 2]


def test_a_sample_before_a_gap_stands_for_ten_seconds_at_the_most() -> None:
    clock = timeline(np.array([0.0, 1, 61, 62]), 62.0, (), LIMITS)
    assert clock.weights(np.ones(4, dtype=bool)).tolist() == [1, 10, 1, 0]


def test_a_value_that_is_missing_for_seconds_leaves_its_time_to_the_one_before() -> None:
    clock = timeline(np.arange(6, dtype=float), 6.0, (), LIMITS)
    assert clock.weights(np.array([True, True, False, False, True, True])).tolist() == [1, 3, 0, 0, 1, 1]


def test_time_in_a_pause_counts_for_nothing() -> None:
    clock = timeline(np.array([0.0, 1, 2, 3, 30, 31]), 32.0, ((4.0, 30.0),), LIMITS)
    assert clock.weights(np.ones(6, dtype=bool)).tolist() == [1, 1, 1, 1, 1, 1]
    assert clock.seconds == 6


def test_samples_inside_a_pause_are_left_out() -> None:
    clock = timeline(np.arange(10, dtype=float), 10.0, ((3.0, 7.0),), LIMITS)
    assert clock.kept.tolist() == [True] * 4 + [False] * 3 + [True] * 3


def test_samples_whose_time_falls_back_are_left_out() -> None:
    clock = timeline(np.array([0.0, 1, 2, 1, 3, np.nan, 4]), 5.0, (), LIMITS)
    assert clock.time_s.tolist() == [0, 1, 2, 3, 4]


def test_rows_are_the_whole_seconds_between_gaps() -> None:
    clock = timeline(np.array([0.5, 2.5, 4.0, 40.0, 42.0]), 43.0, (), LIMITS)
    assert clock.rows_s[clock.real].tolist() == [1, 2, 3, 4, 40, 41, 42]
    assert (np.diff(clock.rows_s) >= 0).all()


def test_a_channel_is_straight_between_samples_and_unknown_in_gaps() -> None:
    clock = timeline(np.array([0.0, 4, 8, 30, 34]), 35.0, (), LIMITS)
    values = clock.on_rows(np.array([0.0, 4, np.nan, 30, 34]))
    assert np.allclose(values[clock.real], [0, 1, 2, 3, 4, *[np.nan] * 4, 30, 31, 32, 33, 34], equal_nan=True)


def test_a_clock_that_jumps_by_years_makes_no_more_rows_than_samples_can_fill() -> None:
    clock = timeline(np.array([0.0, 1, 1e9, 1e9 + 1]), 1e9, (), LIMITS)
    assert clock.real.sum() == 4


def test_no_samples_are_no_time() -> None:
    clock = timeline(np.zeros(0), 3600.0, (), LIMITS)
    assert clock.seconds == 0
    assert clock.on_rows(np.zeros(0)).tolist() == []


@given(st.lists(st.floats(0, 30), min_size=1, max_size=60), st.floats(0, 20))
def test_weights_never_sum_to_more_than_the_time_that_passed(steps: list[float], rest: float) -> None:
    time = np.cumsum(np.array(steps))
    clock = timeline(time, float(time[-1]) + rest, (), LIMITS)
    weights = clock.weights(np.ones(len(time), dtype=bool))
    assert (weights >= 0).all()
    assert (weights <= clock.longest_gap_s).all()
    assert weights.sum() <= time[-1] - time[0] + rest + 1e-6


def test_a_device_that_records_seldom_has_gaps_of_its_own() -> None:
    clock = timeline(np.arange(0, 900, 15.0), 900.0, (), LIMITS)
    assert clock.seconds == 900
    assert timeline(np.arange(0, 9000, 150.0), 9000.0, (), LIMITS).seconds == 60 * 60


@given(st.lists(st.tuples(st.integers(2, 40), st.integers(11, 5000)), min_size=1, max_size=6))
def test_rows_only_go_forward_and_are_real_where_the_recording_runs(pieces: list[tuple[int, int]]) -> None:
    time, seconds, at = [], [], 0
    for length, gap in pieces:
        time += range(at, at + length)
        seconds.append((at, at + length))
        at += length - 1 + gap
    clock = timeline(np.array(time, dtype=float), float(time[-1]), (), LIMITS)
    assert (np.diff(clock.rows_s) > 0).all()
    assert clock.rows_s[clock.real].tolist() == time
    for (_, last), (following, _) in pairwise(seconds):
        between = clock.rows_s[(clock.rows_s > last - 1) & (clock.rows_s < following)]
        assert len(between) == 16  # windows of up to so many rows do not reach over a gap
        apart = np.diff(np.concatenate(([last - 1], between, [following])))
        assert np.ptp(apart) < 1e-6
