"""Words in a check-in that belong to a doctor: compared, never diagnosed."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib import resources

NEGATIONS = frozenset({"no", "not", "without", "never", "none", "nor", "neither", "isn't", "wasn't", "free", "gone"})
NEGATION_REACH = 3
"""Words before a match in which a negation counts."""


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a wording: whole words, beginnings of words, and whether it follows the part before it."""

    words: frozenset[str]
    beginnings: tuple[str, ...]
    follows: bool

    @classmethod
    def of(cls, text: str) -> Part:
        alternatives = text.removeprefix("~").split("|")
        whole = frozenset(each for each in alternatives if not each.endswith("*"))
        return cls(whole, tuple(each[:-1] for each in alternatives if each.endswith("*")), text.startswith("~"))

    def is_word(self, word: str) -> bool:
        return word in self.words or (bool(self.beginnings) and word.startswith(self.beginnings))


CLASSES = ("emergency", "heat", "head", "same_day", "before_sport")
"""What has to be done about a sign, the gravest first."""


@dataclass(frozen=True, slots=True)
class RedFlag:
    """A sign: the wordings that tell of it, what to say, how urgent it is, and who says so.

    `klass` is one of CLASSES.
    """

    id: str
    name: str
    wordings: tuple[tuple[Part, ...], ...]
    say: str
    urgency: str
    source: str
    klass: str
    within_days: int | None = None


@cache
def red_flags() -> tuple[RedFlag, ...]:
    """The list shipped with the package."""
    table = tomllib.loads(resources.files("rules").joinpath("red_flags.toml").read_text("utf-8"))
    return tuple(
        RedFlag(
            id=entry["id"],
            name=entry["name"],
            wordings=tuple(tuple(Part.of(part) for part in words.split()) for words in entry["words"]),
            say=entry["say"],
            urgency=entry["urgency"],
            source=entry["source"],
            klass=entry["class"],
            within_days=entry.get("within_days"),
        )
        for entry in table["flag"]
    )


def flags_in(texts: tuple[str, ...], day: int) -> list[tuple[RedFlag, str]]:
    """Red flags told in any of the texts, each with the sentence that tells it, in the order of the list."""
    found = []
    sentences = [(text, _words(text)) for text in _sentences(texts)]
    for flag in red_flags():
        if flag.within_days is not None and day > flag.within_days:
            continue
        told = next((text for text, words in sentences if _tells(flag, words)), None)
        if told is not None:
            found.append((flag, told))
    return found


def understood(text: str) -> bool:
    """Whether some red flag has words for it, whether it is told or denied."""
    words = _words(text)
    denied = [word for word in words if word not in NEGATIONS]
    return any(_tells(flag, each) for flag in red_flags() for each in (words, denied))


def _sentences(texts: tuple[str, ...]) -> list[str]:
    return [part.strip() for text in texts for part in re.split(r"[.;!?\n,]|\bbut\b", text) if part.strip()]


def _words(sentence: str) -> list[str]:
    return re.findall(r"[a-z0-9']+", sentence.lower().replace("’", "'").replace("_", " ").replace("-", " "))


def _tells(flag: RedFlag, words: list[str]) -> bool:
    return any(_matches(wording, words) for wording in flag.wordings)


def _matches(wording: tuple[Part, ...], words: list[str]) -> bool:
    """Whether some words of the sentence are the parts of the wording, and no negation stands before them."""
    return any(
        wording[0].words & NEGATIONS or not _negated(min(places), words) for places in _places(wording, words, ())
    )


def _places(wording: tuple[Part, ...], words: list[str], taken: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """All ways to find each part at a place of its own; a part that follows only right after the part before it."""
    if not wording:
        yield taken
        return
    part, *others = wording
    choice = range(taken[-1] + 1, min(taken[-1] + 2, len(words))) if part.follows and taken else range(len(words))
    for at in choice:
        if at not in taken and part.is_word(words[at]):
            yield from _places(tuple(others), words, (*taken, at))


def _negated(at: int, words: list[str]) -> bool:
    return bool(NEGATIONS & set(words[max(0, at - NEGATION_REACH) : at]))
