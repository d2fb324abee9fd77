"""Invented athletes, devices and faults with known truth: every stop is found, and clean sessions stay quiet.

`python -m tests.simulator.run 1000` runs the same by hand over more of them.
"""

from __future__ import annotations

import pytest

from tests.simulator.cases import judge, make
from tests.simulator.run import wrong

CLEAN, HARD = range(90_000, 90_060), range(190_000, 190_060)


@pytest.mark.parametrize("seed", HARD)
def test_what_breaks_a_rule_is_found(seed: int) -> None:
    case = judge(make(seed, True), by_file=False)
    assert [line for line in wrong(case) if line.startswith("missed")] == [], f"{case.scene.name}, {case.device.name}"


def test_clean_sessions_have_at_most_one_false_finding_in_a_hundred() -> None:
    cases = [judge(make(seed, False), by_file=False) for seed in CLEAN]
    false = [(case.scene.name, line) for case in cases for line in wrong(case) if line.startswith("false")]
    assert len(false) <= 1, false
