"""The coach's page."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from monitor.pages import paper
from monitor.pages.context import nothing_here, pages_of
from monitor.pages.sessions import Visit


async def home(request: Request, visit: Visit) -> Response:
    """Whoever one coaches, and what today allows each."""
    pages = pages_of(request)
    looks = [await run_in_threadpool(pages.look, one.id) for one in pages.athletes_of(visit.reader)]
    return paper.said("Your athletes", *(look.athlete.athlete.name for look in looks))


async def finding(request: Request, visit: Visit, finding_id: str) -> Response:
    """One finding of an athlete of one's own."""
    del request, visit, finding_id
    return nothing_here()
