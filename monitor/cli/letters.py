"""Letters that a terminal or a file may not have, and the nearest that every one has."""

from __future__ import annotations

import codecs

NEAREST = {
    "–": "-", "—": "-", "─": "-", "…": "...", "·": "-", "•": "-", "→": "->", "×": "x", "≤": "<=", "≥": ">=", "±": "+-",
    "’": "'", "‘": "'", "“": '"', "”": '"', "²": "2", "°": " degrees", "\u00a0": " ", "\u202f": " ", "\u2009": " ",
}  # fmt: skip
HANDLER = "fallow.nearest"


def nearest(error: UnicodeError) -> tuple[str, int]:
    """What to write for letters that the encoding lacks: the nearest, else their escapes; never a failure."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    wanted = error.object[error.start : error.end]
    return "".join(NEAREST.get(letter) or _escaped(letter) for letter in wanted), error.end


def _escaped(letter: str) -> str:
    return letter.encode("ascii", "backslashreplace").decode("ascii")


codecs.register_error(HANDLER, nearest)
