"""The coach's pages: the board with a word to give on every line, kept up to date while it is open."""

from __future__ import annotations

import asyncio
import json
from collections import Counter
from collections.abc import AsyncIterator
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

from monitor import words
from monitor.board.athlete_pages import plan_of
from monitor.board.athlete_view import athlete_view, plan_view
from monitor.board.findings import groups
from monitor.board.session_view import ViewCache
from monitor.errors import FallowError
from monitor.pages import rendering
from monitor.pages.board_lines import BoardLine
from monitor.pages.coach_answers import board_of, coach_name
from monitor.pages.context import PageContext, nothing_here, pages_of, reading_page
from monitor.pages.guard import Visit, once
from monitor.roster import RosterAthlete
from monitor.store.database import Store
from monitor.views.findings import rules_view

SCRIPT = "board.js+coach.js"
DAYS = (1, 2, 3, 5, 7)
"""Days of a hold that are one tap."""
LOOK_SECONDS = 1.0
"""How often the store is looked at while somebody has the board open."""
REFRESH_SECONDS = 300.0
"""So often the page is made anew whatever has changed, since hours pass on it too."""
APART_SECONDS = 2.0
"""Between two words that something has changed, at least."""
PULSE_SECONDS = 20.0
"""A line that says nothing, so that connections to nobody are noticed."""
MOST_OPEN = 8
"""Boards that one coach may have open and live."""


async def home(request: Request, visit: Visit) -> Response:
    """Whoever one coaches, in order of need."""
    return rendering.page("coach.jinja", script_name=SCRIPT, **await run_in_threadpool(_board_values, request, visit))


def _board_values(request: Request, visit: Visit) -> dict[str, Any]:
    pages, now = pages_of(request), pages_of(request).clock.now()
    mine = pages.athletes_of(visit.reader)
    lines = board_of(request).lines(pages.roster, mine, coach_name(pages, visit), now)
    zone = mine[0].athlete.zone if mine else None
    return {
        **_forms(visit),
        "lines": lines.all,
        "named": lines.name,
        "needs": Counter(line.row.word.need for line in lines.all),
        "written": words.shared.day_and_time(now, zone, mine[0].clock) if mine and zone else "",
        "back": "/",
    }


def _forms(visit: Visit) -> dict[str, Any]:
    return {"visit": visit, "once": once, "days": DAYS, "reasons": words.pages.REASONS, "notes": words.pages.NOTES}


async def line_of(request: Request, visit: Visit, athlete: RosterAthlete, before: object) -> Response:
    """One line alone, for a script to put in the place of the one that was answered; named is the board it makes."""

    def read() -> tuple[BoardLine, str]:
        pages, board = pages_of(request), board_of(request)
        name, now = coach_name(pages, visit), pages.clock.now()
        line = board.line(pages.roster, athlete, name, now)[0]
        board.put(line, name, before)
        return line, board.lines(pages.roster, pages.athletes_of(visit.reader), name, now).name

    line, named = await run_in_threadpool(read)
    answer = rendering.page("coach_line.jinja", script_name="", it=line, back="/", **_forms(visit))
    answer.headers["x-board"] = named
    return answer


@reading_page("coach")
async def athlete(request: Request, visit: Visit) -> Response:
    """All that is known of one athlete of one's own, and the same answers."""
    pages = pages_of(request)
    one = _mine(pages, visit, request.path_params["athlete"])
    if one is None:
        return nothing_here()
    return rendering.page(
        "coach_athlete.jinja", script_name=SCRIPT, **await run_in_threadpool(_athlete, request, visit, one)
    )


def _mine(pages: PageContext, visit: Visit, athlete_id: str) -> RosterAthlete | None:
    return next((mine for mine in pages.athletes_of(visit.reader) if mine.id == athlete_id), None)


def _athlete(request: Request, visit: Visit, one: RosterAthlete) -> dict[str, Any]:
    pages, now = pages_of(request), pages_of(request).clock.now()
    line, board_context = board_of(request).line(pages.roster, one, coach_name(pages, visit), now)
    return {
        **_forms(visit),
        "line": line,
        "it": athlete_view(line.known, line.row, board_context, now, pages.limits),
        "written": words.shared.day_and_time(now, one.athlete.zone, one.clock),
        "back": f"/a/{one.id}",
    }


async def finding(request: Request, visit: Visit, finding_id: str) -> Response:
    """One finding of an athlete of one's own, with what else was found on the same session or day."""
    values = await run_in_threadpool(_finding, request, visit, finding_id)
    return nothing_here() if values is None else rendering.page("coach_finding.jinja", script_name=SCRIPT, **values)


def _finding(request: Request, visit: Visit, finding_id: str) -> dict[str, Any] | None:
    pages, now = pages_of(request), pages_of(request).clock.now()
    name = coach_name(pages, visit)
    lines = board_of(request).lines(pages.roster, pages.athletes_of(visit.reader), name, now)
    found = [(line, standing) for line in lines.all for standing in line.known.standing if standing.id == finding_id]
    if not found:
        return None
    line, it = found[0]
    known, together = line.known, [e for e in line.known.standing if (e.date, e.subject) == (it.date, it.subject)]
    plan = plan_of(known, it)
    told = plan_view(known, plan, together, lines.board_context, now, pages.limits) if plan else None
    shown = told.groups if told else tuple(groups(together, lines.board_context.marks, known.athlete, pages.limits))
    views = ViewCache(Store(pages.home.store), pages.limits).views(known, plan, shown)
    return {
        **_forms(visit),
        "line": line,
        "groups": shown,
        "views": views,
        "figures": told.figures if told else (),
        "written": words.shared.day_and_time(now, known.athlete.athlete.zone, known.athlete.clock),
        "back": f"/f/{finding_id}",
    }


@reading_page("athlete", "coach")
async def rules(request: Request, visit: Visit) -> Response:
    """The rules, and where their numbers come from."""
    del visit
    return rendering.page("rules.jinja", script_name="", rules=rules_view(pages_of(request).limits))


@reading_page("coach")
async def live(request: Request, visit: Visit) -> Response:
    """Says, for as long as the page is open, that something on the board has changed (server-sent events)."""
    state = request.app.state
    if not hasattr(state, "boards_open"):
        state.boards_open = Counter()
    open_now: Counter[str] = state.boards_open
    if open_now[visit.reader.id] >= MOST_OPEN:
        return Response(status_code=204)  # a browser that is told this does not ask again
    return StreamingResponse(
        _changes(request, visit, open_now), media_type="text/event-stream", headers={"x-accel-buffering": "no"}
    )


async def _changes(request: Request, visit: Visit, open_now: Counter[str]) -> AsyncIterator[str]:
    """`changed`, with a name of the board as it is now, when it is opened and whenever a line of it is another."""
    board, pages = board_of(request), pages_of(request)
    loop = asyncio.get_running_loop()
    stamp: object = object()
    name, spoken_at, looked_at = "", loop.time(), -1e9
    open_now[visit.reader.id] += 1
    try:
        yield "retry: 5000\n\n"
        while visit.reader.name in pages.links.all():  # until the link is void
            due = board.stamp != stamp or loop.time() - looked_at > REFRESH_SECONDS
            if due and loop.time() - looked_at >= APART_SECONDS:
                stamp, looked_at = board.stamp, loop.time()
                now_named = await run_in_threadpool(_name_of, request, visit)
                if now_named not in {"", name}:
                    name, spoken_at = now_named, loop.time()
                    yield f"event: changed\ndata: {json.dumps(name)}\n\n"
            if loop.time() - spoken_at > PULSE_SECONDS:
                spoken_at = loop.time()
                yield ": here\n\n"
            await asyncio.sleep(LOOK_SECONDS)
    finally:
        open_now[visit.reader.id] -= 1


def _name_of(request: Request, visit: Visit) -> str:
    """Another one whenever a line says something else; "" while the store cannot be read."""
    pages = pages_of(request)
    try:
        lines = board_of(request).lines(
            pages.roster, pages.athletes_of(visit.reader), coach_name(pages, visit), pages.clock.now()
        )
    except FallowError:
        return ""
    return lines.name
