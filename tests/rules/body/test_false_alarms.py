"""The stated rates of false alarms, on few invented athletes with a fixed seed; the bench script takes thousands."""

from __future__ import annotations

import re
from math import sqrt
from pathlib import Path

import pytest

from rules.catalogue import rule
from tests.bench.false_alarms import Healthy, alarms, found, hrv_of, resting_of

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


def test_hardly_any_healthy_plan_of_independent_days_gets_a_caution_of_resting_heart_rate() -> None:
    assert alarms(resting_of, Healthy(30), 120, 3)[1] <= 0.05


def test_the_rates_stand_in_the_catalogue_and_the_readme_alike() -> None:
    readme = Path(__file__).parents[3].joinpath("README.md").read_text("utf-8")
    for told in rule("hrv_down").false_alarms[1:-1]:
        name, rates, falls = re.fullmatch(r"(.+): (.+); found (.+)", told).groups()  # type: ignore[union-attr]
        assert f"| {name} | {rates.replace(' a note', '').replace(' a caution', '')} | {falls} |" in readme
    assert all(rule(name).false_alarms for name in ("hrv_down", "resting_hr_up", "short_sleep"))
