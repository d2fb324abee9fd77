"""Who asks, and whether a write is their own: cookie, form token, origin, host; and who tries links is slowed down."""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from urllib.parse import urlsplit

from starlette.requests import Request
from starlette.responses import Response

from monitor.pages.links import Links, PageOwner
from monitor.roster import Page, Roster

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
