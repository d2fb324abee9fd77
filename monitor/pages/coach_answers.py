"""The coach's word from a page: seen, hold, release, and taking one back. Written by what the commands write with."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor import logs, overriding, words
from monitor.errors import WrongUse
from monitor.pages import rendering
from monitor.pages.board_lines import CoachBoard
from monitor.pages.context import PageContext, nothing_here, pages_of, whole_number, writing
from monitor.pages.guard import Visit
from monitor.roster import RosterAthlete
from monitor.store import findings
from monitor.store.database import Store

LONGEST_NOTE = 500
MOST_AT_ONCE = 500
IDS = re.compile(r"[0-9a-f]{6,64}(,[0-9a-f]{6,64})*")
BACK = re.compile(r"/(|a/[\w-]{1,64}|f/[0-9a-f]{6,64})")
Act = Callable[[PageContext, RosterAthlete, str, FormData, datetime], None]


def _answer(act: Act) -> Any:
    """A way for one kind of answer about one of the coach's own athletes."""

    @writing("coach")
    async def handler(request: Request, visit: Visit, form: FormData) -> Response:
        pages = pages_of(request)
        named = form.get("athlete")
        athlete = next((mine for mine in pages.athletes_of(visit.reader) if mine.id == named), None)
        if athlete is None:
            return nothing_here()
        async with pages.turn(visit.reader):
            board, name = board_of(request), str(form.get("once", ""))[:64]
            before = board.stamp
            if not board.is_first(name):
                return await _back(request, visit, athlete, form)
            try:
                await run_in_threadpool(act, pages, athlete, coach_name(pages, visit), form, pages.clock.now())
            except BaseException as error:
                board.not_done(name)
                if isinstance(error, WrongUse):
                    return _refused(request, f"{str(error)[:1].upper()}{str(error)[1:]}.", _place(form, athlete))
                raise
            logs.event("page_answer", what=request.url.path.rpartition("/")[2])
            board.answered()
            return await _back(request, visit, athlete, form, before)

    return handler


def board_of(request: Request) -> CoachBoard:
    """The one board of this process."""
    state = request.app.state
    if not hasattr(state, "board"):
        state.board = CoachBoard(pages_of(request).home, pages_of(request).limits)
    board: CoachBoard = state.board
    return board


def coach_name(pages: PageContext, visit: Visit) -> str:
    """As it stands beside what a coach answers."""
    contact = pages.roster.contact(visit.reader.id)
    return (contact.name if contact else "") or visit.reader.id


def _seen(pages: PageContext, athlete: RosterAthlete, by: str, form: FormData, now: datetime) -> None:
    told = str(form.get("findings", ""))
    ids = list(dict.fromkeys(told.split(","))) if IDS.fullmatch(told) else []
    if not ids or len(ids) > MOST_AT_ONCE:
        raise HTTPException(400, words.pages.NOTHING_NAMED)
    with Store(pages.home.store).reading() as con:
        standing = {finding.id for finding in findings.standing(con, athlete.id)}
    if not standing.issuperset(ids):
        raise WrongUse(words.pages.CHANGED_MEANWHILE)
    overriding.mark_all_seen(pages.home, ids, by, _text(form, "note", "note_more"), now)


def _hold(pages: PageContext, athlete: RosterAthlete, by: str, form: FormData, now: datetime) -> None:
    days = whole_number(form.get("days"), 1, overriding.LONGEST_HOLD_DAYS)
    on, why = athlete.athlete.local_date(now), _text(form, "why", "why_more")
    overriding.hold(pages.home, pages.roster, athlete.id, on, days, why, by, now)


def _release(pages: PageContext, athlete: RosterAthlete, by: str, form: FormData, now: datetime) -> None:
    why = _text(form, "why", "why_more")
    if not why:
        raise WrongUse(words.pages.RELEASE_WITHOUT_REASON)
    on = athlete.athlete.local_date(now)
    overriding.release(pages.home, pages.roster, athlete.id, on, why, by, now)


def _undo(pages: PageContext, athlete: RosterAthlete, by: str, form: FormData, now: datetime) -> None:
    try:
        given_at = datetime.fromisoformat(str(form.get("at", "")))
    except ValueError:
        raise HTTPException(400, words.pages.WRONG_MOMENT) from None
    if given_at.tzinfo is None:
        raise HTTPException(400, words.pages.WRONG_MOMENT)
    overriding.undo(pages.home, pages.roster, athlete.id, by, given_at, now)


seen, hold, release, undo = (_answer(act) for act in (_seen, _hold, _release, _undo))


def _text(form: FormData, *names: str) -> str:
    """What was chosen and what was written beside it, on one line."""
    said = [" ".join(str(form.get(name, "")).split()) for name in names]
    return "; ".join(text for text in said if text)[:LONGEST_NOTE]


def _place(form: FormData, athlete: RosterAthlete) -> str:
    back = str(form.get("back", "/"))
    return f"{back if BACK.fullmatch(back) else '/'}#a-{athlete.id}"


async def _back(
    request: Request, visit: Visit, athlete: RosterAthlete, form: FormData, before: object = None
) -> Response:
    """To where it was answered; a script that asks for the line alone gets that."""
    if not _wants_line(request):
        return RedirectResponse(_place(form, athlete), 303)
    from monitor.pages.coach import line_of  # noqa: PLC0415 - it names these ways

    return await line_of(request, visit, athlete, before)


def _refused(request: Request, text: str, back: str) -> Response:
    return rendering.said(words.pages.NOT_DONE, text, status=409, back=back)


def _wants_line(request: Request) -> bool:
    return request.headers.get("x-part") == "line"
