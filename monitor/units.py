"""Units as people write them into the head of a column, in the languages of those who keep such tables."""

from __future__ import annotations

import re

UNITS = ("h", "min", "s", "ms", "bpm")
UNITS_OF: dict[str, tuple[str, ...]] = {
    "total_sleep_min": ("h", "min", "s"),
    "resting_hr": ("bpm",),
    "rmssd_ms": ("ms", "s"),
}
"""The units that a field may be told in."""
_WORDS = {
    "h": "h hr hrs hour hours std stunde stunden heure heures t tim timer timmar time tid ore ora hora horas uur uren u"
    " godz godzin tuntia tunti klukkustund óra heur",
    "min": "min mins minute minutes m minuten minuter minutter minutos minuti minuta minut minuuttia mn",
    "s": "s sec secs second seconds sek sekunden sekunder seconde secondes segundos secondi",
    "ms": "ms msec millisecond milliseconds millisekunden millisekunder millisecondes milisegundos",
    "bpm": "bpm /min 1/min min-1 beats/min slag/min schläge/min ppm",
}  # fmt: skip
_BY_WORD = {word: unit for unit, words in _WORDS.items() for word in words.split()}
_BY_WORD |= {"beats per minute": "bpm", "slag per minute": "bpm"}
_NO_UNIT = frozenset(
    {"rmssd", "hrv", "total", "avg", "average", "mean", "median", "night", "asleep", "sleep", "resting"}
)
"""Words in brackets that say what is measured, not in which unit."""
_BRACKETS = re.compile(r"[(\[{]\s*([^)\]}]*?)\s*[)\]}]")


class UnknownUnitError(ValueError):
    """A bracket in a header that is no unit of its field; the text is the bracket's content."""


def unit_of(word: str) -> str | None:
    """The unit that a word stands for: h, min, s, ms or bpm."""
    return _BY_WORD.get(" ".join(word.casefold().replace(".", "").split()))


def unit_in_header(field: str, header: str) -> str | None:
    """The unit that a header names, in brackets or as its last word; None where it names none.

    UnknownUnitError for a bracket that is understood neither as a unit of this field nor as a remark.
    """
    allowed = UNITS_OF.get(field)
    if allowed is None:
        return None
    for inside in _BRACKETS.findall(header):
        unit = unit_of(inside)
        if unit in allowed:
            return unit
        if inside.casefold().strip() not in _NO_UNIT:
            raise UnknownUnitError(inside)
    words = re.split(r"[\s_,/-]+", _BRACKETS.sub("", header).strip())
    last = words[-1] if len(words) > 1 else ""
    unit = unit_of(last) if len(last) > 1 or last == "h" else None
    return unit if unit in allowed else None
