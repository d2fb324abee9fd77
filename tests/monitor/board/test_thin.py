from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.board.session_charts import LONGEST_STEP, SLICES, thinned

values = st.lists(st.one_of(st.floats(30, 220), st.just(float("nan"))), min_size=1, max_size=3000)


@settings(deadline=None, max_examples=60)
@given(values, st.integers(2, 60))
def test_no_peak_is_lost_however_few_points_are_kept(heights: list[float], slices: int) -> None:
    time, height = np.arange(len(heights), dtype=np.float64), np.array(heights)
    pieces = thinned(time, height, slices)
    known = height[np.isfinite(height)]
    kept = np.concatenate([piece[:, 1] for piece in pieces]) if pieces else np.zeros(0)
    assert len(kept) <= 2 * slices + 2
    if len(known):
        assert kept.max() == known.max()
        assert kept.min() == known.min()
        at = np.concatenate([piece[:, 0] for piece in pieces])
        assert (np.diff(at) > 0).all(), "in the order of time, none twice"
        assert all(height[int(second)] == value for second, value in zip(at, kept, strict=True)), "none is made up"


def test_each_slice_keeps_its_own_peak() -> None:
    time = np.arange(7200.0)
    height = 120 + 5 * np.sin(time / 50)
    spikes = np.arange(100, 7200, 300)
    height[spikes] = 185.0
    kept = thinned(time, height)[0]
    assert set(spikes.tolist()) <= set(kept[:, 0].astype(int).tolist())
    assert SLICES < len(kept) <= 2 * SLICES + 2


def test_a_short_session_is_kept_whole() -> None:
    time = np.arange(300.0)
    assert len(thinned(time, time)[0]) == 300


@pytest.mark.parametrize(("gap", "pieces"), [(LONGEST_STEP, 1), (LONGEST_STEP + 1, 2)])
def test_a_line_does_not_run_over_time_in_which_nothing_was_recorded(gap: float, pieces: int) -> None:
    time = np.concatenate((np.arange(1000.0), 999 + gap + np.arange(1000.0)))
    assert len(thinned(time, np.sin(time))) == pieces


def test_nothing_known_gives_no_line() -> None:
    assert thinned(np.arange(10.0), np.full(10, np.nan)) == []
