"""Why a file could not be read, why a message stands as it does: a code with values, that reads as a sentence.

The store keeps code and values, never the sentence: rows are compared by code, and are shown in the words of the day on
which they are shown. What an older version stored as a sentence of its own, and no migration knows, is shown as it is.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from enum import StrEnum
from numbers import Integral, Real
from typing import Any

# Codes of what is decided about findings and messages; they stand in the store and are never renamed.


class Why(StrEnum):
    """Why a finding was told or not, and why a message stands as it does."""

    FIRST = "first"
    WORSE = "worse"
    LATE = "late"
    BELOW_RECEIVES = "below_receives"
    ALREADY_TOLD = "already_told"
    NOW_BELOW_RECEIVES = "now_below_receives"
    CHANGED_UNREAD = "changed_unread"
    CORRECTED = "corrected"
    TAKEN_BACK = "taken_back"
    SENT_BEFORE = "sent_before"  # read back from the journal
    SENT_EARLIER = "sent_earlier"  # the message of an earlier store
    QUIET_HOURS = "quiet_hours"
    ONE_A_DAY = "one_a_day"
    DAILY = "daily"  # as these three kinds of messages
    STAGE = "stage"
    NOTICE = "notice"
    GATHERING = "gathering"
    GATHERED = "gathered"
    FOLDED = "folded"
    TRIED_AGAIN = "tried_again"
    NO_CHANNEL = "no_channel"
    DAY_OVER = "day_over"
    GIVEN_UP = "given_up"
    PERHAPS_GIVEN_UP = "perhaps_given_up"


SAME_BYTES = "same_bytes"
"""A file that is a copy of another, in the ledger."""


# Sentences that know of what they were made.

_templates: dict[str, Reason] = {}  # code -> its sentence, of the language that is spoken


class Reason(str):
    """A sentence with its code and values; compared and printed as the sentence. Made by `reason` and `format`."""

    code: str
    values: dict[str, object]

    def format(self, *_: object, **values: object) -> Reason:
        """The sentence with its values; a value may be a reason too, or an error that was raised with one."""
        values = {key: _raised(value) for key, value in values.items()}
        return _made(self.code, values, super().format(**values))

    def changed(self, change: Callable[[str], str]) -> Reason:
        """With every text among the values changed, as by taking secrets out of it."""
        values = {key: change(value) if isinstance(value, str) else value for key, value in self.values.items()}
        return _templates[self.code].format(**values) if values else self

    def __reduce__(self) -> tuple[Any, ...]:  # it crosses to the worker processes and back
        return _made, (self.code, self.values, str(self))


def _raised(value: object) -> object:
    return value.args[0] if isinstance(value, Exception) and value.args else value


def is_about(one: str | None, template: Reason) -> bool:
    """Whether a reason is this one, with whatever values."""
    return isinstance(one, Reason) and one.code == template.code


def reason(code: str, text: str) -> Reason:
    """The sentence of a code, with `{names}` for its values; said once, in a room of words."""
    _templates[code] = _made(code, {}, text)
    return _templates[code]


def _made(code: str, values: dict[str, object], text: str) -> Reason:
    made = Reason(text)
    made.code, made.values = code, values
    return made


def stored(*reasons: str) -> str:
    """Reasons as the store keeps them, one a line: a code, and behind it its values as JSON."""
    return "\n".join(map(_one_stored, reasons))


def _one_stored(one: str) -> str:
    if not isinstance(one, Reason):
        return str(one)
    if not one.values:
        return one.code
    return f"{one.code} {json.dumps({key: _plain(value) for key, value in one.values.items()}, ensure_ascii=False)}"


def _plain(value: object) -> object:
    """A value as JSON has it; a reason as the object with its stored form."""
    if isinstance(value, Reason):
        return {"reason": stored(value)}
    if isinstance(value, Integral):
        return int(value)
    return float(value) if isinstance(value, Real) else str(value)


def in_words(text: str) -> str:
    """What the store keeps, as a sentence; what it does not know as it is. Asked for through `monitor.words`."""
    return "; ".join(map(_one_in_words, text.split("\n")))


def _one_in_words(line: str) -> str:
    code, _, values = line.partition(" ")
    if code not in _templates:
        return line
    try:
        given = json.loads(values) if values else {}
        return str(_templates[code].format(**{key: _worded(value) for key, value in given.items()}))
    except (ValueError, KeyError, TypeError, AttributeError):  # a sentence that begins as a code does
        return line


def _worded(value: Any) -> Any:
    return in_words(value["reason"]) if isinstance(value, dict) else value


def code_of(text: str) -> str:
    """The code of what the store keeps of one reason; of what it does not know the first word."""
    return text.partition(" ")[0]
