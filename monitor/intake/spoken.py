"""Answers of a check-in as people write them: "with help", "a lot", "7-8", "nein"; None where nobody could tell."""

from __future__ import annotations

import math
import re

from monitor.intake.plausible import BOUNDS, is_plausible
from rules.limits import default_limits

YES = {"yes", "y", "true", "1", "1.0", "ja", "oui", "si", "sí", "sim", "yeah", "yep", "sure", "ok", "fine", "easily"}
NO = {"no", "n", "false", "0", "0.0", "nein", "nei", "nej", "non", "nee", "não", "nope", "never", "impossible"}
WITH_HELP = re.compile(r"\b(help|aid|support|hold\w*|rail\w*|banister|hand|arms?|stick|hardly|barely|almost|only)\b")
WITHOUT_HELP = re.compile(r"\b(?:without|no) (?:any )?(?:help|aid|support|holding|rail\w*|hands?)\b|\bunaided\b")
CANNOT = re.compile(r"\b(can'?t|cannot|could ?n'?t|did ?n'?t|not|unable)\b")
SPAN = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?:-|–|to|or|bis|à)\s*(\d+(?:[.,]\d+)?)")
OUT_OF_TEN = re.compile(r"\s*(?:/|of|out of|von)\s*10$")
LESS_IS_WORSE = ("energy", "mood")


def yes_or_no(value: object) -> bool | None:
    """Whether something is managed unaided; a yes with help is a no."""
    text = " ".join(str(value).replace("’", "'").casefold().split()).strip(" .!")
    if text in YES or text in NO:
        return text in YES
    if CANNOT.search(text):
        return False
    if WITHOUT_HELP.search(text):
        return True
    first = re.split(r"[\s,;]+", text)[0]
    if first in NO or WITH_HELP.search(text):
        return False
    return True if first in YES else None


def on_scale(key: str, value: object) -> float | None:
    """A number from 0 to 10; of "7-8" the worse, of words their usual place on the scale."""
    if isinstance(value, bool):
        return None
    text = OUT_OF_TEN.sub("", " ".join(str(value).casefold().split()).strip(" .!"))
    number = _number(text)
    if math.isnan(number) and (span := SPAN.fullmatch(text)):
        both = (_number(span[1]), _number(span[2]))
        if all(is_plausible(BOUNDS.scale, one) for one in both):
            number = min(both) if key in LESS_IS_WORSE else max(both)
    if math.isnan(number):
        words = default_limits().checkin_words
        number = (words.strength if key in LESS_IS_WORSE else words.trouble).get(text, math.nan)
    return number if is_plausible(BOUNDS.scale, number) else None


def _number(text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return math.nan
