"""From when to when stored facts bear on what is judged: each end just before, at and behind it."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from monitor.judging import judged_from, window
from monitor.roster.types import RosterAthlete
from monitor.values import IntakeOptions
from rules.facts import Athlete, Race
from rules.limits import default_limits

OSLO = ZoneInfo("Europe/Oslo")
RACES = tuple(Race("marathon", datetime(year, 10, 4, 13, 47, tzinfo=OSLO)) for year in (2025, 2026))
RUNA = RosterAthlete(Athlete("runa", "Europe/Oslo", races=RACES), Path("/nowhere"), (), IntakeOptions("Europe/Oslo"))


@pytest.mark.parametrize(
    ("touched", "judged"),
    [
        (date(2026, 2, 1), date(2025, 10, 4)),  # 120 days after the first
        (date(2026, 2, 2), date(2026, 10, 4)),
        (date(2027, 2, 1), date(2026, 10, 4)),
        (date(2027, 2, 2), None),
    ],
)
def test_history_days_after_race_facts_bear_on_it(touched: date, judged: date | None) -> None:
    assert judged_from(RUNA, touched, default_limits()) == judged


def test_facts_bear_on_it_from_history_days_before_race_on_and_a_day_past_the_clock() -> None:
    now = datetime(2026, 10, 9, 12, tzinfo=UTC)
    begin, end = window(RUNA, date(2026, 10, 4), now, default_limits())
    assert begin == datetime(2026, 3, 18, tzinfo=OSLO), "200 days"
    assert end == datetime(2026, 10, 10, 12, tzinfo=UTC)
