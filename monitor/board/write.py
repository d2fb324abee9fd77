"""board.html: made from the store, replaced whole, private to its owner."""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from monitor.board import render
from monitor.board.athlete_view import AthleteView, athlete_view
from monitor.board.gather import Known, desk, gather
from monitor.board.program import program
from monitor.board.shelf import Shelf
from monitor.board.words import clock
from monitor.home import Home
from monitor.roster import Roster
from monitor.store.database import Store
from monitor.views.rules import rules_view
from rules import advice
from rules.findings import Severity
from rules.limits import Limits

MOST_VIEWS = 60
"""Sessions shown over time on the board itself; where there are more, each athlete's lie in a file beside it."""


def write(home: Home, roster: Roster, store: Store, now: datetime, limits: Limits, shelf: Shelf | None = None) -> Path:
    """Write board.html as of a moment; its path."""
    shelf = shelf or Shelf()
    around = desk(store)
    made: list[tuple[Known, AthleteView]] = [
        (known, athlete_view(known.athlete.id, known, around, now, roster.alerts.late_after_days, limits))
        for known in gather(store, roster, now, limits)
    ]
    count = sum(group.session is not None for _, view in made for group in view.groups)
    if count <= MOST_VIEWS:
        made = [(known, replace(view, views=shelf.views(store, known, view, limits))) for known, view in made]
    athletes = sorted((view for _, view in made), key=lambda view: (view.word.rank, view.name.casefold(), view.id))
    state = program(home, roster, around.messages)
    zone = roster.athletes[0].athlete.zone if roster.athletes else None
    page = render.page(
        "board.jinja",
        athletes=athletes,
        troubles=state.troubles,
        written=clock(now, zone or now.astimezone().tzinfo),
        looked_at=clock(state.looked_at, zone) if state.looked_at and zone else "",
        rules=rules_view(limits),
        rules_at="",
        cautions=advice.cautions(Severity.STOP),
    )
    put(home.board, page)
    return home.board


def put(path: Path, text: str) -> None:
    """Replace a file whole; nobody ever reads half of it, and nobody but its owner reads it."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC, 0o600)
        with os.fdopen(descriptor, "w", encoding="utf-8", errors="backslashreplace", newline="\n") as file:
            file.write(text)
        beside.replace(path)
    except OSError:
        with suppress(OSError):
            beside.unlink()
        raise
