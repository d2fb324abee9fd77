"""Between the network and the pages: what is too much, too slow or meant for another host gets no further.

And who asks: the cookie of a visit, whether a write is their own, and links that are only tried.
"""

from __future__ import annotations

import asyncio
import hashlib
import hmac
import ipaddress
import secrets
from collections.abc import Callable, Mapping, MutableMapping
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any
from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from monitor import words
from monitor.pages.links import Links, PageOwner, hashed
from monitor.roster import Page, Roster
from rules.limits import Limits

# Who asks, and whether a write is their own: cookie, form token, origin, host; and who tries links is slowed down.

WILDCARDS = ("0.0.0.0", "::")
YEAR_SECONDS = 366 * 24 * 3600
SLOWEST_SECONDS = 8.0
FORGET_SECONDS = 600.0
MOST_REMEMBERED = 4096


@dataclass(frozen=True, slots=True)
class Visit:
    """One person with an open page. `token` goes into every form, and only who has the cookie can know it."""

    reader: PageOwner
    token: str


def cookie_name(page: Page) -> str:
    """A name that browsers let only a page of https set, for this host alone."""
    return "__Host-fallow" if page.url.startswith("https://") else "fallow"


def set_cookie(response: Response, page: Page, value: str) -> None:
    response.set_cookie(
        cookie_name(page),
        value,
        max_age=YEAR_SECONDS,
        path="/",
        secure=page.url.startswith("https://"),
        httponly=True,
        samesite="strict",
    )


def visit_of(request: Request, page: Page, links: Links, roster: Roster) -> Visit | None:
    """Whose cookie came with the request; None without one, with a void one, and for who is not in the roster now."""
    cookie = request.cookies.get(cookie_name(page), "")
    reader = links.of_session(cookie) if cookie else None
    if reader is None or not in_roster(reader, roster):
        return None
    return Visit(reader, form_token(cookie))


def in_roster(reader: PageOwner, roster: Roster) -> bool:
    if reader.kind == "athlete":
        return roster.athlete(reader.id) is not None
    contact = roster.contact(reader.id)
    return contact is not None and contact.role == "coach"


def form_token(cookie: str) -> str:
    return hashlib.sha256(b"form\x1f" + cookie.encode("utf-8", "surrogatepass")).hexdigest()[:43]


def is_own(visit: Visit, told: object) -> bool:
    """Whether a form carries the token of whoever sends it."""
    return isinstance(told, str) and hmac.compare_digest(told.encode("utf-8", "surrogatepass"), visit.token.encode())


def same_origin(headers: Mapping[str, str], page: Page) -> bool:
    """Whether a page of ours made the browser send this. Browsers name the origin of every write."""
    if headers.get("sec-fetch-site", "same-origin") != "same-origin":
        return False
    origin = headers.get("origin", "")
    return host_allowed(urlsplit(origin).netloc, page) and origin in (
        page.url,
        f"http://{headers.get('host', '')}",
    )


def shared_by_the_device(headers: Mapping[str, str]) -> bool:
    """Whether the browser itself sends this, asked by the person who shares a file: no page can make it say so."""
    return headers.get("sec-fetch-site") == "none" and headers.get("origin", "null") == "null"


def host_allowed(host: str, page: Page) -> bool:
    """Whether the name in the address bar is one of ours: another that leads here is somebody's trap.

    Where all of a machine's addresses are listened on and no `url` is named, an address in figures is allowed, for no
    trap is laid by those.
    """
    host = host.lower()
    here = urlsplit(page.here).netloc
    if host in (here, f"localhost:{page.port}", urlsplit(page.url).netloc):
        return bool(host)
    return not page.url and page.host in WILDCARDS and _in_figures(host, page.port)


def _in_figures(host: str, port: int) -> bool:
    name, _, told = host.rpartition(":")
    try:
        ipaddress.ip_address(name.strip("[]"))
    except ValueError:
        return False
    return told == str(port)


def once() -> str:
    """A name for one sending of a form, by which a second is known for the same."""
    return secrets.token_urlsafe(16)


class WrongLinks:
    """Who opens links that lead nowhere waits longer each time, and is not answered at all after some."""

    def __init__(self, most: int, monotonic: Callable[[], float]) -> None:
        self._most = most
        self._monotonic = monotonic
        self._tried: dict[str, tuple[int, float]] = {}

    def shut(self, client: str) -> bool:
        return self._count(client) >= self._most

    def pause(self, client: str) -> float:
        """Note one wrong link; for how many seconds the answer is to wait."""
        count = self._count(client) + 1
        if len(self._tried) >= MOST_REMEMBERED and client not in self._tried:
            self._tried.pop(next(iter(self._tried)))
        self._tried[client] = (count, self._monotonic())
        return float(min(0.25 * 2**count, SLOWEST_SECONDS))

    def _count(self, client: str) -> int:
        count, at = self._tried.get(client, (0, 0.0))
        return count if self._monotonic() - at < FORGET_SECONDS else 0


METHODS = ("GET", "HEAD", "POST")
LONGEST_PATH = 512
UPLOADS = "/received"
MINUTE = 60.0
USUAL = {
    "cache-control": "no-store",
    "content-security-policy": "default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "referrer-policy": "same-origin",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "x-robots-tag": "noindex, nofollow",
}
STRICT_TRANSPORT = "max-age=31536000"


class Rates:
    """How many requests somebody may make a minute: that many at once, then as they come back."""

    def __init__(self, monotonic: Callable[[], float]) -> None:
        self._monotonic = monotonic
        self._left: dict[tuple[str, str], tuple[float, float]] = {}

    def take(self, kind: str, who: str, a_minute: float) -> bool:
        """Whether one more is allowed, and count it."""
        now = self._monotonic()
        left, at = self._left.pop((kind, who), (a_minute, now))
        left = min(a_minute, left + (now - at) * a_minute / MINUTE)
        if len(self._left) >= MOST_REMEMBERED:
            self._left.pop(next(iter(self._left)))
        self._left[kind, who] = (max(left - 1, 0.0) if left >= 1 else left, now)
        return left >= 1


class RequestGuard:
    """The outermost layer. `page` is asked each time: an edit of the roster counts at once."""

    def __init__(self, app: ASGIApp, page: Callable[[], Page], limits: Limits, monotonic: Callable[[], float]) -> None:
        self._app = app
        self._page = page
        self._limits = limits
        self._rates = Rates(monotonic)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        page = self._page()
        refused = self._refused(scope, page)
        answer = _dressed(send, page)
        if refused is not None:
            status, words = refused
            more = {"retry-after": "60"} if status == HTTPStatus.TOO_MANY_REQUESTS else {}
            await PlainTextResponse(words + "\n", status, {**more, "connection": "close"})(scope, receive, answer)
            return
        await self._app(scope, self._bounded(scope, receive), answer)

    def _refused(self, scope: Scope, page: Page) -> tuple[int, str] | None:
        headers = Headers(scope=scope)
        length = headers.get("content-length", "0")
        hosts = headers.getlist("host")
        checks: tuple[tuple[Callable[[], bool], int, str], ...] = (
            (lambda: len(headers.raw) > self._limits.pages.headers, 431, words.pages.TOO_MANY_HEADERS),
            (lambda: _letters(headers) > self._limits.pages.head_bytes, 431, words.pages.HEADERS_TOO_LONG),
            (lambda: len(hosts) != 1 or not host_allowed(hosts[0], page), 421, words.pages.NOTHING_HERE),
            (lambda: scope["method"] not in METHODS, 405, "Not allowed."),
            (lambda: len(scope["path"]) > LONGEST_PATH, 414, "Too long."),
            (lambda: not self._in_time(scope, headers, page), 429, words.pages.TOO_OFTEN),
            (lambda: not length.isdecimal() or int(length) > self._most(scope), 413, "Too large."),
        )
        return next(((status, text) for wrong, status, text in checks if wrong()), None)

    def _in_time(self, scope: Scope, headers: Headers, page: Page) -> bool:
        cookie = _cookies(headers).get(cookie_name(page), "")
        who = hashed(cookie) if cookie else _client(scope)
        most = self._limits.pages
        usual = most.requests_a_minute if cookie else most.strangers_a_minute
        # A cookie may be made up: who sends another each time is told by the address.
        if cookie and not self._rates.take("address", _client(scope), 10 * usual):
            return False
        if not self._rates.take("any", who, usual):
            return False
        if scope["method"] != "POST":
            return True
        if scope["path"].startswith(UPLOADS):
            return self._rates.take("uploads", who, most.uploads_a_minute)
        return self._rates.take("writes", who, most.writes_a_minute)

    def _most(self, scope: Scope) -> int:
        if scope["method"] != "POST":
            return 0
        most = self._limits.pages
        return most.upload_bytes if scope["path"].startswith(UPLOADS) else most.form_bytes

    def _bounded(self, scope: Scope, receive: Receive) -> Receive:
        """What is sent counted as it comes, whatever its length was said to be, and within a bounded time."""
        limits = self._limits.pages
        seconds = limits.upload_seconds if scope["path"].startswith(UPLOADS) else limits.form_seconds
        until = asyncio.get_running_loop().time() + seconds
        most, got, whole = self._most(scope), 0, False

        async def bounded() -> Message:
            nonlocal got, whole
            if whole:  # the person goes away, or not: no matter how late
                return await receive()
            try:
                async with asyncio.timeout_at(until):
                    message = await receive()
            except TimeoutError:
                raise HTTPException(408, "Too slow.") from None
            got += len(message.get("body", b""))
            whole = not message.get("more_body", False)
            if got > most:
                raise HTTPException(413, "Too large.")
            return message

        return bounded


def _dressed(send: Send, page: Page) -> Send:
    """Every answer with the headers that keep it private, whatever made it."""

    async def dressed(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            there = {name.lower() for name, _ in message["headers"]}
            more = {**USUAL, **({"strict-transport-security": STRICT_TRANSPORT} if page.url[:6] == "https:" else {})}
            message["headers"] = [
                *message["headers"],
                *((name.encode(), value.encode()) for name, value in more.items() if name.encode() not in there),
            ]
        await send(message)

    return dressed


def _letters(headers: Headers) -> int:
    return sum(len(name) + len(value) for name, value in headers.raw)


def _client(scope: Scope) -> str:
    return str((scope.get("client") or ("",))[0])


def _cookies(headers: Headers) -> dict[str, str]:
    pairs = (part.strip().partition("=") for part in headers.get("cookie", "").split(";"))
    return {name: value for name, _, value in pairs}
