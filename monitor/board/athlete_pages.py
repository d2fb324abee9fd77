"""A page an athlete, past plan or finding in the folder beside the board, to hand on; made again when it differs."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path

from monitor import words
from monitor.board import rendering
from monitor.board.athlete_view import AthleteView, Row, athlete_view, plan_view, shown, words_now
from monitor.board.board_data import BoardContext, KnownAthlete, board_context, known, read
from monitor.board.drawers import Drawers
from monitor.board.rendering import ALWAYS_NEW, Folder, stamp
from monitor.board.session_view import Asked, SessionView, ViewCache
from monitor.errors import WrongUse
from monitor.home import Home
from monitor.roster import Roster, RosterAthlete
from monitor.store import encoding
from monitor.store.database import Store
from monitor.store.seasons import Window, contents
from rules.findings import Finding
from rules.limits import Limits
from rules.plan import Plan
from rules.session.timeline import Samples
from rules.words import amounts

# Reverse tapers that are over: a page of their own each, made once.


@dataclass(frozen=True, slots=True)
class PastPlan:
    """A plan that is over, and the findings within it."""

    now: KnownAthlete
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
        return f"{words.shared.race_name(self.plan.race)} on {amounts.weekday(self.plan.day0)} {self.plan.day0.year}"


def past_plans(one: KnownAthlete, today: date) -> list[PastPlan]:
    """The plans of an athlete that are over, newest first; the one on the board is not among them."""
    current = one.made.judgement.current
    over = [plan for plan in one.made.judgement.plans if plan is not current and plan.last_date < today]
    return [
        PastPlan(one, plan, tuple(finding for finding in one.standing if plan.day0 <= finding.date <= plan.last_date))
        for plan in reversed(over)
        if current is None or plan.day0 != current.day0
    ]


class PastPlanPages:
    """Writes the pages of plans that are over, where something in them has changed."""

    def __init__(
        self, store: Store, folder: Folder, view_cache: ViewCache, board_context: BoardContext, limits: Limits
    ) -> None:
        self._store = store
        self._folder = folder
        self._view_cache = view_cache
        self._board_context = board_context
        self._limits = limits

    def write(self, plans: Sequence[PastPlan], now: datetime, give: Callable[[], None]) -> None:
        for past, made_from in zip(plans, self._stamps(plans), strict=True):
            if not self._folder.has(past.file, made_from):
                give()
                self._folder.put(past.file, self._page(past, made_from, now))

    def _stamps(self, plans: Sequence[PastPlan]) -> Iterator[str]:
        """What each page is made from, without reading the facts themselves."""
        if not plans:
            return
        before = timedelta(days=self._limits.history.days_before_race)
        windows = [Window(plan.athlete.id, plan.plan.begins - before) for plan in plans]
        ends = [plan.plan.begins + timedelta(days=self._limits.history.days_after_race) for plan in plans]
        with self._store.reading() as con:
            told = contents(con, windows, ends)
        for past, content in zip(plans, told, strict=True):
            marks = [self._board_context.marks.get(finding.id) for finding in past.found]
            entry = (encoding.to_text(past.athlete.athlete), past.athlete.units, past.athlete.clock)
            look = (rendering.fingerprint(), self._limits.fingerprint)
            yield stamp(look, entry, content, past.now.made.history.holds, past.found, marks)

    def _page(self, one: PastPlan, made_from: str, now: datetime) -> str:
        with self._store.reading() as con:
            season = read(con, [one.athlete], now, self._limits, touched=one.plan.day0)[one.athlete.id]
        then = known(one.athlete, season, now, self._limits)
        plan = next((plan_then for plan_then in then.made.judgement.plans if plan_then.race == one.plan.race), one.plan)
        view = plan_view(then, plan, one.found, self._board_context, now, self._limits)
        view = replace(view, views=self._view_cache.views(then, plan, view.groups))
        return rendering.page(
            "past.jinja",
            made_from=made_from,
            coached=one.athlete.athlete.coached,
            athlete=one.athlete.athlete.name or one.athlete.id,
            words=one.words,
            plan=view,
            written=words.shared.day_and_time(now, one.athlete.athlete.zone, one.athlete.clock),
            rules_at="../board.html",
        )


# One finding on a page of its own: what `fallow explain --open` shows.

FOLDER = "board"


def finding_file(finding_id: str) -> str:
    return f"finding.{finding_id}.html"


def write_finding(home: Home, roster: Roster, store: Store, finding: Finding, now: datetime, limits: Limits) -> Path:
    """The finding, those on the same session or day, and the session over time, else the days; the path of the page."""
    athlete = roster.athlete(finding.athlete)
    if athlete is None:
        raise WrongUse(words.board.NO_ATHLETE.format(path=roster.path, athlete=finding.athlete))
    with store.reading() as con:
        season = read(con, [athlete], now, limits, touched=finding.date)[athlete.id]
        around = board_context(con, roster, [athlete])
    then = known(athlete, season, now, limits)
    together = [other for other in then.standing if _same(other, finding)] or [finding]
    plan = plan_of(then, finding)
    view = plan_view(then, plan, together, around, now, limits) if plan else None
    shown = view.groups if view else ()
    page = rendering.page(
        "finding.jinja",
        made_from=ALWAYS_NEW,
        athlete=athlete.athlete.name or athlete.id,
        plan=view,
        groups=shown,
        views=ViewCache(store, limits).views(then, plan, shown),
        coached=athlete.athlete.coached,
        written=words.shared.day_and_time(now, athlete.athlete.zone, athlete.clock),
        rules_at="../board.html",
    )
    home.made()
    return Folder(home.path / FOLDER).put(finding_file(finding.id), page)


def _same(one: Finding, other: Finding) -> bool:
    return (one.subject_kind, one.subject, one.date) == (other.subject_kind, other.subject, other.date)


def plan_of(one: KnownAthlete, finding: Finding) -> Plan | None:
    """The plan that a finding belongs to: the one on the board where that holds its day."""
    judgement = one.made.judgement
    holding = [plan for plan in judgement.plans if plan.day0 <= finding.date <= plan.last_date]
    return judgement.current if judgement.current in holding else next(iter(holding), judgement.current)


# A page an athlete in the folder beside the board, for a phone and to hand on; made again when it would differ.

AT_ONCE = 25
"""Athletes whose samples are read on one connection; while some are put together, the next ones' sessions are drawn."""


@dataclass(frozen=True, slots=True)
class AthleteEntry:
    """An athlete as known and as in the roster's line, and the plans that are over."""

    known: KnownAthlete
    row: Row
    over: Sequence[PastPlan]

    @property
    def files(self) -> tuple[str, ...]:
        """The athlete's page, and those of plans that are over."""
        return athlete_file(self.row.id), *(past.file for past in self.over)


def athlete_file(athlete_id: str) -> str:
    return f"{athlete_id}.html"


@dataclass(frozen=True, slots=True)
class PageContext:
    """What all pages of athletes have in common."""

    around: BoardContext
    limits: Limits
    now: datetime


class AthletePages:
    """`drawers` may be running already."""

    def __init__(
        self, folder: Folder, view_cache: ViewCache, context: PageContext, drawers: Drawers | None = None
    ) -> None:
        self._folder = folder
        self._view_cache = view_cache
        self._context = context
        self._drawers = drawers

    def write(self, entries: Sequence[AthleteEntry], give: Callable[[], None]) -> None:
        """The pages that would differ from those that lie there."""
        stamps = {entry.row.id: self._made_from(entry) for entry in entries}
        stale = [drawn for drawn in entries if not self._folder.has(athlete_file(drawn.row.id), stamps[drawn.row.id])]
        if len(stale) > AT_ONCE:
            self._write_many(stale, stamps, give)
            return
        self._view_cache.fetch([asked for entry in stale for asked in _asked(entry.known, self._context.limits)])
        for entry in stale:
            give()
            page = _text(self._context, self.view(entry), entry, stamps[entry.row.id])
            self._folder.put(athlete_file(entry.row.id), page)

    def _write_many(self, stale: Sequence[AthleteEntry], stamps: Mapping[str, str], give: Callable[[], None]) -> None:
        """Drawn by other processes; while they draw some, the samples of the next ones are read."""
        batches = [stale[begin : begin + AT_ONCE] for begin in range(0, len(stale), AT_ONCE)]
        with self._drawers or Drawers() as drawers:
            drawers.share(self._context)
            begun: list[tuple[str, Future[str]]] = []
            for batch in [*batches, []]:
                give()
                asked = [_asked(entry.known, self._context.limits) for entry in batch]
                recorded = iter(self._view_cache.recorded([picture for of_athlete in asked for picture in of_athlete]))
                before, begun = begun, []
                for entry, of_athlete in zip(batch, asked, strict=True):
                    given = [(picture, next(recorded)) for picture in of_athlete]
                    begun.append((entry.row.id, drawers.draw(drawn_page, entry, given, stamps[entry.row.id])))
                for id_, page in before:
                    give()
                    self._folder.put(athlete_file(id_), page.result())

    def view(self, entry: AthleteEntry) -> AthleteView:
        """Everything on the page of one athlete."""
        known, made = entry.known, _view(self._context, entry, {})
        if made.plan is None:
            return made
        views = self._view_cache.views(known, known.made.judgement.current, made.plan.groups)
        return replace(made, plan=replace(made.plan, views=views))

    def _made_from(self, entry: AthleteEntry) -> str:
        """Names all that the page tells, without drawing it."""
        known, board_context = entry.known, self._context.around
        athlete, history = known.athlete.athlete, known.made.history
        row, decision = entry.row, entry.row.decision
        shown_now = (
            row.word.why,
            row.word.severity,
            row.allowed,
            row.where,
            row.next,
            words_now(known, row),
            decision.used_min,
        )
        return stamp(
            (
                rendering.fingerprint(),
                self._context.limits.fingerprint,
                encoding.to_text(athlete),
                known.athlete.units,
                known.athlete.clock,
            ),
            (
                decision.date,
                shown_now,
                known.standing,
                [board_context.marks.get(finding.id) for finding in known.standing],
            ),
            [(session.key, session.version) for session in history.sessions],
            (history.nights, history.mornings, history.checkins, history.holds),
            (known.made.judgement.thin, board_context.unreadable.get(athlete.id), [past.file for past in entry.over]),
        )


def _asked(known: KnownAthlete, limits: Limits) -> list[Asked]:
    """The sessions that findings of the plan on the board are on."""
    keys = {finding.subject for finding in shown(known) if finding.subject_kind == "session"}
    plan = known.made.judgement.current
    return [Asked(known, plan, session, limits) for session in known.made.history.sessions if session.key in keys]


def _view(context: PageContext, entry: AthleteEntry, views: dict[str, SessionView]) -> AthleteView:
    made = athlete_view(entry.known, entry.row, context.around, context.now, context.limits)
    plan = replace(made.plan, views=views) if made.plan is not None else None
    return replace(made, past=tuple((past.file, past.words) for past in entry.over), plan=plan)


def _text(context: PageContext, view: AthleteView, entry: AthleteEntry, made_from: str) -> str:
    athlete = entry.known.athlete
    return rendering.page(
        "athlete.jinja",
        made_from=made_from,
        it=view,
        coached=athlete.athlete.coached,
        written=words.shared.day_and_time(context.now, athlete.athlete.zone, athlete.clock),
        rules_at="../board.html",
    )


def drawn_page(
    context: PageContext, entry: AthleteEntry, asked: Sequence[tuple[Asked, Samples | bytes]], made_from: str
) -> str:
    """The page of one athlete, its sessions by their samples: what another process needs to draw it."""
    views = {picture.session.key: picture.view(recorded, context.limits) for picture, recorded in asked}
    return _text(context, _view(context, entry, views), entry, made_from)
