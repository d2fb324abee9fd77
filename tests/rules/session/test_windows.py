"""Moving windows and stretches against the plainest way of saying what they are."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.session.timeline import (
    Floats,
    as_times,
    flagged,
    held,
    rolling_mean,
    rolling_median,
    spread,
    stretches,
    trailing_mean,
)

VALUES = st.lists(st.one_of(st.integers(-50, 50).map(float), st.just(float("nan"))), min_size=1, max_size=60).map(
    np.array
)
FLAGS = st.lists(st.booleans(), max_size=60).map(lambda each: np.array(each, dtype=np.bool_))
ODD = st.integers(0, 8).map(lambda half: 2 * half + 1)


def around(values: Floats, row: int, window: int) -> Floats:
    """What is known in a window of so many rows with the row in its middle."""
    half = (window - 1) // 2
    inside = values[max(row - half, 0) : row + half + 1]
    return inside[np.isfinite(inside)]


@given(VALUES, ODD, st.integers(1, 9))
def test_a_rolling_mean_is_the_mean_of_what_is_known_around(values: Floats, window: int, least: int) -> None:
    known = [around(values, row, window) for row in range(len(values))]
    expected = [each.mean() if len(each) >= least else np.nan for each in known]
    np.testing.assert_allclose(rolling_mean(values, window, least), expected, atol=1e-9)


@given(VALUES, ODD, st.integers(1, 9))
def test_a_rolling_median_is_the_middle_of_what_is_known_around(values: Floats, window: int, least: int) -> None:
    known = [around(values, row, window) for row in range(len(values))]
    expected = [np.median(each) if len(each) >= least else np.nan for each in known]
    np.testing.assert_allclose(rolling_median(values, window, least), expected, atol=1e-9)


@given(VALUES, ODD, st.integers(2, 7))
def test_a_median_of_every_few_rows_is_that_of_the_middle_one_of_them(values: Floats, window: int, every: int) -> None:
    plain, found = rolling_median(values, window), rolling_median(values, window, every=every)
    for row in range(len(values)):
        middle = row // every * every + every // 2
        if middle < len(values):
            np.testing.assert_array_equal(found[row], plain[middle])
    assert len(found) == len(values)


@given(VALUES, st.integers(1, 20))
def test_a_trailing_mean_ends_at_its_row_and_wants_nearly_all_of_it(values: Floats, window: int) -> None:
    expected = []
    for row in range(len(values)):
        inside = values[max(row - window + 1, 0) : row + 1]
        known = inside[np.isfinite(inside)]
        enough = row >= window - 1 and len(known) >= 0.95 * window
        expected.append(known.mean() if enough else np.nan)
    np.testing.assert_allclose(trailing_mean(values, window), expected, atol=1e-9)


@pytest.mark.parametrize(("missing", "known"), [(0, True), (1, True), (2, False)])
def test_of_twenty_rows_one_may_be_missing(missing: int, *, known: bool) -> None:
    values = np.arange(20.0)
    values[3 : 3 + missing] = np.nan
    assert bool(np.isfinite(trailing_mean(values, 20)[-1])) == known


@given(VALUES)
def test_a_missing_value_is_the_last_one_that_was_known_and_before_the_first_the_first(values: Floats) -> None:
    known = values[np.isfinite(values)]
    last, expected = known[0] if len(known) else np.nan, []
    for value in values:
        last = value if np.isfinite(value) else last
        expected.append(last)
    np.testing.assert_array_equal(held(values), expected)


def test_the_spread_is_that_of_a_normal_distribution_and_minds_no_outlier() -> None:
    values = np.random.default_rng(3).normal(10, 4, 20_000)
    assert spread(values) == pytest.approx(4, rel=0.03)
    values[:500] = 1e6
    values[500:600] = np.nan
    assert spread(values) == pytest.approx(4, rel=0.06)
    assert spread(np.array([np.nan])) == 0.0


@given(FLAGS, st.integers(0, 5), st.integers(1, 6))
def test_stretches_are_runs_of_flags_joined_over_short_breaks(flags: np.ndarray, bridge: int, least: int) -> None:
    joined: list[list[int]] = []
    for row in np.flatnonzero(flags).tolist():
        if joined and row - joined[-1][1] <= bridge:
            joined[-1][1] = row + 1
        else:
            joined.append([row, row + 1])
    assert stretches(flags, bridge, least) == [(a, b) for a, b in joined if b - a >= least]


@given(FLAGS)
def test_stretches_without_a_bridge_are_the_flags_again(flags: np.ndarray) -> None:
    assert (flagged(len(flags), stretches(flags)) == flags).all()


def test_times_are_of_the_longest_stretches_in_order() -> None:
    clock = np.arange(100.0) + 0.5
    spans = [(0, 5), (10, 30), (40, 42), (50, 90)]
    assert as_times(spans, clock, most=2) == [[10.5, 30.5], [50.5, 90.5]]
    assert as_times(spans, clock) == [[0.5, 5.5], [10.5, 30.5], [40.5, 42.5], [50.5, 90.5]]
