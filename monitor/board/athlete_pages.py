"""A page an athlete in the folder beside the board, for a phone and to hand on; made again when it would differ."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from monitor.board import render
from monitor.board.athlete_view import AthleteView, athlete_view, said_now, shown
from monitor.board.files import Folder, stamp
from monitor.board.gather import Desk, Known
from monitor.board.past import Bygone
from monitor.board.row import Row
from monitor.board.shelf import Asked, Shelf
from monitor.store import codec
from monitor.views.words import clock
from rules.limits import Limits

AT_ONCE = 25
"""Athletes whose samples are read on one connection and held in memory together."""


@dataclass(frozen=True, slots=True)
class Entry:
    """An athlete as known and as in the roster's line, and the plans that are over."""

    known: Known
    row: Row
    over: Sequence[Bygone]


def athlete_file(athlete_id: str) -> str:
    return f"{athlete_id}.html"


class AthletePages:
    def __init__(self, folder: Folder, shelf: Shelf, desk: Desk, limits: Limits) -> None:
        self._folder = folder
        self._shelf = shelf
        self._desk = desk
        self._limits = limits

    def write(self, entries: Sequence[Entry], now: datetime, give: Callable[[], None]) -> None:
        """The pages that would differ from those that lie there."""
        stamps = {entry.row.id: self._made_from(entry, now) for entry in entries}
        stale = [one for one in entries if not self._folder.has(athlete_file(one.row.id), stamps[one.row.id])]
        for begin in range(0, len(stale), AT_ONCE):
            some = stale[begin : begin + AT_ONCE]
            give()
            self._shelf.fetch([asked for entry in some for asked in _asked(entry.known, self._limits)])
            for entry in some:
                give()
                view = self.view(entry, now)
                self._folder.put(athlete_file(entry.row.id), self._text(entry, view, stamps[entry.row.id], now))

    def view(self, entry: Entry, now: datetime) -> AthleteView:
        """Everything on the page of one athlete."""
        known = entry.known
        made = athlete_view(known, entry.row, self._desk, now, self._limits)
        past = tuple((each.file, each.words) for each in entry.over)
        if made.plan is None:
            return replace(made, past=past)
        views = self._shelf.views(known, known.made.judgement.current, made.plan.groups)
        return replace(made, past=past, plan=replace(made.plan, views=views))

    def _text(self, entry: Entry, view: AthleteView, made_from: str, now: datetime) -> str:
        return render.page(
            "athlete.jinja",
            made_from=made_from,
            it=view,
            coached=entry.known.athlete.athlete.coached,
            written=clock(now, entry.known.athlete.athlete.zone, entry.known.athlete.clock),
            rules_at="../board.html",
        )

    def _made_from(self, entry: Entry, now: datetime) -> str:
        """Names all that the page tells, without drawing it."""
        known, desk = entry.known, self._desk
        athlete, history = known.athlete.athlete, known.made.history
        row, decision = entry.row, entry.row.decision
        shown_now = (
            row.word.why,
            row.word.severity,
            row.allowed,
            row.where,
            row.next,
            said_now(known, row),
            decision.used_min,
        )
        return stamp(
            (
                render.fingerprint(),
                self._limits.fingerprint,
                codec.to_text(athlete),
                known.athlete.units,
                known.athlete.clock,
            ),
            (decision.date, shown_now, known.standing, [desk.marks.get(each.id) for each in known.standing]),
            [(each.key, each.version) for each in history.sessions],
            (history.nights, history.mornings, history.checkins, history.holds),
            (known.made.judgement.thin, desk.unreadable.get(athlete.id), [each.file for each in entry.over]),
        )


def _asked(known: Known, limits: Limits) -> list[Asked]:
    """The sessions that findings of the plan on the board are on."""
    keys = {each.subject for each in shown(known) if each.subject_kind == "session"}
    plan = known.made.judgement.current
    return [Asked(known, plan, each, limits) for each in known.made.history.sessions if each.key in keys]
