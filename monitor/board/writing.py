"""board.html from the store, with what is too much for one file in a folder beside it."""

from __future__ import annotations

import gc
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, tzinfo
from pathlib import Path

from monitor.board import render
from monitor.board.athlete_pages import AthletePages, Entry
from monitor.board.files import Folder, put
from monitor.board.gather import Desk, Known, at_once, gather
from monitor.board.news import news
from monitor.board.one_finding import FOLDER, finding_file
from monitor.board.past import PastPages, bygone
from monitor.board.row import row
from monitor.board.shelf import Shelf
from monitor.home import Home
from monitor.roster import Roster
from monitor.store.database import Store
from monitor.views.program import program
from monitor.views.rules import rules_view
from monitor.views.words import clock
from rules.limits import Limits

FEW_CHANGES, FEW_ATHLETES = 4, 8
"""Changes since yesterday that are told without being asked for, on a board of so few, whose lines are not cut."""


def write(
    home: Home,
    roster: Roster,
    store: Store,
    now: datetime,
    limits: Limits,
    shelf: Shelf | None = None,
    give: Callable[[], None] = at_once,
) -> Path:
    """Write board.html as of a moment, and the files beside it that have changed; the path of the board.

    `give` is called between the steps, and returns when it may go on.
    """
    with _keeping_all():
        return _write(home, roster, store, now, limits, shelf or Shelf(store, limits), give)


def _write(
    home: Home, roster: Roster, store: Store, now: datetime, limits: Limits, shelf: Shelf, give: Callable[[], None]
) -> Path:
    around, athletes = gather(store, roster, now, limits, give)
    entries: list[Entry] = []
    for one in athletes:
        give()
        entries.append(_entry(one, around, roster, now, limits))
    folder = Folder(home.path / FOLDER)
    pages = AthletePages(folder, shelf, around, limits)
    put(home.board, _page(home, roster, around, entries, pages, now, limits, give))
    for entry in entries:
        for finding in entry.known.standing:
            folder.keep(finding_file(finding.id))
    pages.write(entries, now, give)
    PastPages(store, folder, shelf, around, limits).write([one for entry in entries for one in entry.over], now, give)
    folder.clear()
    return home.board


@contextmanager
def _keeping_all() -> Iterator[None]:
    """Thousands of small values are made and all of them kept: to look for rubbish among them takes a sixth longer."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def _entry(one: Known, around: Desk, roster: Roster, now: datetime, limits: Limits) -> Entry:
    over = bygone(one, one.athlete.athlete.local_date(now))
    return Entry(one, row(one, around, now, roster.alerts.late_after_days, limits), over)


def _page(
    home: Home,
    roster: Roster,
    around: Desk,
    entries: Sequence[Entry],
    pages: AthletePages,
    now: datetime,
    limits: Limits,
    give: Callable[[], None],
) -> str:
    """The roster in order of need; of somebody alone also all that their own page tells."""
    state = program(home, roster, around.messages)
    zone: tzinfo = roster.athletes[0].athlete.zone if roster.athletes else UTC
    rows = sorted((entry.row for entry in entries), key=lambda one: (one.word.rank, one.name.casefold(), one.id))
    changed = news(around, [entry.known for entry in entries], now, roster.alerts.late_after_days)
    return render.page(
        "board.jinja",
        give,
        coached=any(one.athlete.coached for one in roster.athletes),
        rows=rows,
        needs=Counter(one.word.need for one in rows),
        news=changed,
        since=clock(changed.since, zone),
        many=len(rows) > FEW_ATHLETES,
        few=len(changed.changes) <= FEW_CHANGES and len(rows) <= FEW_ATHLETES,
        alone=pages.view(entries[0], now) if len(entries) == 1 else None,
        troubles=state.troubles,
        written=clock(now, zone),
        looked_at=clock(state.looked_at, zone) if state.looked_at else "",
        rules=rules_view(limits),
        rules_at="",
    )
