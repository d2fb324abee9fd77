"""The stated rates of false alarms, on few invented athletes with a fixed seed; the bench script takes thousands."""

from __future__ import annotations

import re
from math import sqrt
from pathlib import Path

import pytest

from rules.catalogue import rule
from tests.bench.false_alarms import (
    Healthy,
    alarms,
    fewest_notes,
    found,
    hrv_of,
    most_found,
    resting_of,
    shift_in_errors,
)

ATHLETES = 120  # so few tell a rate to two standard errors only


@pytest.mark.parametrize("row", [Healthy(14), Healthy(20, 0.4), Healthy(60, 0.4, 0.25)], ids=lambda row: row.name)
def test_few_healthy_plans_get_a_note_and_hardly_any_a_caution_of_variability(row: Healthy) -> None:
    note, caution = alarms(hrv_of, row, ATHLETES, 11)
    assert note <= 0.2 + 2 * sqrt(0.2 * 0.8 / ATHLETES)
    assert caution <= 0.05 + 2 * sqrt(0.05 * 0.95 / ATHLETES)


def test_a_fall_that_matters_is_found() -> None:
    row = Healthy(60)
    assert found(row, 60, 5, 4) >= 0.5
    assert found(row, 60, 5, 10) >= 0.9


@pytest.mark.parametrize("row", [Healthy(30), Healthy(20, 0.4)], ids=lambda row: row.name)
def test_hardly_any_healthy_plan_gets_a_caution_of_resting_heart_rate(row: Healthy) -> None:
    assert alarms(resting_of, row, 400, 3)[1] <= 0.05 + 2 * sqrt(0.05 * 0.95 / 400)


def test_no_chart_finds_nine_of_ten_falls_within_four_mornings_at_that_rate_of_notes() -> None:
    """By hand, one stretch after the other: 4.29, 4.06, 3.85, 3.66, 3.49, 3.33, 3.15 % of what is left make 23.2 %."""
    left = 1.0
    for share in (0.0429, 0.0406, 0.0385, 0.0366, 0.0349, 0.0333, 0.0315):
        left *= 1 - share
    assert fewest_notes(0.0) == pytest.approx(1 - left, abs=0.001)
    assert shift_in_errors(0.4) == pytest.approx(1.5 * sqrt(2.08 / 0.84))
    assert most_found(0.4) < most_found(0.0) < 0.9
    told = rule("hrv_down").false_alarms[-1]
    assert f"at most {most_found(0.0):.0%} can".replace("%", " %") in told
    assert f"alike {most_found(0.4):.0%}".replace("%", " %") in told


def test_the_rates_stand_in_the_catalogue_and_the_readme_alike() -> None:
    readme = Path(__file__).parents[3].joinpath("README.md").read_text("utf-8")
    for told in rule("hrv_down").false_alarms[1:-1]:
        name, rates, falls = re.fullmatch(r"(.+): (.+); found (.+)", told).groups()
        assert f"| {name} | {rates.replace(' a note', '').replace(' a caution', '')} | {falls} |" in readme
    assert all(rule(name).false_alarms for name in ("hrv_down", "resting_hr_up", "short_sleep"))
