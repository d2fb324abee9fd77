"""Text of any language: what comes from outside made safe to show, sentences, numbers, moments."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from datetime import datetime, tzinfo
from functools import cache

from rules.catalogue import catalogue

# What comes from outside, made safe to show.

TITLE_LENGTH = 90
LINE_LENGTH = 400
JOINERS = "\u200c\u200d"
"""Join or part the letters and emoji around them; invisible, and needed between two of them only."""
CONTINUES = ("Mn", "Me", "Mc", "Sk")  # accents, variation selectors, tones of skin
REGIONAL = range(0x1F1E6, 0x1F200)  # two of them are one flag
FIRST_STRONG_ISOLATE, POP_ISOLATE = "\u2068", "\u2069"
_HIDDEN = re.compile(
    r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u00ad\u061c\u115f\u1160\u17b4\u17b5\u180e\u200b\u200e\u200f\u2028-\u202e"
    r"\u2060-\u206f\u3164\ufeff\uffa0\ufff0-\ufffb\ud800-\udfff\U000e0000-\U000e0fff]"
)


def plain(text: str) -> str:
    """Text in which controls, direction marks and half characters stand as escapes, so that nothing hides in it."""
    if text.isprintable():  # most is, and this is quick
        return text
    return _HIDDEN.sub(lambda hidden: hidden[0].encode("unicode_escape", "surrogatepass").decode("ascii"), text)


def clean(text: str, most: int = LINE_LENGTH) -> str:
    """One line without control characters, direction marks or the brackets of markup."""
    kept = "".join(_kept(text, index) for index in range(len(text)))
    return shorten(" ".join(kept.split()), most)


def _kept(text: str, index: int) -> str:
    letter = text[index]
    if letter in "<>":
        return "‹›"["<>".index(letter)]
    if letter in JOINERS and 0 < index < len(text) - 1:
        return letter if _joins(text[index - 1]) and _joins(text[index + 1]) else " "
    return " " if unicodedata.category(letter)[0] in "CZ" else letter


def _joins(letter: str) -> bool:
    return unicodedata.category(letter)[0] in "LMS"


def shorten(text: str, most: int) -> str:
    """Cut at a word, with an ellipsis; joined emoji and letters with their accents stay whole."""
    if len(text) <= most:
        return text
    cut = text[: _whole(text, most - 1)]
    if " " in cut[most // 2 :]:
        cut = cut.rsplit(" ", 1)[0]
    return cut.rstrip(" ,;:.–-") + "…"


def _whole(text: str, most: int) -> int:
    """The last place up to `most` that lies between two whole letters."""
    return max((place for place in _between(text[: most + 1]) if place <= most), default=0)


def _between(text: str) -> Iterator[int]:
    flags = 0
    for place, letter in enumerate(text):
        regional = ord(letter) in REGIONAL
        tied = letter in JOINERS or unicodedata.category(letter) in CONTINUES or (regional and flags % 2 == 1)
        if not tied and (place == 0 or text[place - 1] not in JOINERS):
            yield place
        flags = flags + 1 if regional else 0


def isolated(name: str) -> str:
    """A name that is written from right to left, so that it does not turn what stands around it."""
    turned = any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in name)
    return f"{FIRST_STRONG_ISOLATE}{name}{POP_ISOLATE}" if turned else name


def lines(text: str) -> str:
    """A longer text, cleaned line by line."""
    return "\n".join(clean(line) for line in text.splitlines()).strip()


# Sentences.


def sentence(text: str) -> str:
    """Begins with a capital and ends with a full stop."""
    text = capital(text.strip())
    return text + ("" if text.endswith((".", "!", "?", "…")) else ".")


def clean_sentence(text: str) -> str:
    """A sentence of what may come from outside."""
    return sentence(clean(text))


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def in_passing(text: str) -> str:
    """As it reads after a colon: small first letter unless a name or a number, no full stop."""
    text = clean(text).rstrip(".")
    return text[:1].lower() + text[1:] if text[1:2].islower() else text


def spoken(name: str) -> str:
    """An id as words: "no_running" -> "no running"."""
    return name.replace("_", " ")


# Days and clocks.


def minute_second(seconds: float) -> str:
    """A place within a session: "12:40", "1:05:30"."""
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"


def local(moment: datetime | None, zone: tzinfo) -> str | None:
    """ISO 8601 with the offset of a zone, to the second."""
    return None if moment is None else moment.astimezone(zone).isoformat(timespec="seconds")


# Numbers and units.

THREE_DIGITS = 100


def number(value: float, digits: int = 1) -> str:
    """With no decimal that says nothing."""
    text = f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def amount(value: float) -> str:
    """At most one decimal, none that says nothing."""
    return f"{value:.1f}".rstrip("0").rstrip(".") if abs(value) < THREE_DIGITS else f"{value:.0f}"


# Names.


@cache
def _places() -> dict[str, int]:
    return {rule.id: number for number, rule in enumerate(catalogue())}


def rule_place(rule: str) -> int:
    """Where a rule stands in the catalogue: of findings equally grave, the first of it is told first."""
    return _places().get(rule, len(_places()))
