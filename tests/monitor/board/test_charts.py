from __future__ import annotations

import re
from itertools import pairwise
from typing import Any

import pytest

from monitor.board.body_charts import clocks_chart, resting_chart, rmssd_chart, sleep_chart
from monitor.board.days import ChartDays, sheet
from monitor.board.effort_charts import heart_chart, minutes_chart
from monitor.board.plan_charts import onramp_charts
from monitor.board.svg_chart import LETTERS, Chart, Figure, Scale, beside, rounded
from monitor.board.two_clocks import Clocks
from tests.monitor.board.scenes import scene
from tests.rules.people import LIMITS, athlete, mornings, nights, on, race, session


def _sheet(*facts: Any, day: int = 20, **more: Any) -> ChartDays:
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


def test_one_morning_over_the_limit_is_marked_apart_from_two_that_count() -> None:
    figure = resting_chart(_sheet(mornings({1: 49, 2: 56, 3: 48})), LIMITS)
    assert (_count(figure, "dot"), _count(figure, "dot once"), _count(figure, "dot out")) == (2, 1, 0)
    assert figure.said.endswith("No two mornings running up.")


def _ends(figure: Figure) -> set[str]:
    return set(re.findall(r'class="tick"[^>]*>([^<]*)', figure.chart))


def test_the_axes_of_the_body_have_numbers_with_and_without_a_baseline() -> None:
    for facts in (mornings({1: 49, 2: 60}, {1: 50, 2: 70}), mornings({1: 49, 2: 60}, {1: 50, 2: 70})[-2:]):
        laid = _sheet(facts)
        resting, rmssd = resting_chart(laid, LIMITS), rmssd_chart(laid, LIMITS)
        assert {"65 bpm", "45"} <= _ends(resting) | {"45"}
        assert any(each.endswith(" bpm") for each in _ends(resting))
        assert any(each.endswith(" ms") for each in _ends(rmssd))
        assert rmssd.title.endswith("log scale")
    assert {"9 h"} <= _ends(sleep_chart(_sheet(nights({1: 7.5})), LIMITS))


def test_a_run_within_a_walk_is_drawn_as_a_run_and_the_walk_beside_it() -> None:
    figure = minutes_chart(_sheet(session(3, "walking", 40, running_min=12)))
    assert (_count(figure, "run"), _count(figure, "walk")) == (1, 1)
    assert [words for _, words in figure.reads] == ["Wed 7 Oct: walking 40 min, of it 12 running; 12 of 45 min count"]


def test_what_does_not_count_never_stands_on_what_does() -> None:
    figure = minutes_chart(_sheet(session(3, "walking", 200), session(3, "cycling", 40, hour=15)))
    (sport,) = re.findall(r'<rect class="sport"[^>]* y="([\d.]+)"', figure.chart)
    (walk,) = re.findall(r'class="walk" d="M\d+ (\d+)H\d+V(\d+)', figure.chart)
    cap = re.findall(r'class="limit" d="M\d+ (\d+)', figure.chart)[0]
    assert float(sport) * 10 > int(cap), "40 minutes stay under the cap of 45"
    assert int(walk[1]) == 1120, "the walk stands on the base line"


def test_minutes_above_the_ceiling_are_drawn_and_not_the_highest_beat() -> None:
    short = {"hr_seconds": {110: 1800.0, 190: 20.0}}
    long = {"hr_seconds": {110: 600.0, 130: 6000.0}}
    figure = heart_chart(
        _sheet(session(3, "cycling", 31, digest=short), session(4, "cycling", 110, digest=long)), LIMITS
    )
    assert _count(figure, "above") == 1, "twenty seconds are no bar"
    assert "\u2191 100 min" in figure.chart, "what goes on beyond the picture is marked"
    assert "190" not in figure.chart


def test_a_clock_beyond_the_picture_is_marked_with_its_value() -> None:
    clocks = Clocks({on(3): 4.6, on(4): 2.0}, {on(3): 0.5}, "said")
    figure = clocks_chart(_sheet(session(3, "cycling", 20)), clocks)
    assert "\u2191 460 %" in figure.chart
    assert "Seven days to Wed 7 Oct: heart 460 %, impact 50 % of a usual week" in figure.read_words
    whole = clocks_chart(_sheet(session(3, "cycling", 20)), Clocks({on(3): 2.8}, {}, "said"))
    assert "\u2191" not in whole.chart


def test_the_on_ramp_shows_each_week_against_its_share_and_each_run_against_the_longest_allowed() -> None:
    runner = athlete(race("ultra_50k"))
    before = [session(-back, minutes=60) for back in range(30, 100, 7)]
    facts = (
        *before,
        session(17, minutes=25),
        session(20, minutes=20),
        session(23, minutes=40),
        session(24, minutes=20),
    )
    known = scene(*facts, day=25, runner=runner)
    plan = known.made.judgement.current
    assert plan is not None
    laid = sheet(plan, known.facts, on(25), LIMITS)
    first = next(row.first_day for row in plan.stages if row.stage == "on_ramp")
    weekly, longest = onramp_charts(laid, known.facts, LIMITS)
    assert weekly.said.startswith("This week ") is (first <= 25)
    assert "usual 60" in weekly.chart
    assert _count(longest, "dot") + _count(longest, "dot out") == 4
    assert "a run of 6.7 km" in longest.read_words
    assert onramp_charts(_sheet(session(17, minutes=25)), known.facts, LIMITS) == [], "a plan without an on-ramp"


def test_every_value_at_a_mark_has_its_place_along_the_picture() -> None:
    figure = resting_chart(_sheet(mornings({1: 49, 2: 56})), LIMITS)
    places = [float(each) for each in figure.read_at.split()]
    assert len(places) == len(figure.read_words.splitlines()) == 2
    assert all(0 < each < 1 for each in places)


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
    assert "Weighted mean of the latest now 44 ms, lower than chance explains." in low.said


def test_short_nights_are_marked_by_shape() -> None:
    figure = sleep_chart(_sheet(nights({1: 7.5, 2: 6.9, 3: 5.0})), LIMITS)
    assert (_count(figure, "dot"), _count(figure, "dot once"), _count(figure, "dot out")) == (0, 0, 3)
    apart = sleep_chart(_sheet(nights({1: 7.5, 2: 7.9, 3: 6.5, 4: 7.8})), LIMITS)
    assert (_count(apart, "dot"), _count(apart, "dot once"), _count(apart, "dot out")) == (3, 1, 0)
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
    heart = heart_chart(laid, LIMITS)
    assert re.findall(r'class="limit-word"[^>]*>([^<]*)', heart.chart) == ["121 bpm", "146 bpm", "2 min", "10 min"]
    assert _count(heart, "above") == 1
    assert "Above the ceiling: cycling on Tue 13 Oct, 40 min above 146 bpm." in heart.said
    assert heart.said.endswith("2 sessions without heart rate.")


def test_the_on_ramp_has_no_cap_and_ends_without_a_ceiling() -> None:
    runner = athlete(race("ultra_50k"))
    laid = _sheet(session(3, "cycling", 20, digest={"hr_seconds": {100: 1200.0}}), runner=runner)
    assert "no cap" in minutes_chart(laid).chart
    assert ">open<" in heart_chart(laid, LIMITS).chart


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


def test_who_reads_by_the_mile_gets_miles() -> None:
    runner = athlete(race("ultra_50k"))
    known = scene(session(17, minutes=25), session(23, minutes=40), day=25, runner=runner)
    plan = known.made.judgement.current
    assert plan is not None
    laid = sheet(plan, known.facts, on(25), LIMITS)
    longest = onramp_charts(laid, known.facts, LIMITS, "imperial")[-1]
    assert "a run of 4.1 miles" in longest.read_words
    assert " miles<" in longest.chart
