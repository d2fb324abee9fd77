"""Words in a check-in that belong to a doctor: compared, never diagnosed."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources

NEGATIONS = frozenset({"no", "not", "without", "never", "none", "nor", "neither", "isn't", "wasn't", "free", "gone"})
NEGATION_REACH = 3
"""Words before a match in which a negation counts."""


@dataclass(frozen=True, slots=True)
class RedFlag:
    """A sign: the wordings that tell of it, what to say, how urgent it is, and who says so."""

    id: str
    name: str
    patterns: tuple[tuple[tuple[str, ...], ...], ...]  # wordings -> parts -> alternatives
    say: str
    urgency: str
    source: str
    within_days: int | None = None


@cache
def red_flags() -> tuple[RedFlag, ...]:
    """The list shipped with the package."""
    table = tomllib.loads(resources.files("rules").joinpath("red_flags.toml").read_text("utf-8"))
    return tuple(
        RedFlag(
            id=entry["id"],
            name=entry["name"],
            patterns=tuple(tuple(tuple(part.split("|")) for part in words.split()) for words in entry["words"]),
            say=entry["say"],
            urgency=entry["urgency"],
            source=entry["source"],
            within_days=entry.get("within_days"),
        )
        for entry in table["flag"]
    )


def flags_in(texts: tuple[str, ...], day: int) -> list[tuple[RedFlag, str]]:
    """Red flags told in any of the texts, each with the sentence that tells it, in the order of the list."""
    found = []
    for flag in red_flags():
        if flag.within_days is not None and day > flag.within_days:
            continue
        told = next((text for text in _sentences(texts) if _tells(flag, text)), None)
        if told is not None:
            found.append((flag, told))
    return found


def _sentences(texts: tuple[str, ...]) -> list[str]:
    return [part.strip() for text in texts for part in re.split(r"[.;!?\n,]|\bbut\b", text) if part.strip()]


def _words(sentence: str) -> list[str]:
    return re.findall(r"[a-z0-9']+", sentence.lower().replace("’", "'").replace("_", " ").replace("-", " "))


def _tells(flag: RedFlag, sentence: str) -> bool:
    words = _words(sentence)
    return any(_matches(pattern, words) for pattern in flag.patterns)


def _matches(pattern: tuple[tuple[str, ...], ...], words: list[str]) -> bool:
    """All parts are there, each beginning a word; a part marked ~ right after the one before it."""
    places: list[int] = []
    for part in pattern:
        follows = part[0].startswith("~")
        alternatives = tuple(each.lstrip("~") for each in part)
        if follows:
            place = places[-1] + 1 if places else 0
            hits = [place] if place < len(words) and words[place].startswith(alternatives) else []
        else:
            hits = [at for at, word in enumerate(words) if at not in places and word.startswith(alternatives)]
        if not hits:
            return False
        places.append(hits[0])
    if pattern[0][0] in NEGATIONS or set(pattern[0]) & {"not", "no"}:
        return True
    first = min(places)
    return not any(word in NEGATIONS for word in words[max(0, first - NEGATION_REACH) : first])
