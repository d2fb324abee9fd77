"""Findings at length: a page an athlete beside a board that only names them, made again when what is in it changes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

from monitor.board import render
from monitor.board.athlete_view import shown
from monitor.board.evidence import groups
from monitor.board.files import Folder, stamp
from monitor.board.gather import Desk, Known
from monitor.board.shelf import Asked, Shelf
from monitor.board.words import clock
from rules.limits import Limits

AT_ONCE = 25
"""Athletes whose samples are read on one connection and held in memory together."""


def athlete_file(athlete_id: str) -> str:
    return f"{athlete_id}.html"


def sessions_found(known: Known) -> set[str]:
    """Keys of the sessions that findings of the plan on the board are on."""
    return {each.subject for each in shown(known) if each.subject_kind == "session"}


class FindingsPages:
    def __init__(self, folder: Folder, shelf: Shelf, desk: Desk, limits: Limits) -> None:
        self._folder = folder
        self._shelf = shelf
        self._desk = desk
        self._limits = limits

    def write(self, athletes: Sequence[Known], now: datetime, give: Callable[[], None]) -> None:
        """The pages of those who have findings."""
        told = [_Page(known, self._desk, self._limits) for known in athletes if shown(known)]
        stale = [page for page in told if not self._folder.has(page.file, page.made_from)]
        for begin in range(0, len(stale), AT_ONCE):
            some = stale[begin : begin + AT_ONCE]
            give()
            self._shelf.fetch([asked for page in some for asked in page.asked])
            for page in some:
                give()
                self._folder.put(page.file, self._text(page, now))

    def _text(self, page: _Page, now: datetime) -> str:
        athlete = page.known.athlete.athlete
        told = groups(athlete.id, shown(page.known), self._desk.marks, athlete.zone, self._limits)
        return render.page(
            "sessions.jinja",
            made_from=page.made_from,
            athlete=athlete.name or athlete.id,
            groups=told,
            views=self._shelf.views(page.known, page.known.made.judgement.current, told),
            written=clock(now, athlete.zone),
            rules_at="../board.html",
        )


class _Page:
    """What one page is made from."""

    def __init__(self, known: Known, desk: Desk, limits: Limits) -> None:
        self.known = known
        self.file = athlete_file(known.athlete.id)
        plan, keys, found = known.made.judgement.current, sessions_found(known), shown(known)
        self.asked = [Asked(known, plan, each) for each in known.made.history.sessions if each.key in keys]
        marks = [desk.marks.get(each.id) for each in found]
        labels = [one.label for one in self.asked]
        name, look = known.athlete.athlete.name, (render.fingerprint(), limits.fingerprint)
        told = [(each.id, int(each.severity), each.summary, each.observed, each.source, each.advice) for each in found]
        self.made_from = stamp(look, name, told, marks, labels)
