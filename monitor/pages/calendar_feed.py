"""Calendars to subscribe to: each behind a link of its own, since calendar programs bring no cookie along.

Such a link opens one athlete's calendar for one person and nothing else. It is made and made void on a page, and ends
with the person's own link, or when they are no contact of the athlete any more.
"""

from __future__ import annotations

import hashlib
import re
from collections import OrderedDict
from datetime import datetime

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from monitor import logs, words
from monitor.calendars import as_icalendar, calendar_of
from monitor.pages import rendering
from monitor.pages.context import PageContext, nothing_here, pages_of, reading_page, writing
from monitor.pages.guard import Visit
from monitor.pages.links import Feed, feeds_of, used_at
from monitor.pages.page_facts import store_stamp
from monitor.roster import RosterAthlete

TOKEN = re.compile(r"[A-Za-z0-9_-]{20,64}")
KEPT = 64
FRESH_SECONDS = 600
"""What today allows changes with the clock: a calendar is made anew after that at the latest."""


@reading_page("athlete", "coach")
async def page(request: Request, visit: Visit) -> Response:
    """Whether there is a link to an athlete's calendar, and the way to one."""
    athlete = _athlete(pages_of(request), visit, request.query_params.get("of"))
    return nothing_here() if athlete is None else _shown(pages_of(request), visit, athlete)


@writing("athlete", "coach")
async def made(request: Request, visit: Visit, form: FormData) -> Response:
    """A new link, shown this once."""
    pages = pages_of(request)
    athlete = _athlete(pages, visit, form.get("of"))
    if athlete is None:
        return nothing_here()
    it = Feed(visit.reader, athlete.id, form.get("body") == "yes")
    token = await run_in_threadpool(pages.links.make_feed, it, pages.clock.now())
    logs.event("page_feed_made")
    return _shown(pages, visit, athlete, f"{pages.page.url or pages.page.here}/feed/{token}.ics")


@writing("athlete", "coach")
async def void(request: Request, visit: Visit, form: FormData) -> Response:
    pages = pages_of(request)
    athlete = _athlete(pages, visit, form.get("of"))
    if athlete is None:
        return nothing_here()
    await run_in_threadpool(pages.links.revoke_feed, Feed(visit.reader, athlete.id, False))
    logs.event("page_feed_void")
    return _shown(pages, visit, athlete)


def _athlete(pages: PageContext, visit: Visit, named: object) -> RosterAthlete | None:
    """The one named, or the athlete in person; None for anybody else's."""
    mine = pages.athletes_of(visit.reader)
    if visit.reader.kind == "athlete" and not named:
        return mine[0] if mine else None
    return next((athlete for athlete in mine if athlete.id == named), None)


def _shown(pages: PageContext, visit: Visit, athlete: RosterAthlete, link: str = "") -> Response:
    begins = f"{feeds_of(visit.reader)}{athlete.id}:"
    there = next((link_named for name, link_named in pages.links.all().items() if name.startswith(begins)), None)
    last = used_at(pages.home).get(there.reader) if there else None
    zone, face = athlete.athlete.zone, athlete.clock
    return rendering.page(
        "calendar.jinja",
        script_name="",
        visit=visit,
        of=athlete.id,
        name=athlete.athlete.name or athlete.id,
        own=visit.reader.kind == "athlete",
        link=link,
        subscribe=re.sub(r"^https?:", "webcal:", link),
        made_at=words.shared.day_and_time(datetime.fromisoformat(there.made_at), zone, face) if there else "",
        used_at=words.shared.day_and_time(datetime.fromisoformat(last), zone, face) if last else "",
        body=bool(there and there.reader.endswith(":body")),
    )


async def feed(request: Request) -> Response:
    """The calendar itself. A wrong or void link tells nothing and slows down, as those of people do."""
    pages = pages_of(request)
    client = request.client.host if request.client else ""
    token = request.path_params["token"]
    if pages.wrong_links.shut(client):
        return nothing_here()
    it = pages.links.of_feed(token) if TOKEN.fullmatch(token) else None
    athlete = (
        next(
            (own for own in pages.athletes_of(it.reader) if own.id == it.athlete),
            None,
        )
        if it
        else None
    )
    if it is None or athlete is None:
        logs.event("page_wrong_link")
        await pages.pause(pages.wrong_links.pause(client))
        return nothing_here()
    content = await run_in_threadpool(_content, request, it, athlete)
    pages.links.note_used(it, pages.clock.now())
    tag = f'"{hashlib.sha256(content).hexdigest()[:32]}"'
    headers = {"etag": tag, "cache-control": "private, no-cache", "content-disposition": 'inline; filename="plan.ics"'}
    if tag in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    return Response(content, media_type="text/calendar", headers=headers)


def _content(request: Request, it: Feed, athlete: RosterAthlete) -> bytes:
    """The file, kept until something may be another."""
    pages, now = pages_of(request), pages_of(request).clock.now()
    if not hasattr(request.app.state, "feeds"):
        request.app.state.feeds = OrderedDict()
    kept: OrderedDict[tuple[object, ...], bytes] = request.app.state.feeds
    key = (athlete.id, it.body, pages.roster.fingerprint, now.timestamp() // FRESH_SECONDS)
    found = kept.get((*key, store_stamp(pages.home.store)))
    if found is None:
        found = as_icalendar(calendar_of(pages.home, pages.roster, athlete, now, body=it.body))
        kept[*key, store_stamp(pages.home.store)] = found
        while len(kept) > KEPT:
            kept.popitem(last=False)
    return found
