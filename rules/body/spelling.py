"""Typing errors in words that matter: a word that is nearly one of them, and no other word, is taken for it."""

from __future__ import annotations

from collections.abc import Set
from functools import lru_cache

SHORTEST = 4
ONE_ERROR = 5
TWO_ERRORS = 9
"""Letters from which a word may differ by two letters changing places, by one error, by two."""


class Spelling:
    """Takes misspelt words for the words of a list; `others` are words of their own, however near."""

    def __init__(self, words: Set[str], others: Set[str]) -> None:
        self._words = frozenset(words)
        self._others = frozenset(others)
        self._by_first: dict[str, list[str]] = {}
        for word in sorted(words):
            if len(word) >= SHORTEST:
                self._by_first.setdefault(word[0], []).append(word)
        self.mended = lru_cache(maxsize=4096)(self._mended)

    def _mended(self, word: str) -> str:
        """The word of the list that it is nearly, where there is one; else the word itself."""
        if len(word) < SHORTEST or not word.isalpha() or word in self._words or word in self._others:
            return word
        near = [(errors, each) for each in self._candidates(word) if (errors := _errors(word, each)) is not None]
        return min(near)[1] if near else word

    def _candidates(self, word: str) -> list[str]:
        firsts = dict.fromkeys((word[0], word[1]))
        return [each for first in firsts for each in self._by_first.get(first, ())]


def _errors(word: str, meant: str) -> int | None:
    """Typing errors between two words (Damerau, two letters that change places are one), None if too many."""
    from rapidfuzz.distance import OSA  # noqa: PLC0415 - only where a check-in holds words

    shorter = min(len(word), len(meant))
    if abs(len(word) - len(meant)) > 2:
        return None
    most = 2 if shorter >= TWO_ERRORS else 1
    errors = OSA.distance(word, meant, score_cutoff=most)
    if errors > most:
        return None
    if shorter < ONE_ERROR and sorted(word) != sorted(meant):
        return None
    if word[0] != meant[0] and word[1::-1] != meant[:2]:
        return None
    return errors
