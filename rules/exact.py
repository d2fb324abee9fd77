"""Exact arithmetic on decimal numbers, so that no limit hangs on a binary rounding."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache


@lru_cache(maxsize=1024)
def exact(number: float | int) -> Fraction:
    """The decimal number as it was written: 21.1 becomes 211/10."""
    return Fraction(repr(number))


def round_half_up(number: Fraction) -> int:
    """Nearest whole number, halves upwards."""
    return (number + Fraction(1, 2)).__floor__()


def highest_whole_below(number: Fraction) -> int:
    """The highest whole number strictly below: 127 for 128, 121 for 121.6."""
    return number.__ceil__() - 1
