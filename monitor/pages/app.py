"""The pages as an application: who gets which page, how a link becomes a cookie, what is said when something fails."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from http import HTTPStatus
from importlib import import_module, resources
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from monitor import logs, words
from monitor.clock import Clock
from monitor.errors import FallowError
from monitor.home import Home
from monitor.pages import rendering
from monitor.pages.context import (
    Handler,
    PageContext,
    RosterHere,
    nothing_here,
    pages_of,
    reading_page,
    stranger,
    visit_to,
    writing,
)
from monitor.pages.guard import RequestGuard, Visit, WrongLinks, cookie_name, in_roster, set_cookie
from monitor.pages.links import Links, session_of
from monitor.roster import Page, Roster
from rules.limits import Limits

FINDING = re.compile(r"[0-9a-f]{6,64}")
ICONS = {"icon.svg": "image/svg+xml", "icon-192.png": "image/png", "icon-512.png": "image/png"}
ICON_SECONDS = 86400
WAYS: dict[str, tuple[tuple[str, str, str], ...]] = {
    "athlete": (("GET", "/checkin", "checkin_form"), ("POST", "/checkin", "checkin_sent")),
    "upload": (
        ("GET", "/received", "received_page"),
        ("POST", "/received", "received"),
        ("POST", "/received/shared/{token}", "shared"),
    ),
    "coach": (("GET", "/a/{athlete}", "athlete"), ("GET", "/rules", "rules"), ("GET", "/live", "live")),
    "coach_answers": tuple(("POST", f"/answer/{name}", name) for name in ("seen", "hold", "release", "undo")),
    "calendar_feed": (
        ("GET", "/calendar", "page"),
        ("POST", "/calendar", "made"),
        ("POST", "/calendar/void", "void"),
        ("GET", "/feed/{token}.ics", "feed"),
    ),
}
"""Module of this room -> method, path and handler. Each is imported when it is first asked for: what draws pages brings
the database along, and a process at rest does without it."""


def make_app(
    home: Home,
    roster: Roster,
    clock: Clock,
    limits: Limits,
    *,
    monotonic: Callable[[], float] = time.monotonic,
) -> Starlette:
    """The whole application of one home, whose roster has a [page]."""
    pages = PageContext(
        home,
        RosterHere(roster),
        clock,
        limits,
        Links(home),
        WrongLinks(limits.pages.wrong_links, monotonic),
    )

    def page() -> Page:
        return pages.page

    app = Starlette(
        routes=[
            Route("/", front, methods=["GET"]),
            Route("/k/{token}", link_followed, methods=["GET"]),
            Route("/f/{finding}", finding, methods=["GET"]),
            Route("/leave", leave, methods=["POST"]),
            Route("/manifest.webmanifest", manifest, methods=["GET"]),
            *(Route(f"/{name}", icon, methods=["GET"]) for name in ICONS),
            *(
                Route(path, _of(module, name), methods=[method])
                for module, ways in WAYS.items()
                for method, path, name in ways
            ),
        ],
        middleware=[Middleware(RequestGuard, page=page, limits=limits, monotonic=monotonic)],
        exception_handlers={HTTPException: _refused, FallowError: _failed, Exception: _broke},
    )
    app.state.pages = pages
    return app


@reading_page("athlete", "coach")
async def front(request: Request, visit: Visit) -> Response:
    home = await _loaded(visit.reader.kind, "home")
    answer: Response = await home(request, visit)
    return answer


@reading_page("athlete", "coach")
async def finding(request: Request, visit: Visit) -> Response:
    """Where an alert leads: for whom the finding is about, and for the coach."""
    named = request.path_params["finding"]
    if not FINDING.fullmatch(named):
        return nothing_here()
    show = await _loaded(visit.reader.kind, "finding")
    answer: Response = await show(request, visit, named)
    return answer


async def _loaded(module: str, name: str) -> Any:
    """What a module of this room has by a name."""
    return getattr(await run_in_threadpool(import_module, f"monitor.pages.{module}"), name)


def _of(module: str, name: str) -> Handler:
    async def handler(request: Request) -> Response:
        answer: Response = await (await _loaded(module, name))(request)
        return answer

    return handler


async def link_followed(request: Request) -> Response:
    """Set the cookie, and go on to an address that holds no secret.

    Not by a redirect: a browser that comes from a message on another site would bring no strict cookie along.
    """
    pages = pages_of(request)
    client = request.client.host if request.client else ""
    if pages.wrong_links.shut(client):
        return _no_link()
    token = request.path_params["token"]
    reader = pages.links.of_token(token)
    if reader is None or not in_roster(reader, pages.roster):
        logs.event("page_wrong_link")
        await pages.pause(pages.wrong_links.pause(client))
        return _no_link()
    pages.links.note_used(reader, pages.clock.now())
    answer = rendering.page("again.jinja", script_name="", to="/")
    answer.headers["referrer-policy"] = "no-referrer"
    set_cookie(answer, pages.page, session_of(token))
    return answer


def _no_link() -> Response:
    """The same whether it never was, is void, or was tried too often."""
    answer = rendering.said("Nothing here", words.pages.VOID_LINK, status=404)
    answer.headers["referrer-policy"] = "no-referrer"
    return answer


@writing("athlete", "coach")
async def leave(request: Request, visit: Visit, form: object) -> Response:
    """Forget the person on this device; the link still holds."""
    del visit, form
    answer = rendering.said(words.pages.CLOSED, words.pages.LINK_OPENS_AGAIN)
    name = cookie_name(pages_of(request).page)
    answer.delete_cookie(name, path="/", secure=name.startswith("__Host-"), httponly=True, samesite="strict")
    answer.headers["clear-site-data"] = '"cache", "storage"'
    return answer


async def manifest(request: Request) -> Response:
    """What a home screen needs to know; for an athlete also where files may be shared to."""
    visit = visit_to(request)
    if visit is None:
        return stranger(request)
    told: dict[str, object] = {
        "name": "fallow",
        "short_name": "fallow",
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "background_color": "#f6f2e9",
        "theme_color": "#f6f2e9",
        "icons": [
            {"src": "/icon-192.png", "sizes": "192x192", "type": "image/png"},
            {"src": "/icon-512.png", "sizes": "512x512", "type": "image/png"},
            {"src": "/icon.svg", "sizes": "any", "type": "image/svg+xml"},
        ],
    }
    if visit.reader.kind == "athlete":
        accepted = [".fit", ".tcx", ".gpx", ".gz", ".zip", ".csv", ".json", ".txt", "application/octet-stream"]
        told["share_target"] = {
            "action": f"/received/shared/{visit.token}",
            "method": "POST",
            "enctype": "multipart/form-data",
            "params": {"files": [{"name": "files", "accept": accepted}]},
        }
    return JSONResponse(told, media_type="application/manifest+json")


async def icon(request: Request) -> Response:
    name = request.url.path.strip("/")
    content = resources.files("monitor.pages").joinpath("templates", name).read_bytes()
    return Response(content, media_type=ICONS[name], headers={"cache-control": f"public, max-age={ICON_SECONDS}"})


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code == HTTPStatus.NOT_FOUND:
        return nothing_here()
    text = error.detail if error.status_code != HTTPStatus.METHOD_NOT_ALLOWED else "Not allowed."
    return rendering.said(words.pages.DID_NOT_GO_THROUGH, text, status=error.status_code, back="/")


async def _failed(request: Request, error: Exception) -> Response:
    logs.failure("page", error)
    return rendering.said(words.pages.NOT_JUST_NOW, words.pages.PROGRAM_IS_BUSY, status=503, back="/")


async def _broke(request: Request, error: Exception) -> Response:
    logs.failure("page", error)
    return rendering.said(words.pages.SOMETHING_WENT_WRONG, words.pages.NOTED_IN_LOG, status=500)
