"""Reverse tapers that are over: a page of their own each, made once."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from monitor.board import render
from monitor.board.athlete_view import plan_view
from monitor.board.files import Folder, stamp
from monitor.board.gather import Desk, Known, known, read
from monitor.board.shelf import Shelf
from monitor.roster import RosterAthlete
from monitor.store import codec
from monitor.store.database import Store
from monitor.store.seasons import Window, contents
from monitor.views.words import clock, day, race_name
from rules.findings import Finding
from rules.limits import Limits
from rules.plan import Plan


@dataclass(frozen=True, slots=True)
class Bygone:
    """A plan that is over, and the findings within it."""

    now: Known
    plan: Plan
    found: tuple[Finding, ...]

    @property
    def athlete(self) -> RosterAthlete:
        return self.now.athlete

    @property
    def file(self) -> str:
        return f"{self.athlete.id}.{self.plan.day0.isoformat()}.html"

    @property
    def words(self) -> str:
        return f"{race_name(self.plan.race)} on {day(self.plan.day0)} {self.plan.day0.year}"


def bygone(one: Known, today: date) -> list[Bygone]:
    """The plans of an athlete that are over, newest first; the one on the board is not among them."""
    current = one.made.judgement.current
    over = [plan for plan in one.made.judgement.plans if plan is not current and plan.last_date < today]
    return [
        Bygone(one, plan, tuple(each for each in one.standing if plan.day0 <= each.date <= plan.last_date))
        for plan in reversed(over)
        if current is None or plan.day0 != current.day0
    ]


class PastPages:
    """Writes the pages of plans that are over, where something in them has changed."""

    def __init__(self, store: Store, folder: Folder, shelf: Shelf, desk: Desk, limits: Limits) -> None:
        self._store = store
        self._folder = folder
        self._shelf = shelf
        self._desk = desk
        self._limits = limits

    def write(self, plans: Sequence[Bygone], now: datetime, give: Callable[[], None]) -> None:
        for one, made_from in zip(plans, self._stamps(plans), strict=True):
            if not self._folder.has(one.file, made_from):
                give()
                self._folder.put(one.file, self._page(one, made_from, now))

    def _stamps(self, plans: Sequence[Bygone]) -> Iterator[str]:
        """What each page is made from, without reading the facts themselves."""
        if not plans:
            return
        before = timedelta(days=self._limits.history.days_before_race)
        windows = [Window(one.athlete.id, one.plan.begins - before) for one in plans]
        ends = [one.plan.begins + timedelta(days=self._limits.history.days_after_race) for one in plans]
        with self._store.reading() as con:
            told = contents(con, windows, ends)
        for one, content in zip(plans, told, strict=True):
            marks = [self._desk.marks.get(each.id) for each in one.found]
            entry = (codec.to_text(one.athlete.athlete), one.athlete.units, one.athlete.clock)
            look = (render.fingerprint(), self._limits.fingerprint)
            yield stamp(look, entry, content, one.now.made.history.holds, one.found, marks)

    def _page(self, one: Bygone, made_from: str, now: datetime) -> str:
        with self._store.reading() as con:
            season = read(con, [one.athlete], now, self._limits, touched=one.plan.day0)[one.athlete.id]
        then = known(one.athlete, season, now, self._limits)
        plan = next((each for each in then.made.judgement.plans if each.race == one.plan.race), one.plan)
        view = plan_view(then, plan, one.found, self._desk, now, self._limits)
        view = replace(view, views=self._shelf.views(then, plan, view.groups))
        return render.page(
            "past.jinja",
            made_from=made_from,
            coached=one.athlete.athlete.coached,
            athlete=one.athlete.athlete.name or one.athlete.id,
            words=one.words,
            plan=view,
            written=clock(now, one.athlete.athlete.zone, one.athlete.clock),
            rules_at="../board.html",
        )
