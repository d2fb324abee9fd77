"""The stage table, worked by hand, and its tiling for every length."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.limits import default_limits
from rules.plan import stage_lengths
from tests.rules.people import plan, race, spans

BY_LENGTH = {
    1: [1], 2: [2], 3: [3], 4: [3, 1], 5: [3, 1, 1], 6: [3, 2, 1], 7: [3, 2, 2], 8: [3, 3, 2], 9: [3, 3, 3],
    10: [3, 4, 3], 11: [4, 4, 3], 12: [4, 4, 4], 13: [4, 5, 4], 14: [7, 4, 3], 15: [7, 4, 4], 16: [7, 5, 4],
    17: [7, 5, 5], 18: [7, 6, 5], 19: [7, 6, 6], 20: [7, 7, 6], 21: [7, 7, 7], 22: [7, 7, 7, 1],
    28: [7, 7, 7, 7], 35: [7, 7, 7, 14],
}  # fmt: skip


@pytest.mark.parametrize(("days", "lengths"), BY_LENGTH.items())
def test_every_length_is_shared_among_the_stages_as_the_table_says(days: int, lengths: list[int]) -> None:
    assert [length for _, length in stage_lengths(days, default_limits())] == lengths


@pytest.mark.parametrize(
    ("event", "expected"),
    [
        ("5k", [("days_off", 1, 3), ("cross_training", 4, 4), ("test_runs", 5, 5)]),
        ("10k", [("days_off", 1, 3), ("cross_training", 4, 6), ("test_runs", 7, 9)]),
        ("half", [("days_off", 1, 7), ("cross_training", 8, 11), ("test_runs", 12, 14)]),
        ("marathon", [("days_off", 1, 7), ("cross_training", 8, 14), ("test_runs", 15, 21)]),
        ("ultra_50k", [("days_off", 1, 7), ("cross_training", 8, 14), ("test_runs", 15, 21), ("on_ramp", 22, 28)]),
        ("ultra_100k", [("days_off", 1, 7), ("cross_training", 8, 14), ("test_runs", 15, 21), ("on_ramp", 22, 35)]),
        ("ultra_100mi", [("days_off", 1, 7), ("cross_training", 8, 14), ("test_runs", 15, 21), ("on_ramp", 22, 35)]),
        ("tri_sprint", [("days_off", 1, 3), ("cross_training", 4, 5), ("test_runs", 6, 7)]),
        ("tri_olympic", [("days_off", 1, 3), ("cross_training", 4, 7), ("test_runs", 8, 10)]),
        ("tri_half", [("days_off", 1, 7), ("cross_training", 8, 11), ("test_runs", 12, 14)]),
        ("tri_full", [("days_off", 1, 7), ("cross_training", 8, 14), ("test_runs", 15, 21), ("on_ramp", 22, 28)]),
    ],
)
def test_every_event_has_its_stages(event: str, expected: list[tuple[str, int, int]]) -> None:
    assert spans(plan(race(event))) == expected


@given(st.integers(1, 120))
def test_stages_come_in_order_and_fill_the_length(days: int) -> None:
    stages = stage_lengths(days, default_limits())
    order = ["days_off", "cross_training", "test_runs", "on_ramp"]
    assert sum(length for _, length in stages) == days
    assert [name for name, _ in stages] == order[: len(stages)]
    assert all(length > 0 for _, length in stages)
