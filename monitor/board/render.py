"""Pages from templates: every value escaped, style and script named by their hashes in the page's own policy."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable, Sequence
from functools import cache
from importlib import resources
from typing import Any

import jinja2
from markupsafe import Markup, escape

from monitor.board.palette import properties
from monitor.views.words import day, plain, spoken
from rules import advice
from rules.findings import Severity

NOTHING = Markup("")
PIECES = 500
"""Of a page, some milliseconds' work."""


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
    made.filters.update(day=day, spoken=spoken, cells=_cells)
    made.globals.update(style=style(), script=script(), policy=policy())
    return made


def _shown(value: Any) -> Any:
    """Nothing hides in what is shown, wherever it came from."""
    return value if isinstance(value, Markup) or not isinstance(value, str) else plain(value)


def _cells(row: Sequence[str]) -> Markup:
    """The cells of a row, escaped in one go; the end of a cell may be left out."""
    text = "\n".join(cell.replace("\n", " ") for cell in row)
    return Markup("<td>" + str(escape(plain(text))).replace("\n", "<td>"))


def page(template: str, give: Callable[[], None] | None = None, *, coached: bool = True, **values: Any) -> str:
    """The page as text, for who has a coach or has none; `give` is called now and then, for whoever goes first."""
    cautions = " ".join(advice.cautions(Severity.STOP, coached=coached))
    stream = environment().get_template(template).stream(cautions=cautions, **values)
    stream.enable_buffering(PIECES)
    parts = []
    for part in stream:
        parts.append(part)
        if give is not None:
            give()
    return "".join(parts)


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
    text = "".join(file.read_text("utf-8") for file in sorted(folder.iterdir(), key=lambda each: each.name))
    return hashlib.sha256((text + style()).encode()).hexdigest()[:16]


def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _resource(name: str) -> str:
    return resources.files("monitor.board").joinpath("templates", name).read_text("utf-8")


def squeezed(text: str) -> str:
    return "\n".join(line.strip() for line in text.splitlines() if line.strip())
