"""What people write of symptoms: plain words, wordings, typing errors; whether a sign is told, denied or in doubt."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Set
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from typing import Literal

from rules.limits import default_limits
from rules.words import texts

# What people write of themselves, as clauses of plain lower-case words that can be compared.

CONTRACTIONS = {
    "can't": "can not", "cannot": "can not", "cant": "can not", "cannt": "can not", "cannto": "can not",
    "won't": "will not", "shan't": "shall not", "im": "i am", "ive": "i have",
    "anymore": "any more", "wihtout": "without", "whitout": "without", "witout": "without",
}  # fmt: skip
"""Beyond those that follow a rule ("n't", "'m", "'ve" ...)."""

NOT_AFTER = frozenset({
    "do", "does", "did", "is", "are", "was", "were", "have", "has", "had", "could", "would", "should", "might", "must",
    "need",
})  # fmt: skip
MISSPELT_NOT = {
    "dosnt": "does not", "dosent": "does not", "doesent": "does not", "havnt": "have not", "havent": "have not",
    "hasent": "has not", "didint": "did not", "didn": "did not", "didnot": "did not", "wasent": "was not",
    "isent": "is not", "coudnt": "could not", "couldn": "could not", "nto": "not",
}  # fmt: skip
ENDINGS = (("n't", " not"), ("'m", " am"), ("'ve", " have"), ("'re", " are"), ("'ll", " will"), ("'d", " had"))

TOKEN = re.compile(r"\d+(?:[.,]\d+)?|[^\W\d_]+(?:'[^\W\d_]+)?")
ANSWERED_NO = re.compile(r"\s*[:?=-]+\s*(?:no|none|nope|nil|never|negative|nothing)\b(?!\s+\w)", re.IGNORECASE)
"""After a name, a plain no: "chest pain: no", "Dizziness? None.": a denial and no beginning of something else."""
BREAKS = re.compile(
    r"(?<!\d)[.](?!\d)|(?<=\d)[.](?!\d)|(?<!\d)[.](?=\d)|[;!?\n()]"
    r"|\b(?:but|although|though|however|except|apart from|otherwise|yet)\b",
    re.IGNORECASE,
)
COMMAS = re.compile(r"(?<!\d),|,(?!\d)|\s[-–—]+\s|:(?=\s)|\s/\s")


@dataclass(frozen=True, slots=True)
class Clause:
    """A stretch of words about one thing: as written, and as plain words in one line."""

    text: str
    words: tuple[str, ...]
    listed: bool = False  # it goes on after a comma, so a "no" before the comma may still hold

    @property
    def line(self) -> str:
        return f" {' '.join(self.words)} "


def clauses(texts: Iterable[str]) -> list[Clause]:
    """Clauses of several texts; commas part them too, and are remembered."""
    return [clause for text in texts for clause in _of(text)]


def _of(text: str) -> Iterator[Clause]:
    plain = text.replace("’", "'").replace("`", "'").replace("_", " ")
    for sentence in BREAKS.split(ANSWERED_NO.sub(" is absent", plain)):
        first = True
        for part in COMMAS.split(sentence):
            words = tuple(_words(part))
            if words:
                yield Clause(part.strip().replace(" is absent", ": no"), words, listed=not first)
                first = False


def _words(part: str) -> Iterator[str]:
    for token in TOKEN.findall(part.lower().replace("-", " ")):
        yield from _plain(token).split()


def _plain(token: str) -> str:
    if token[0].isdigit():
        return token.replace(",", ".")
    known = CONTRACTIONS.get(token) or MISSPELT_NOT.get(token)
    if known is not None:
        return known
    if token.endswith("nt") and token[:-2] in NOT_AFTER:
        return f"{token[:-2]} not"
    for ending, instead in ENDINGS:
        if token.endswith(ending):
            return token.removesuffix(ending) + instead
    return token.replace("'s", "").replace("'", "")


# Wordings as `red_flags.toml` writes them, compiled to patterns over lines of plain words.

GAP = r"(?P<gap{}>(?: [\w.]+){{0,4}}?)"

NUMBERS = {
    "febrile": r"(?:3[89]|4[0-2])(?:\.\d)?|10[0-7](?:\.\d)?(?= f\b| fahrenheit\b| degrees f\b)|10[1-5]\.\d",
    "febrile_decimal": r"(?:38|39|40|41)\.\d|10[0-5]\.\d(?= f\b| fahrenheit\b| degrees f)",
    "very_febrile": r"39\.[5-9]|4[0-2](?:\.\d)?|10[3-7](?:\.\d)?",
    "fast_at_rest": r"1[1-9]\d|2[0-2]\d",
}
"""Temperatures in degrees Celsius (and Fahrenheit) that are a fever, and heart rates that no rest has."""


@dataclass(frozen=True, slots=True)
class WordSpan:
    """Where a wording lies in a line, and the words that stand between its own."""

    start: int
    end: int
    between: str


class Wording:
    """One wording: tells where it lies in a line of plain words."""

    def __init__(self, text: str, names: Mapping[str, str], small: Iterable[str]) -> None:
        self.text = text
        self._names = names
        self._small = small

    def spans(self, line: str) -> Iterator[WordSpan]:
        """All places in `line`, which begins and ends with a space."""
        if not all(any(word in line for word in words) for words in self._beginnings):
            return  # most wordings: their patterns, which take long to compile, are never asked for
        for pattern in self._patterns:
            for match in pattern.finditer(line):
                between = " ".join(value for value in match.groupdict().values() if value)
                yield WordSpan(match.start() + 1, match.end(), between)

    @cached_property
    def _beginnings(self) -> list[list[str]]:
        """For each part how the words that may stand there begin; nothing for a number."""
        parts = [element for element in _elements(self.text) if element not in {"..", "&"} and not _numbers(element)]
        return [
            [word.partition("*")[0].replace("_", " ") for word in _alternatives(part, self._names)] for part in parts
        ]

    @cached_property
    def _patterns(self) -> tuple[re.Pattern[str], ...]:
        joint = rf"(?: (?:{'|'.join(sorted(self._small))})){{0,4}}"
        return tuple(re.compile(order) for order in _orders(self.text, self._names, joint))


def vocabulary(text: str, names: Mapping[str, str]) -> set[str]:
    """Plain words that a wording is made of."""
    found: set[str] = set()
    for element in _elements(text):
        if element in {"..", "&"}:
            continue
        for alternative in _alternatives(element, names):
            found.update(word for word in alternative.split("_") if word.isalpha())
    return found


def _elements(text: str) -> list[str]:
    return text.replace("~", "").split()


def _alternatives(element: str, names: Mapping[str, str]) -> list[str]:
    found: list[str] = []
    for word in element.split("|"):
        name = word[1:-1] if word.startswith("<") else None
        if name is None:
            found.append(word)
        elif name not in NUMBERS:
            found += _alternatives(names[name], names)
    return found


def _numbers(element: str) -> list[str]:
    return [NUMBERS[word[1:-1]] for word in element.split("|") if word[1:-1] in NUMBERS and word.startswith("<")]


def _element(element: str, names: Mapping[str, str]) -> str:
    numbers = _numbers(element)
    words = [
        re.escape(alternative).replace(r"\*", r"\w*").replace("_", " ") for alternative in _alternatives(element, names)
    ]
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


# Typing errors in words that matter: a word that is nearly one of them, and no other word, is taken for it.


class Spelling:
    """Takes misspelt words for the words of a list; `others` are words of their own, however near."""

    def __init__(self, words: Set[str], others: Set[str]) -> None:
        self._shortest, self._one_error, self._two_errors = default_limits().checkin_words.misspelt
        self._words = frozenset(words)
        self._others = frozenset(others)
        self._by_first: dict[str, list[str]] = {}
        for word in sorted(words):
            if len(word) >= self._shortest:
                self._by_first.setdefault(word[0], []).append(word)
        self.mended = lru_cache(maxsize=4096)(self._mended)

    def _mended(self, word: str) -> str:
        """The word of the list that it is nearly, where there is one; else the word itself."""
        if len(word) < self._shortest or not word.isalpha() or word in self._words or word in self._others:
            return word
        near = [
            (errors, candidate)
            for candidate in self._candidates(word)
            if (errors := self._errors(word, candidate)) is not None
        ]
        return min(near)[1] if near else word

    def _candidates(self, word: str) -> list[str]:
        firsts = dict.fromkeys((word[0], word[1]))
        return [candidate for first in firsts for candidate in self._by_first.get(first, ())]

    def _errors(self, word: str, meant: str) -> int | None:
        """Typing errors between two words (Damerau, two letters that change places are one), None if too many."""
        from rapidfuzz.distance import OSA  # noqa: PLC0415 - only where a check-in holds words

        shorter = min(len(word), len(meant))
        most = 2 if shorter >= self._two_errors else 1
        errors = OSA.distance(word, meant, score_cutoff=most)
        if errors > most:
            return None
        if shorter < self._one_error and sorted(word) != sorted(meant):
            return None
        if word[0] != meant[0] and word[1::-1] != meant[:2]:
            return None
        return errors


# What the words around a sign make of it: told, denied, or in doubt. The words stand in `denials.toml`.

Standing = Literal["told", "doubtful", "denied"]


@cache
def words(name: str) -> frozenset[str]:
    """A list of words of `denials.toml`."""
    return frozenset(texts("denials")[name].split())


@cache
def _denial_pattern(name: str, before: str = " ", after: str = r"(?= )") -> re.Pattern[str]:
    """One of the phrases of that name, with what must stand around it."""
    listed = texts("denials")[name]
    return re.compile(f"{before}(?:{_either(listed.split() if isinstance(listed, str) else listed)}){after}")


def _either(phrases: Iterable[str]) -> str:
    return "|".join(sorted(phrases, key=len, reverse=True))


def standing(clause: Clause, span: WordSpan, complaints: Set[str], carried: bool) -> Standing:
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
    if _denial_pattern("not_gone", rf"{few}(?:not|never) ", r"\b").search(after):
        return "told"
    if _denial_pattern("less", r"^ (?:[\w.]+ ){0,3}?", r"\b").search(after) or _denial_pattern(
        "less_before", " ", r" (?:[\w.]+ )?$"
    ).search(before):
        return "doubtful"
    gone = rf"^ (?:(?:{_either(words('before_gone'))}) )*"
    if _denial_pattern("gone", gone, r"\b(?! bad| worse| to)").search(after):
        return "denied"
    if _unsure(line) or _denial_pattern("a_while_ago").search(line):
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
    if at is None or _denial_pattern("not_denying").search(clause.line):
        return False
    return set(clause.words[at + 1 :]) <= complaints | words("bridges") | words("negators")


def _denied_between(span: WordSpan) -> bool:
    between = f" {span.between} "
    return bool(words("negators") & set(between.split())) and not _denial_pattern("not_denying").search(between)


def _denied_before(before: str, complaints: Set[str]) -> bool:
    """A "no" before it from which only words lead on that let a denial through."""
    told = before.split()
    for at in range(len(told) - 1, -1, -1):
        if told[at] in words("negators"):
            return not _denial_pattern("not_denying").match(f" {' '.join(told[at:])} ")
        if told[at] not in words("bridges") and told[at] not in complaints:
            return False
    return False


def _unsure(line: str) -> bool:
    return bool(_denial_pattern("unsure").search(line))


def _supposed_or_excluded(before: str) -> bool:
    near = r" (?:[\w.]+ ){0,4}$"
    return bool(
        _denial_pattern("supposed", " ", near).search(before) or _denial_pattern("excluded", " ", near).search(before)
    )


def _of_somebody_else(before: str) -> bool:
    of_me = rf"(?! (?:[\w.]+ )?(?:{_either(texts('denials')['of_me'])})\b)(?= |$)"
    return bool(_denial_pattern("others", " ", of_me).search(before))


def _long_ago(line: str) -> bool:
    return bool(_denial_pattern("long_ago").search(line) or re.search(r" in (?:19|20)\d\d ", line))
