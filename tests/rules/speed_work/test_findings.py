"""Which surges make speed work: told from constructed runs over level ground, with the threshold known well."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from rules.facts import SampleContext, Session, Threshold
from rules.findings import Breach
from rules.limits import default_limits
from rules.session.digest import digest
from rules.session.heart import followed
from rules.session_rules import judge_samples
from rules.words import said

LIMITS = default_limits()
START = datetime(2026, 10, 20, 16, tzinfo=UTC)
THRESHOLD_MPS = 3.85
EASY_MPS = 2.7


def judged(surges: list[tuple[int, int, float]], minutes: int, policy: str = "none") -> Breach | None:
    """An easy run with surges of (from second, seconds, m/s)."""
    t = np.arange(0.0, minutes * 60)
    speed = EASY_MPS + 0.05 * np.sin(t / 7)
    for begin, seconds, mps in surges:
        speed[begin : begin + seconds] = mps
    table = {
        "t_s": t,
        "hr_bpm": 130.0 + np.sin(t / 37) + 24 * followed(speed - EASY_MPS),
        "speed_mps": speed,
        "distance_m": np.cumsum(speed),
        "altitude_m": np.full_like(t, 120.0),
        "cadence_spm": 164 + 8 * (speed - EASY_MPS),
    }
    size = float(len(t))
    made = digest("running", "generic", size, size, (), table, LIMITS)
    session = Session("key", START, START + timedelta(seconds=size), "running", "generic", size, size, None, None, made)
    context = SampleContext(None, policy, True, Threshold(THRESHOLD_MPS, "roster", "high"))
    found = judge_samples(session, table, context, LIMITS)
    return next((each for each in found if each.rule == "no_speed_work"), None)


def test_long_repeats_a_little_slower_than_threshold_are_speed_work_where_they_follow_each_other() -> None:
    found = judged([(600, 60, 3.55), (960, 60, 3.55), (1320, 60, 3.55)], 35)
    assert found is not None
    assert found.evidence["bouts"] == 3
    assert "your easy running" in said(found.summary)


def test_the_same_surges_a_quarter_of_an_hour_apart_are_a_rolling_run() -> None:
    assert judged([(600, 60, 3.55), (1700, 60, 3.55), (2800, 60, 3.55)], 60) is None


@pytest.mark.parametrize(("count", "policy", "told"), [(6, "none", True), (6, "strides", False), (6, "free", False)])
def test_strides_are_speed_work_except_where_the_stage_allows_them(count: int, policy: str, told: bool) -> None:
    found = judged([(900 + 100 * number, 20, 4.6) for number in range(count)], 35, policy)
    assert (found is not None) == told
    assert found is None or said(found.evidence["kind"]) == "strides"


def test_one_surge_to_cross_a_road_is_none() -> None:
    assert judged([(900, 15, 4.6)], 35) is None
