"""What the words around a sign make of it: told, denied, or in doubt. The words stand in `denials.toml`."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Set
from functools import cache
from importlib import resources
from typing import Any, Literal

from rules.body.phrases import Span
from rules.body.plain_words import Clause

Standing = Literal["told", "doubtful", "denied"]


@cache
def words(name: str) -> frozenset[str]:
    """A list of words of `denials.toml`."""
    return frozenset(_table()[name].split())


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(resources.files("rules").joinpath("denials.toml").read_text("utf-8"))


@cache
def _pattern(name: str, before: str = " ", after: str = r"(?= )") -> re.Pattern[str]:
    """One of the phrases of that name, with what must stand around it."""
    listed = _table()[name]
    return re.compile(f"{before}(?:{_either(listed.split() if isinstance(listed, str) else listed)}){after}")


def _either(phrases: Iterable[str]) -> str:
    return "|".join(sorted(phrases, key=len, reverse=True))


def standing(clause: Clause, span: Span, complaints: Set[str], carried: bool) -> Standing:
    """What becomes of a sign that lies at `span`; `carried`: a denial before the comma reaches to it."""
    line = clause.line
    before, after = line[: span.start], line[span.end :]
    denied = _denied_between(span) or _denied_before(before, complaints)
    if not denied and _unsure(before):
        return "doubtful"
    if denied or _supposed_or_excluded(before) or _of_somebody_else(before) or _long_ago(line):
        return "denied"
    return _by_what_follows(line, before, after) or _by_the_list(clause, before, after, complaints, carried)


def _by_what_follows(line: str, before: str, after: str) -> Standing | None:
    few = r"^ (?:[\w.]+ ){0,4}?"
    if _pattern("not_gone", rf"{few}(?:not|never) ", r"\b").search(after):
        return "told"
    if _pattern("less", r"^ (?:[\w.]+ ){0,3}?", r"\b").search(after) or _pattern(
        "less_before", " ", r" (?:[\w.]+ )?$"
    ).search(before):
        return "doubtful"
    gone = rf"^ (?:(?:{_either(words('before_gone'))}) )*"
    if _pattern("gone", gone, r"\b(?! bad| worse| to)").search(after):
        return "denied"
    if _unsure(line) or _pattern("a_while_ago").search(line):
        return "doubtful"
    return None


def _by_the_list(clause: Clause, before: str, after: str, complaints: Set[str], carried: bool) -> Standing:
    """One more item of a denied list is denied; what begins like one and goes on is in doubt."""
    if not (carried and clause.listed):
        return "told"
    if _is_item(before, after, complaints):
        return "denied"
    return "doubtful" if set(before.split()) <= complaints | words("bridges") else "told"


def _is_item(before: str, after: str, complaints: Set[str]) -> bool:
    return set(f"{before} {after}".split()) <= complaints | {
        "or",
        "nor",
        "and",
        "anything",
        "any",
        "at",
        "all",
        "either",
    }


def denies(clause: Clause, complaints: Set[str], carried: bool) -> bool:
    """Whether a clause ends in a denial, so that what follows its comma may be denied with it."""
    if clause.listed and carried and set(clause.words) <= complaints | words("bridges"):
        return True
    at = next((at for at, word in enumerate(clause.words) if word in words("negators")), None)
    if at is None or _pattern("not_denying").search(clause.line):
        return False
    return set(clause.words[at + 1 :]) <= complaints | words("bridges") | words("negators")


def _denied_between(span: Span) -> bool:
    between = f" {span.between} "
    return bool(words("negators") & set(between.split())) and not _pattern("not_denying").search(between)


def _denied_before(before: str, complaints: Set[str]) -> bool:
    """A "no" before it from which only words lead on that let a denial through."""
    told = before.split()
    for at in range(len(told) - 1, -1, -1):
        if told[at] in words("negators"):
            return not _pattern("not_denying").match(f" {' '.join(told[at:])} ")
        if told[at] not in words("bridges") and told[at] not in complaints:
            return False
    return False


def _unsure(line: str) -> bool:
    return bool(_pattern("unsure").search(line))


def _supposed_or_excluded(before: str) -> bool:
    near = r" (?:[\w.]+ ){0,4}$"
    return bool(_pattern("supposed", " ", near).search(before) or _pattern("excluded", " ", near).search(before))


def _of_somebody_else(before: str) -> bool:
    of_me = rf"(?! (?:[\w.]+ )?(?:{_either(_table()['of_me'])})\b)(?= |$)"
    return bool(_pattern("others", " ", of_me).search(before))


def _long_ago(line: str) -> bool:
    return bool(_pattern("long_ago").search(line) or re.search(r" in (?:19|20)\d\d ", line))
