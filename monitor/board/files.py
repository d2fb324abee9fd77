"""Files of the board: replaced whole, private to their owner, made again only when what they are made from changes."""

from __future__ import annotations

import hashlib
import os
import re
from contextlib import suppress
from pathlib import Path

STAMP = re.compile(r'<meta name="made-from" content="([0-9a-f]{24})">')
HEAD_BYTES = 4096


def put(path: Path, text: str) -> None:
    """Replace a file whole: nobody ever reads half of it, and nobody but its owner reads it."""
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(descriptor, "w", encoding="utf-8", errors="backslashreplace", newline="\n") as file:
            file.write(text)
        beside.replace(path)
    except OSError:
        with suppress(OSError):
            beside.unlink()
        raise


def stamp(*parts: object) -> str:
    """Names what a page is made from."""
    return hashlib.sha256("\x1f".join(map(repr, parts)).encode("utf-8", "backslashreplace")).hexdigest()[:24]


class Folder:
    """The folder beside board.html. What was not asked for since it was opened is taken away by `clear`."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._asked: set[str] = set()

    def has(self, name: str, made_from: str) -> bool:
        """Whether a page made from just that lies there; it is kept either way."""
        self._asked.add(name)
        return self._stamp_of(self.path / name) == made_from

    def put(self, name: str, text: str) -> Path:
        """A page by its name, replaced whole."""
        self._asked.add(name)
        self.path.mkdir(mode=0o700, parents=True, exist_ok=True)
        put(self.path / name, text)
        return self.path / name

    def keep(self, name: str) -> None:
        """Leave a page alone that somebody else has made."""
        self._asked.add(name)

    def clear(self) -> None:
        """Take away pages of ours that nothing leads to any more, and the folder when it is empty."""
        if not self.path.is_dir():
            return
        for path in self.path.glob("*.html"):
            if path.name not in self._asked and self._stamp_of(path) is not None:
                path.unlink(missing_ok=True)
        with suppress(OSError):
            self.path.rmdir()

    def _stamp_of(self, path: Path) -> str | None:
        try:
            with path.open("rb") as file:
                head = file.read(HEAD_BYTES).decode("utf-8", "replace")
        except OSError:
            return None
        found = STAMP.search(head)
        return found[1] if found else None
