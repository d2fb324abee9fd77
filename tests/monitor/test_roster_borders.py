"""What a roster may say of an athlete and a race, at both ends of what is taken and one step beyond."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest

from monitor.errors import RosterError
from monitor.roster.read import parse_roster
from tests.monitor.test_roster import PATH, ROSTER

FIXED = 'intensity_model = "fixed"\nceiling_zone1 = {}\nceiling_zone2 = 209'


def _born(age: int) -> str:
    """The year is that of now, which may have begun since the tests were collected."""
    return f"born = {datetime.now().year - age}"  # noqa: DTZ005 - the roster counts years by this machine's calendar


def _pace(seconds: int) -> str:
    return f'threshold_pace = "{seconds // 60}:{seconds % 60:02d}"'


def _result(seconds: int) -> str:
    return f'result = "{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"'


BORDERS: tuple[tuple[str, str, Callable[[int], str], int, int], ...] = (
    ("roster.hr_max", "hr_max = 188", "hr_max = {}".format, 120, 230),
    ("roster.hr_rest", "hr_rest = 47", "hr_rest = {}".format, 25, 110),
    ("roster.threshold_hr", "threshold_hr = 171", "threshold_hr = {}".format, 90, 220),
    ("roster.ceiling", 'intensity_model = "hrmax"', FIXED.format, 60, 208),
    ("roster.age", "born = 1991", _born, 8, 110),
    ("roster.threshold_pace", 'threshold_pace = "4:20"', _pace, 120, 900),
    ("roster.race_speed_mps", 'result = "3:25:10"', _result, 6028, 105487),  # 42.195 km at 7.0 and 0.4 m/s
)


def _taken(given: str, instead: str) -> bool:
    text = ROSTER.replace(given, instead, 1)
    if not given.startswith("threshold_hr"):
        text = text.replace("threshold_hr = 171\n", "")
    if not given.startswith("hr_max"):
        text = text.replace("hr_max = 188", "hr_max = 230")
    try:
        parse_roster(text, PATH, {})
    except RosterError:
        return False
    return True


@pytest.mark.parametrize(
    ("given", "as_text", "least", "most"), [one[1:] for one in BORDERS], ids=[one[0] for one in BORDERS]
)
def test_both_ends_are_taken_and_nothing_beyond(
    given: str, as_text: Callable[[int], str], least: int, most: int
) -> None:
    assert _taken(given, as_text(least))
    assert _taken(given, as_text(most))
    assert not _taken(given, as_text(least - 1))
    assert not _taken(given, as_text(most + 1)) or given.startswith("intensity")


@pytest.mark.parametrize(("most", "taken"), [(209, True), (210, True), (211, False)])
def test_a_ceiling_of_ones_own_is_no_more_than_210(most: int, taken: bool) -> None:
    fixed = f'intensity_model = "fixed"\nceiling_zone1 = 140\nceiling_zone2 = {most}'
    assert _taken('intensity_model = "hrmax"', fixed) is taken


@pytest.mark.parametrize(("hours", "taken"), [(-1, True), (1, False)])
def test_a_finish_lies_within_two_years(hours: int, taken: bool) -> None:
    """Two years are 730 days."""
    finish = datetime.now() + timedelta(days=730, hours=hours)  # noqa: DTZ005 - as the roster counts
    assert _taken("2026-10-04T13:47:00", f"{finish:%Y-%m-%dT%H:%M:%S}") is taken
