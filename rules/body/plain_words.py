"""What people write of themselves, as clauses of plain lower-case words that can be compared."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

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
