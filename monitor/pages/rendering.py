"""A page as an answer: templates and style of the board and of the pages, and the policy that names them by hash."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib import resources
from typing import Any

import jinja2
from markupsafe import Markup
from starlette.responses import HTMLResponse

from monitor.board import rendering
from rules import catalogue
from rules.findings import Severity


@cache
def environment() -> jinja2.Environment:
    loaders = [jinja2.PackageLoader("monitor.pages"), jinja2.PackageLoader("monitor.board")]
    made = rendering.environment().overlay(loader=jinja2.ChoiceLoader(loaders))
    made.globals = {
        **made.globals,
        "style": style(),
        "cautions": " ".join(catalogue.cautions(Severity.STOP)),
    }
    return made


@cache
def style() -> Markup:
    return Markup(str(rendering.style()) + "\n" + rendering.squeezed(_resource("pages.css")))


@cache
def script(name: str = "pages.js") -> Markup:
    """Scripts of ours by the names of their files, with a plus between; "" for a page without one."""
    return Markup(
        "\n".join(rendering.script() if part == "board.js" else _resource(part) for part in name.split("+") if part)
    )


@cache
def policy(name: str = "pages.js") -> str:
    """Nothing is loaded from elsewhere, and only this style and this script may act; whatever stands in the data."""
    scripts = f"script-src 'sha256-{_digest(script(name))}'; " if name else ""
    return (
        "default-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; img-src 'self' data:; "
        f"connect-src 'self'; manifest-src 'self'; {scripts}style-src 'sha256-{_digest(style())}'"
    )


def page(template: str, *, status: int = 200, script_name: str = "pages.js", **values: Any) -> HTMLResponse:
    """A page of a template; every value in it is escaped."""
    text = environment().get_template(template).render(script=script(script_name), **values)
    body = text.encode("utf-8", "backslashreplace")
    return HTMLResponse(body, status, {"content-security-policy": policy(script_name)})


def said(title: str, *words: str, status: int = 200, back: str = "") -> HTMLResponse:
    """A page that says a thing or two, and nothing of anybody."""
    return page("said.jinja", status=status, script_name="", heading=title, words=words, back=back)


def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _resource(name: str) -> str:
    return resources.files("monitor.pages").joinpath("templates", name).read_text("utf-8")
