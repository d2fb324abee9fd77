"""Text from files and file names, made safe to show: nothing in it can move a cursor, hide itself or fill a screen."""

from __future__ import annotations

MOST_CHARACTERS = 80


def shown(text: object, most: int = MOST_CHARACTERS) -> str:
    """One line in which control, format and half characters stand as escapes, cut to `most` characters."""
    raw = text.decode("latin-1") if isinstance(text, bytes) else str(text)
    cut = raw[: most + 1]
    line = "".join(_shown_character(character, isinstance(text, bytes)) for character in cut[:most])
    if len(line) > most:
        line = line[:most]
        cut += " "
    return line + "…" if len(cut) > most else line


def quoted(text: object, most: int = MOST_CHARACTERS) -> str:
    """The same between quotation marks, for a value inside a sentence."""
    return f"'{shown(text, most)}'"


def kept(text: object, most: int) -> str | None:
    """Free text to be stored: controls become spaces, length is capped; None when nothing is left."""
    cut = str(text)[:most]
    line = " ".join("".join(character if character.isprintable() else " " for character in cut).split())
    return line or None


def _shown_character(character: str, of_bytes: bool) -> str:
    if character.isprintable() and not (of_bytes and ord(character) > 126):
        return character
    return character.encode("unicode_escape", "surrogatepass").decode("ascii")
