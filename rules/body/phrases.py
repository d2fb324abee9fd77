"""Wordings as `red_flags.toml` writes them, compiled to patterns over lines of plain words."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

GAP = r"(?P<gap{}>(?: [\w.]+){{0,4}}?)"

NUMBERS = {
    "febrile": r"(?:3[89]|4[0-2])(?:\.\d)?|10[0-7](?:\.\d)?(?= f\b| fahrenheit\b| degrees f\b)|10[1-5]\.\d",
    "febrile_decimal": r"(?:38|39|40|41)\.\d|10[0-5]\.\d(?= f\b| fahrenheit\b| degrees f)",
    "very_febrile": r"39\.[5-9]|4[0-2](?:\.\d)?|10[3-7](?:\.\d)?",
    "fast_at_rest": r"1[1-9]\d|2[0-2]\d",
}
"""Temperatures in degrees Celsius (and Fahrenheit) that are a fever, and heart rates that no rest has."""


@dataclass(frozen=True, slots=True)
class Span:
    """Where a wording lies in a line, and the words that stand between its own."""

    start: int
    end: int
    between: str


class Wording:
    """One wording: tells where it lies in a line of plain words."""

    def __init__(self, text: str, names: Mapping[str, str], small: Iterable[str]) -> None:
        self.text = text
        joint = rf"(?: (?:{'|'.join(sorted(small))})){{0,4}}"
        self._patterns = tuple(re.compile(order) for order in _orders(text, names, joint))

    def spans(self, line: str) -> Iterator[Span]:
        """All places in `line`, which begins and ends with a space."""
        for pattern in self._patterns:
            for found in pattern.finditer(line):
                between = " ".join(value for value in found.groupdict().values() if value)
                yield Span(found.start() + 1, found.end(), between)


def vocabulary(text: str, names: Mapping[str, str]) -> set[str]:
    """Plain words that a wording is made of."""
    found: set[str] = set()
    for element in _elements(text):
        if element in {"..", "&"}:
            continue
        for each in _alternatives(element, names):
            found.update(word for word in each.split("_") if word.isalpha())
    return found


def _elements(text: str) -> list[str]:
    return text.replace("~", "").split()


def _alternatives(element: str, names: Mapping[str, str]) -> list[str]:
    found: list[str] = []
    for each in element.split("|"):
        name = each[1:-1] if each.startswith("<") else None
        if name is None:
            found.append(each)
        elif name not in NUMBERS:
            found += _alternatives(names[name], names)
    return found


def _element(element: str, names: Mapping[str, str]) -> str:
    numbers = [NUMBERS[each[1:-1]] for each in element.split("|") if each[1:-1] in NUMBERS and each.startswith("<")]
    words = [re.escape(each).replace(r"\*", r"\w*").replace("_", " ") for each in _alternatives(element, names)]
    return rf" (?:{'|'.join([*numbers, *sorted(words, key=len, reverse=True)])})\b"


def _orders(text: str, names: Mapping[str, str], small: str) -> Iterator[str]:
    """The pattern of a wording, and where two parts may change places that of the other order."""
    left, either_order, right = text.partition(" & ")
    yield _pattern(f"{left} .. {right}" if either_order else text, names, small)
    if either_order:
        yield _pattern(f"{right} .. {left}", names, small)


def _pattern(text: str, names: Mapping[str, str], small: str) -> str:
    built, gaps, joint = "", 0, ""
    for element in _elements(text):
        if element == "..":
            joint = GAP.format(gaps)
            gaps += 1
            continue
        built += joint + _element(element, names)
        joint = small
    return built + r"(?= )"
