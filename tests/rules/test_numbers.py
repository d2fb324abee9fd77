"""Numbers: exact to the decimal, and as people read them."""

from __future__ import annotations

from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.plan import stages
from rules.words import amounts


@given(st.decimals(-10_000, 10_000, places=3))
def test_a_decimal_number_is_taken_as_it_is_written(number: Decimal) -> None:
    assert stages.exact(float(number)) == Fraction(number)


@given(st.decimals(0, 10_000, places=3))
def test_halves_are_rounded_up(number: Decimal) -> None:
    assert stages.round_half_up(Fraction(number)) == int(number.quantize(Decimal(1), ROUND_HALF_UP))


@pytest.mark.parametrize(("number", "below"), [("128", 127), ("121.6", 121), ("121.001", 121), ("0.5", 0)])
def test_the_highest_whole_number_below(number: str, below: int) -> None:
    assert stages.highest_whole_below(Fraction(number)) == below


@pytest.mark.parametrize(
    ("seconds", "read"),
    [
        (0, "0 s"), (59.4, "59 s"), (59.5, "1 min"), (60, "1 min"), (61, "1 min 1 s"), (760, "12 min 40 s"),
        (3599.4, "59 min 59 s"), (3599.5, "1 h 00 min"), (3900, "1 h 05 min"), (7259, "2 h 00 min"),
    ],
)  # fmt: skip
def test_durations(seconds: float, read: str) -> None:
    assert amounts.duration(seconds) == read


@pytest.mark.parametrize(
    ("seconds", "read"), [(0, "0 min"), (29.9, "0 min"), (30, "1 min"), (89.9, "1 min"), (90, "2 min")]
)
def test_whole_minutes(seconds: float, read: str) -> None:
    assert amounts.minutes(seconds) == read


@pytest.mark.parametrize(("seconds", "read"), [(1800, "0.5 h"), (3600, "1 h"), (36000, "10 h"), (172800, "48 h")])
def test_hours_have_no_needless_decimals(seconds: float, read: str) -> None:
    assert amounts.hours(seconds) == read


@pytest.mark.parametrize(
    ("slept", "read"), [(385, "6 h 25 min"), (359.5, "6 h 00 min"), (359.4, "5 h 59 min"), (60, "1 h 00 min")]
)
def test_sleep_is_told_in_hours_and_minutes(slept: float, read: str) -> None:
    assert amounts.sleep(slept) == read


@pytest.mark.parametrize(
    ("speed", "read"), [(1000 / 212, "3:32/km"), (1000 / 299.6, "5:00/km"), (1000 / 299.4, "4:59/km")]
)
def test_a_pace_is_the_time_of_a_kilometre(speed: float, read: str) -> None:
    assert amounts.pace(speed) == read


def test_words_and_days() -> None:
    assert [amounts.counted(many, "day") for many in (0, 1, 2)] == ["0 days", "1 day", "2 days"]
    assert [amounts.listed(["a", "b", "c"][:many]) for many in (1, 2, 3)] == ["a", "a and b", "a, b and c"]
    assert amounts.weekday(date(2026, 10, 7)) == "Wed 7 Oct"
