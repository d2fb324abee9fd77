from __future__ import annotations

import re
from itertools import pairwise
from typing import Any

import pytest

from monitor.board.body_charts import resting_chart, rmssd_chart, sleep_chart
from monitor.board.days import Sheet, sheet
from monitor.board.effort_charts import heart_chart, minutes_chart
from monitor.board.frame import LETTERS, Figure, Scale, beside, rounded
from monitor.board.svg import Chart
from tests.monitor.board.scenes import scene
from tests.rules.people import LIMITS, athlete, mornings, nights, on, race, session


def _sheet(*facts: Any, day: int = 20, **more: Any) -> Sheet:
    known = scene(*facts, day=day, **more)
    plan = known.made.judgement.current
    assert plan is not None
    return sheet(plan, known.facts, on(day), LIMITS)


def _count(figure: Figure, kind: str) -> int:
    """How many marks of a kind are in a picture."""
    return sum(len(re.findall("M", path)) for path in re.findall(rf'class="{kind}" d="([^"]*)"', figure.chart))


def test_mornings_over_the_limit_are_marked_by_shape() -> None:
    figure = resting_chart(_sheet(mornings({1: 49, 2: 56, 3: 57, 4: 48})), LIMITS)
    assert (_count(figure, "dot"), _count(figure, "dot out")) == (2, 2)
    assert "up 53" in figure.chart
    assert figure.said.endswith("Up on Tue 6 Oct, Wed 7 Oct.")


def test_without_enough_mornings_there_is_no_band() -> None:
    figure = resting_chart(_sheet(mornings({1: 49})[-1:]), LIMITS)
    assert "band" not in figure.chart, "neither drawn nor spoken of"
    assert "Too few mornings before the race to say what is usual." in figure.said
    assert len(figure.keys) == 1


def test_the_mean_of_a_week_needs_three_mornings() -> None:
    two = rmssd_chart(_sheet(mornings(rmssd={1: 60, 2: 60})), LIMITS)
    assert _count(two, "mean") == 0
    assert "Too few in a week for a mean." in two.said
    low = rmssd_chart(_sheet(mornings(rmssd=dict.fromkeys(range(1, 15), 44.0)), day=14), LIMITS)
    assert _count(low, "mean") == 1
    assert "Mean of seven days now 44 ms, under the band." in low.said


def test_short_nights_are_marked_by_shape() -> None:
    figure = sleep_chart(_sheet(nights({1: 7.5, 2: 6.9, 3: 5.0})), LIMITS)
    assert (_count(figure, "dot"), _count(figure, "dot out")) == (1, 2)
    assert "7 h" in figure.chart
    assert "6 h" in figure.chart


def test_the_cap_and_the_ceiling_step_with_the_stages() -> None:
    ride = session(9, "cycling", 70, digest={"hr_seconds": {120: 1800.0, 150: 2400.0}})
    laid = _sheet(session(3, "walking", 40), session(17, minutes=25), ride)
    minutes = minutes_chart(laid)
    assert re.findall(r'class="limit-word"[^>]*>([^<]*)', minutes.chart) == ["45 min", "60 min"]
    assert (_count(minutes, "run"), _count(minutes, "walk")) == (1, 1)
    assert minutes.chart.count('<rect class="sport"') == 1
    assert "Over the cap: 70 min on Tue 13 Oct (60 allowed)." in minutes.said
    heart = heart_chart(laid)
    assert re.findall(r'class="limit-word"[^>]*>([^<]*)', heart.chart) == ["121 bpm", "146 bpm"]
    assert _count(heart, "above") == 1
    assert "Above the ceiling: cycling on Tue 13 Oct, 40 min above 146 bpm." in heart.said
    assert heart.said.endswith("2 sessions without heart rate.")


def test_the_on_ramp_has_no_cap_and_ends_without_a_ceiling() -> None:
    runner = athlete(race("ultra_50k"))
    laid = _sheet(session(3, "cycling", 20, digest={"hr_seconds": {100: 1200.0}}), runner=runner)
    assert "no cap" in minutes_chart(laid).chart
    assert ">open<" in heart_chart(laid).chart


def test_words_beside_a_chart_do_not_lie_on_each_other() -> None:
    chart = Chart("t", "d", 100)
    beside(chart, [(50.0, "b", "tick"), (48.0, "a", "tick"), (90.0, "c", "tick")])
    tops = [float(top) for top in re.findall(r'y="([\d.]+)"', chart.markup())]
    assert tops == sorted(tops)
    assert all(after - before >= LETTERS for before, after in pairwise(tops))


@pytest.mark.parametrize(
    ("low", "high", "step", "around"), [(47, 53, 5, (45, 55)), (50, 50, 10, (50, 60)), (0, 31, 30, (0, 60))]
)
def test_scales_end_on_round_numbers(low: float, high: float, step: float, around: tuple[float, float]) -> None:
    assert rounded(low, high, step) == around


def test_a_value_beyond_the_scale_stays_in_the_picture() -> None:
    scale = Scale(0, 100, 10, 110)
    assert (scale(0), scale(100), scale(50)) == (110, 10, 60)
    assert (scale(-5), scale(500)) == (110, 10)
