from __future__ import annotations

import re

import pytest

from monitor.board.plan_charts import DAYS, ROW_HEIGHT, TALLEST_MIN, TICK, small_weeks
from rules.facts import Session
from tests.monitor.board.scenes import scene
from tests.rules.people import LIMITS, on, session


def _drawn(*sessions: Session, day: int = 20) -> str:
    return str(small_weeks(scene(*sessions, day=day).facts, on(day), on(0), LIMITS))


def _heights(text: str, kind: str) -> list[int]:
    shapes = re.findall(rf'class="{kind}" d="([^"]*)"', text)
    return [int(each) for shape in shapes for each in re.findall(r"v-(\d+)h", shape)]


def test_a_bar_has_the_same_height_for_everybody() -> None:
    full = ROW_HEIGHT - TICK
    assert _heights(_drawn(session(19, minutes=TALLEST_MIN / 2)), "run") == [round(full / 2)]
    assert _heights(_drawn(session(19, minutes=30), session(18, minutes=TALLEST_MIN)), "run") == [full, round(full / 4)]


@pytest.mark.parametrize(("minutes", "ticks"), [(TALLEST_MIN - 1, 0), (TALLEST_MIN, 0), (TALLEST_MIN + 1, 1)])
def test_a_day_beyond_the_height_carries_a_tick(minutes: int, ticks: int) -> None:
    assert _drawn(session(19, minutes=minutes)).count('class="tick-line"') == ticks


def test_running_within_a_walk_is_running_and_the_walk_is_not_there() -> None:
    drawn = _drawn(session(19, "walking", 60, running_min=20))
    assert len(_heights(drawn, "run")) == 1
    assert not _heights(drawn, "other")
    assert 'aria-label="The last four weeks: 1 session, 20 min, 20 min of it running."' in drawn


def test_days_before_the_four_weeks_are_left_out() -> None:
    assert "Nothing in the last four weeks." in _drawn(session(1), day=DAYS + 2)
    assert "1 session" in _drawn(session(3), day=DAYS + 2)
