"""The one shape both FIT decoders are brought into: message kind -> its messages in file order, each a dict.

Keys are the words of the FIT profile (numbers where it has none), values are physical: seconds, m, m/s, bpm,
positions in semicircles, moments in seconds since 1970. What a device marked as not recorded is absent or None.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

Message = dict[str | int, Any]
Messages = dict[str, list[Message]]

FIT_EPOCH = 631_065_600  # 1989-12-31T00:00:00Z in seconds since 1970
FIRST_DATE = FIT_EPOCH + 0x10000000  # 1998-07-03; FIT moments below it count from the start of the device


@dataclass(frozen=True, slots=True)
class Decoded:
    """What a decoder made of one FIT file (one part of a chained one)."""

    messages: Messages
    remark: str | None = None
    damaged: bool = False


def number(message: Message, *names: str) -> float | None:
    """The first of the named fields that holds a finite number."""
    for name in names:
        value = message.get(name)
        if isinstance(value, list | tuple):
            value = value[0] if value else None
        if isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value):
            return float(value)
    return None


def positive(message: Message, *names: str) -> float | None:
    """As `number`, but nothing at or below zero: devices write 0 where they measured nothing."""
    for name in names:
        value = number(message, name)
        if value is not None and value > 0:
            return value
    return None


def word(message: Message, name: str) -> str | None:
    """A field that the profile gives a word for; None where the profile knows only the number."""
    value = message.get(name)
    return value.lower() if isinstance(value, str) and value else None


def moment(message: Message, name: str) -> float | None:
    """A moment in seconds since 1970, date or relative."""
    value = number(message, name)
    return None if value is None or value < FIT_EPOCH else value


def date_moment(message: Message, name: str) -> float | None:
    """A moment that is a date, not a count from the start of the device."""
    value = moment(message, name)
    return None if value is None or value < FIRST_DATE else value
