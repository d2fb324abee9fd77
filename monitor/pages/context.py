"""What every page has at hand, and the doors to it: for whom a page is, and what makes a write one's own."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property, wraps
from typing import TYPE_CHECKING

from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from monitor import logs, words
from monitor.clock import Clock
from monitor.errors import RosterError, WrongUse
from monitor.home import Home
from monitor.pages import rendering
from monitor.pages.guard import Visit, WrongLinks, is_own, same_origin, visit_of
from monitor.pages.links import Kind, Links, PageOwner
from monitor.roster import Page, Roster, RosterAthlete, read_roster
from rules.limits import Limits

if TYPE_CHECKING:
    from monitor.pages.page_facts import PageFacts, PageReading

Handler = Callable[[Request], Awaitable[Response]]
PageOf = Callable[[Request, Visit], Awaitable[Response]]
Write = Callable[[Request, Visit, FormData], Awaitable[Response]]


class RosterHere:
    """The roster while the pages run: an edit counts at once, a bad one changes nothing."""

    def __init__(self, roster: Roster) -> None:
        self._good = roster
        self._stamp = _stamp(roster)

    def get(self) -> Roster:
        stamp = _stamp(self._good)
        if stamp != self._stamp:
            self._stamp = stamp
            try:
                roster = read_roster(self._good.path)
                self._good = roster if roster.page else self._good
            except RosterError:
                logs.event("roster_bad")
        return self._good


@dataclass
class PageContext:
    """Passed to every page as `request.app.state.pages`."""

    home: Home
    roster_here: RosterHere
    clock: Clock
    limits: Limits
    links: Links
    wrong_links: WrongLinks
    pause: Callable[[float], Awaitable[None]] = asyncio.sleep
    turns: dict[str, asyncio.Lock] = field(default_factory=dict)

    @cached_property
    def reading(self) -> PageReading:
        from monitor.pages.page_facts import PageReading  # noqa: PLC0415 - brings the database

        return PageReading(self.home, self.limits, self._with_links)

    @property
    def roster(self) -> Roster:
        return self.roster_here.get()

    @property
    def page(self) -> Page:
        page = self.roster.page
        assert page is not None, words.pages.NEEDS_PAGE_SECTION
        return page

    def athlete(self, athlete_id: str) -> RosterAthlete:
        one = self.roster.athlete(athlete_id)
        if one is None:
            raise WrongUse(f"no athlete {athlete_id!r}")
        return one

    def look(self, athlete_id: str) -> PageFacts:
        """One athlete as of now."""
        return self.reading.athlete(self.athlete(athlete_id), self.clock.now())

    def _with_links(self) -> list[RosterAthlete]:
        named = self.links.all()
        return [athlete for athlete in self.roster.athletes if PageOwner("athlete", athlete.id).name in named]

    def athletes_of(self, reader: PageOwner) -> tuple[RosterAthlete, ...]:
        """Whom a person may read of: oneself, or those whose contact one is."""
        if reader.kind == "athlete":
            return tuple(athlete for athlete in self.roster.athletes if athlete.id == reader.id)
        return tuple(athlete for athlete in self.roster.athletes if reader.id in athlete.contacts)

    def turn(self, reader: PageOwner) -> asyncio.Lock:
        """One write of a person after the other."""
        return self.turns.setdefault(reader.name, asyncio.Lock())


def pages_of(request: Request) -> PageContext:
    pages: PageContext = request.app.state.pages
    return pages


def visit_to(request: Request) -> Visit | None:
    """Who asks; noted as a use of the link."""
    pages = pages_of(request)
    visit = visit_of(request, pages.page, pages.links, pages.roster)
    if visit is not None:
        pages.links.note_used(visit.reader, datetime.now().astimezone())
    return visit


def nothing_here() -> Response:
    """The one answer to whatever is not there, is not yours, or never was."""
    return rendering.said("Nothing here", words.pages.NO_SUCH_PAGE, status=404, back="/")


def stranger(request: Request) -> Response:
    """Without a cookie. A link on another site's page brings none along the first time: then the page is asked anew."""
    if request.method == "GET" and request.headers.get("sec-fetch-site") == "cross-site":
        return rendering.page("again.jinja", script_name="", to=request.url.path)
    return rendering.said(words.pages.NOT_OPEN, *words.pages.OPEN_YOUR_LINK, status=403)


def reading_page(*kinds: Kind) -> Callable[[PageOf], Handler]:
    """A page for readers of these kinds; for all others there is none."""

    def door(show: PageOf) -> Handler:
        @wraps(show)
        async def handler(request: Request) -> Response:
            visit = visit_to(request)
            if visit is None:
                return stranger(request)
            return await show(request, visit) if visit.reader.kind in kinds else nothing_here()

        return handler

    return door


def writing(*kinds: Kind, files: bool = False) -> Callable[[Write], Handler]:
    """What changes something: from a page of ours, with the token of whoever asks. `files`: may bring files."""

    def door(act: Write) -> Handler:
        @wraps(act)
        async def handler(request: Request) -> Response:
            pages = pages_of(request)
            visit = visit_to(request)
            if visit is None:
                return stranger(request)
            if visit.reader.kind not in kinds:
                return nothing_here()
            if not same_origin(request.headers, pages.page):
                return not_ours()
            most = pages.limits.pages.upload_files if files else 0
            async with request.form(max_files=most, max_fields=pages.limits.pages.form_fields) as form:
                if not is_own(visit, form.get("token")):
                    return not_ours()
                return await act(request, visit, form)

        return handler

    return door


def not_ours() -> Response:
    """A write that no page of ours has made."""
    return rendering.said(words.pages.NOT_SENT, words.pages.FOREIGN_FORM, status=403, back="/")


def whole_number(told: object, least: int, most: int) -> int | None:
    """A number of a form; None for nothing, HTTP 400 for anything else."""
    text = str(told or "").strip()
    if not text:
        return None
    if not text.isdecimal() or len(text) > len(str(most)) or not least <= int(text) <= most:
        raise HTTPException(400, words.pages.WRONG_NUMBER)
    return int(text)


def _stamp(roster: Roster) -> tuple[int, int, int] | None:
    try:
        found = roster.path.stat()
    except OSError:
        return None
    return found.st_ino, found.st_size, found.st_mtime_ns
