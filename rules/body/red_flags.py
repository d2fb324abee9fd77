"""Words in a check-in that belong to a doctor: compared, never diagnosed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

from rules.body.symptom_text import Clause, Spelling, Standing, Wording, clauses, denies, standing, vocabulary, words
from rules.words import texts

CLASSES = ("emergency", "heat", "head", "same_day", "before_sport")
"""What has to be done about a sign, the gravest first."""


@dataclass(frozen=True, slots=True)
class RedFlag:
    """A sign: the wordings that tell of it, what to say, how urgent it is, and who says so.

    `klass` is one of CLASSES.
    """

    id: str
    name: str
    wordings: tuple[Wording, ...]
    harmless: tuple[Wording, ...]
    say: str
    urgency: str
    source: str
    klass: str
    within_days: int | None = None


@dataclass(frozen=True, slots=True)
class Sign:
    """A red flag that somebody's words name, and whether they tell of it, deny it, or leave it in doubt."""

    flag: RedFlag
    text: str  # the clause, as written
    standing: Standing


@cache
def red_flags() -> tuple[RedFlag, ...]:
    """The list shipped with the package."""
    table = texts("red_flags")
    names, small = table["words"], words("small")
    return tuple(
        RedFlag(
            id=entry["id"],
            name=entry["name"],
            wordings=tuple(Wording(text, names, small) for text in entry["words"]),
            harmless=tuple(Wording(text, names, small) for text in entry.get("harmless", ())),
            say=entry["say"],
            urgency=entry["urgency"],
            source=entry["source"],
            klass=entry["class"],
            within_days=entry.get("within_days"),
        )
        for entry in table["flag"]
    )


@cache
def _known_words() -> frozenset[str]:
    """Words that wordings are made of: none of them is a typing error."""
    table = texts("red_flags")
    return frozenset(
        word for entry in table["flag"] for text in entry["words"] for word in vocabulary(text, table["words"])
    )


@cache
def _complaints() -> frozenset[str]:
    """Names of signs and of other complaints: what a list of denials is made of."""
    return _listed("spelt") | _listed("complaints")


@cache
def _spelling() -> Spelling:
    return Spelling(_listed("spelt"), _known_words() | _listed("not_misspelt") | _listed("complaints"))


def signs_in(texts: Sequence[str], day: int) -> list[Sign]:
    """Red flags that the texts name on a day after the race, in the order of the list, each as it stands worst."""
    signs = _signs(tuple(texts))
    return [sign for sign in signs if sign.flag.within_days is None or day <= sign.flag.within_days]


@lru_cache(maxsize=4096)
def _signs(texts: tuple[str, ...]) -> tuple[Sign, ...]:
    """On any day. The same few check-ins are read at every judgement of an athlete."""
    order: tuple[Standing, ...] = ("told", "doubtful", "denied")
    found: list[Sign] = []
    read = list(_read(texts))
    for flag in red_flags():
        signs = [Sign(flag, clause.text, sign) for clause, carried in read for sign in _of(flag, clause, carried)]
        if signs:
            found.append(min(signs, key=lambda sign: order.index(sign.standing)))
    return tuple(found)


def flags_in(texts: Sequence[str], day: int) -> list[tuple[RedFlag, str]]:
    """Red flags told in any of the texts, each with the clause that tells it."""
    return [(sign.flag, sign.text) for sign in signs_in(texts, day) if sign.standing == "told"]


def understood(text: str) -> bool:
    """Whether some red flag has words for it, whether it is told, asked about or denied."""
    return any(_of(flag, clause, carried) for clause, carried in _read((text,)) for flag in red_flags())


def unclear_in(note: str) -> list[str]:
    """Clauses of free text that no red flag has words for: a complaint of another kind, or no English."""
    return [clause.text for clause, carried in _read((note,)) if _is_unclear(clause, carried)]


def _is_unclear(clause: Clause, carried: bool) -> bool:
    if any(_names(flag, clause) for flag in red_flags()):
        return False
    told = set(clause.words)
    if told & _listed("complaint") and not told & _listed("muscles") and not denies(clause, _complaints(), carried):
        return True
    letters = [word for word in clause.words if word.isalpha()]
    return 2 * sum(word in _english() for word in letters) < len(letters)


@cache
def _english() -> frozenset[str]:
    others = (words("english"), words("bridges"), words("small"), _listed("complaint"), _listed("muscles"))
    return _known_words() | _complaints() | frozenset().union(*others)


def _names(flag: RedFlag, clause: Clause) -> bool:
    return any(True for wording in (*flag.wordings, *flag.harmless) for _ in wording.spans(clause.line))


@cache
def _listed(name: str) -> frozenset[str]:
    """A list of words of `red_flags.toml`."""
    return frozenset(texts("red_flags")[name].split())


def _read(texts: Sequence[str]) -> Iterator[tuple[Clause, bool]]:
    """Clauses with mended spelling, each with whether a denial before its comma may hold for it."""
    carried = False
    for heard in clauses(texts):
        clause = Clause(heard.text, tuple(_spelling().mended(word) for word in heard.words), heard.listed)
        carried = carried and clause.listed
        yield clause, carried
        carried = denies(clause, _complaints(), carried)


def _of(flag: RedFlag, clause: Clause, carried: bool) -> list[Standing]:
    """How the flag stands in the clause, once for each place that names it."""
    line = clause.line
    spans = [span for wording in flag.wordings for span in wording.spans(line)]
    if not spans:
        return []
    harmless = [span for wording in flag.harmless for span in wording.spans(line)]
    return [
        standing(clause, span, _complaints(), carried)
        for span in spans
        if not any(other.start < span.end and span.start < other.end for other in harmless)
    ]
