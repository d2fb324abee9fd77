"""Numbers as people read them: counts with their noun, days, durations, sleep, paces."""

from __future__ import annotations

from datetime import date
from functools import lru_cache

MINUTE_S, HOUR_S = 60, 3600


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun: "1 day", "3 days"."""
    return f"{number} {one if number == 1 else many or one + 's'}"


@lru_cache(maxsize=2048)
def weekday(on: date) -> str:
    """ "Sat 17 Oct"."""
    return f"{on:%a} {on.day} {on:%b}"


def minutes(seconds: float) -> str:
    """Whole minutes, rounded half up: "47 min"."""
    return f"{int(seconds / 60 + 0.5)} min"


def hours(seconds: float) -> str:
    """Hours without needless decimals: "14 h", "0.5 h"."""
    return f"{seconds / 3600:.1f}".rstrip("0").rstrip(".") + " h"


def sleep(minutes_slept: float) -> str:
    """Hours and minutes of sleep: "6 h 25 min"."""
    whole = int(minutes_slept + 0.5)
    return f"{whole // 60} h {whole % 60:02d} min"


def listed(words: list[str]) -> str:
    """Words joined as in a sentence: "a, b and c"."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def duration(seconds: float) -> str:
    """Minutes and seconds, hours and minutes from one hour: "45 s", "12 min 40 s", "1 h 05 min"."""
    whole = int(seconds + 0.5)
    if whole < MINUTE_S:
        return f"{whole} s"
    if whole < HOUR_S:
        return f"{whole // 60} min {whole % 60} s" if whole % 60 else f"{whole // 60} min"
    return f"{whole // 3600} h {whole % 3600 // 60:02d} min"


def pace(speed_mps: float) -> str:
    """Time for a kilometre: "3:32/km"."""
    seconds = int(1000 / speed_mps + 0.5)
    return f"{seconds // 60}:{seconds % 60:02d}/km"
