"""A coach's morning in one message: who needs a word first and why, who has not synced, what begins, who is fine."""

from __future__ import annotations

from collections.abc import Sequence

from monitor.alerts.news import Digest, DigestRow
from monitor.alerts.words import capital, day_words, stage_words

MOST_LETTERS = 1400
NAMED = 3
"""Names in a title."""


def digest_words(news: Digest) -> tuple[str, str]:
    """Title and text."""
    words = [row for row in news.rows if row.why]
    silent = [row for row in news.rows if not row.why and (row.silent_since or row.never_came)]
    fine = [row for row in news.rows if row not in words and row not in silent]
    lines = [_first(words, silent), *_numbered(words)]
    told = [*_silent(silent), *_stages(news.rows), *_fine(fine)]
    room = MOST_LETTERS - sum(len(line) + 1 for line in (lines[0], *told))
    shown = [lines[0]]
    for line in lines[1:]:
        room -= len(line) + 1
        if room < 0:
            break
        shown.append(line)
    left = len(lines) - len(shown)
    pointer = [f"And {left} more: fallow status"] if left else []
    return _title(words, silent, news.rows), "\n".join([*shown, *pointer, *told])


def _title(words: Sequence[DigestRow], silent: Sequence[DigestRow], rows: Sequence[DigestRow]) -> str:
    of = f"{len(words)} of {len(rows)}"
    if words:
        return f"{of} need{'s' if len(words) == 1 else ''} a word: {_names(words, NAMED)}"
    if silent:
        return f"No word needed; nothing new from {_names(silent, NAMED)}"
    return f"All {len(rows)} are fine today" if len(rows) > 1 else f"{rows[0].name} is fine today"


def _first(words: Sequence[DigestRow], silent: Sequence[DigestRow]) -> str:
    """What to do now."""
    if words:
        call = capital(words[0].call or "a word first")
        return f"{call}: {words[0].name}, {words[0].why}."
    if silent:
        return f"Ask {_names(silent, NAMED)} to sync; nobody else needs a word."
    return "Nothing to do: nobody needs a word."


def _numbered(words: Sequence[DigestRow]) -> list[str]:
    """The first of them with what the day allows, since why stands above already."""
    told = []
    for index, row in enumerate(words, start=1):
        why = f" {capital(f'{row.call}: {row.why}' if row.call else row.why)}." if index > 1 else ""
        told.append(f"{index}. {row.name}, day {row.day}: {row.answer}.{why}")
    return told


def _silent(rows: Sequence[DigestRow]) -> list[str]:
    since = [
        f"{row.name} (nothing ever came)" if row.never_came or row.silent_since is None
        else f"{row.name} ({day_words(row.silent_since)})"
        for row in rows
    ]  # fmt: skip
    return [f"No file since: {_list(since)}."] if since else []


def _stages(rows: Sequence[DigestRow]) -> list[str]:
    begins = [f"{row.name} {stage_words(row.begins)}" for row in rows if row.begins]
    waits = [
        f"{row.name} {stage_words(row.waits)}{f' ({row.opens_with})' if row.opens_with else ''}"
        for row in rows
        if row.waits
    ]
    return [
        *([f"Begins today: {_list(begins)}."] if begins else []),
        *([f"Waits: {_list(waits)}."] if waits else []),
    ]


def _fine(rows: Sequence[DigestRow]) -> list[str]:
    return [f"Fine: {_list([row.name for row in rows], 20)}."] if rows else []


def _names(rows: Sequence[DigestRow], most: int) -> str:
    return _list([row.name for row in rows], most)


def _list(words: Sequence[str], most: int = 8) -> str:
    more = f" and {len(words) - most} more" if len(words) > most else ""
    return ", ".join(words[:most]) + more
