"""Pages from templates, written as files: values escaped, style and script named by hash, replaced whole, private."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup, escape

from monitor.board.svg_chart import properties
from monitor.home import replace_file
from monitor.plain_text import plain, spoken
from rules import catalogue
from rules.findings import Severity
from rules.words import amounts

# Files of the board: replaced whole, private to their owner, made again only when what they are made from changes.

STAMP = re.compile(r'<meta name="made-from" content="([0-9a-f]{24})">')
HEAD_BYTES = 4096
ALWAYS_NEW = "0" * 24
"""The stamp of a page that is to be made again."""


def put(path: Path, text: str) -> None:
    """Replace a page whole; letters that cannot be written are spelt out."""
    replace_file(path, text.encode("utf-8", "backslashreplace"))


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

    def announce(self, names: Iterable[str], page: str) -> None:
        """Write a placeholder for each page that is not drawn yet, so that no link is dead."""
        for name in names:
            self._asked.add(name)
            if not (self.path / name).exists():
                self.put(name, page)

    def keep_all(self, names: Iterable[str]) -> None:
        """Leave pages alone that were made before."""
        self._asked.update(names)

    def clear(self) -> None:
        """Remove pages that nothing links to any more, and the folder when it is empty."""
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


# Pages from templates: every value escaped, style and script named by their hashes in the page's own policy.

NOTHING = Markup("")
PIECES = 500
"""Parts of a template between two calls of `give`: some milliseconds of work."""


@cache
def environment() -> jinja2.Environment:
    made = jinja2.Environment(
        loader=jinja2.PackageLoader("monitor.board"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
        finalize=_shown,
    )
    made.filters.update(day=amounts.weekday, spoken=spoken, cells=_cells)
    made.globals.update(style=style(), script=script(), policy=policy())
    return made


def _shown(value: Any) -> Any:
    """Escape control and direction characters in every value that is shown."""
    return value if isinstance(value, Markup) or not isinstance(value, str) else plain(value)


def _cells(row: Sequence[str]) -> Markup:
    """The cells of a row, escaped in one go; the end of a cell may be left out."""
    text = "\n".join(cell.replace("\n", " ") for cell in row)
    return Markup("<td>" + str(escape(plain(text))).replace("\n", "<td>"))


def page(template: str, give: Callable[[], None] | None = None, *, coached: bool = True, **values: Any) -> str:
    """The page as text, for who has a coach or has none; `give` is called now and then, for whoever goes first."""
    cautions = " ".join(catalogue.cautions(Severity.STOP, coached=coached))
    stream = environment().get_template(template).stream(cautions=cautions, **values)
    stream.enable_buffering(PIECES)
    parts = []
    for part in stream:
        parts.append(part)
        if give is not None:
            give()
    return "".join(parts)


def part(name: str, of: object) -> Markup:
    """A part of a page by its name in `parts.jinja`, to be kept for many pages."""
    made: Markup = getattr(environment().get_template("parts.jinja").module, name)(of)
    return made


@cache
def style() -> Markup:
    text = _resource("board.css")
    for scheme in ("light", "dark", "print"):
        text = text.replace(f"/*{scheme}*/", properties(scheme))
    return Markup(squeezed(text))


@cache
def script() -> Markup:
    return Markup(_resource("board.js"))


@cache
def policy() -> str:
    """Nothing may be loaded, and only this style and this script may act."""
    return (
        "default-src 'none'; base-uri 'none'; form-action 'none'; img-src data:;"
        f" style-src 'sha256-{_digest(style())}'; script-src 'sha256-{_digest(script())}'"
    )


@cache
def fingerprint() -> str:
    """Names the look: other templates, style or script, another fingerprint."""
    folder = resources.files("monitor.board").joinpath("templates")
    text = "".join(file.read_text("utf-8") for file in sorted(folder.iterdir(), key=lambda file: file.name))
    return hashlib.sha256((text + style()).encode()).hexdigest()[:16]


def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _resource(name: str) -> str:
    return resources.files("monitor.board").joinpath("templates", name).read_text("utf-8")


def squeezed(text: str) -> str:
    return "\n".join(line.strip() for line in text.splitlines() if line.strip())
