"""board.html from the store, with what is too much for one file in a folder beside it."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime, tzinfo
from pathlib import Path

from monitor.board import render
from monitor.board.at_length import FindingsPages, athlete_file, sessions_found
from monitor.board.athlete_view import AthleteView, athlete_view
from monitor.board.files import Folder, put
from monitor.board.frame import Figure
from monitor.board.gather import Desk, Known, at_once, gather
from monitor.board.one_finding import FOLDER, finding_file
from monitor.board.past import Bygone, PastPages, bygone
from monitor.board.shelf import Shelf
from monitor.board.words import clock
from monitor.home import Home
from monitor.roster import Roster
from monitor.store.database import Store
from monitor.views.program import program
from monitor.views.rules import rules_view
from rules.limits import Limits

MOST_VIEWS = 60
"""Sessions with findings that are shown on the board itself; where there are more, the findings are told at length in
a file for each athlete beside it."""


@dataclass(frozen=True, slots=True)
class Entry:
    """An athlete as known and as shown, and the plans that are over."""

    known: Known
    view: AthleteView
    over: Sequence[Bygone]


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
    brief = sum(len(sessions_found(one)) for one in athletes) > MOST_VIEWS
    entries: list[Entry] = []
    for one in athletes:
        give()
        entries.append(_entry(one, around, roster, now, limits, brief=brief))
    views = [entry.view if brief else _with_sessions(entry, shelf) for entry in entries]
    put(home.board, _page(home, roster, around, views, now, limits, give))
    folder = Folder(home.path / FOLDER)
    for entry in entries:
        for finding in entry.known.standing:
            folder.keep(finding_file(finding.id))
    if brief:
        FindingsPages(folder, shelf, around, limits).write(athletes, now, give)
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


def _entry(one: Known, around: Desk, roster: Roster, now: datetime, limits: Limits, *, brief: bool) -> Entry:
    over = bygone(one, one.athlete.athlete.local_date(now))
    elsewhere = f"{FOLDER}/{athlete_file(one.athlete.id)}" if brief else ""
    view = athlete_view(one, around, now, roster.alerts.late_after_days, limits, elsewhere=elsewhere)
    return Entry(one, replace(view, past=tuple((f"{FOLDER}/{each.file}", each.words) for each in over)), over)


def _with_sessions(entry: Entry, shelf: Shelf) -> AthleteView:
    view = entry.view
    if view.plan is None:
        return view
    views = shelf.views(entry.known, entry.known.made.judgement.current, view.plan.groups)
    return replace(view, plan=replace(view.plan, views=views))


def _page(
    home: Home,
    roster: Roster,
    around: Desk,
    shown: Sequence[AthleteView],
    now: datetime,
    limits: Limits,
    give: Callable[[], None],
) -> str:
    state = program(home, roster, around.messages)
    zone: tzinfo = roster.athletes[0].athlete.zone if roster.athletes else UTC
    return render.page(
        "board.jinja",
        give,
        athletes=sorted(shown, key=lambda view: (view.word.rank, view.name.casefold(), view.id)),
        troubles=state.troubles,
        written=clock(now, zone),
        looked_at=clock(state.looked_at, zone) if state.looked_at else "",
        rules=rules_view(limits),
        rules_at="",
        legend=_legend(shown),
    )


def _legend(shown: Sequence[AthleteView]) -> list[Figure]:
    """One figure of each kind, where the figures of the athletes leave their keys out."""
    plans = [view.plan for view in shown if view.plan is not None and view.plan.elsewhere]
    fullest = max(plans, key=lambda plan: sum(len(each.keys) for each in plan.figures), default=None)
    return [each for each in fullest.figures if each.keys] if fullest else []
