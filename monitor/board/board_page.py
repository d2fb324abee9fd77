"""board.html from the store: a line an athlete, and what has changed since yesterday."""

from __future__ import annotations

import gc
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from functools import lru_cache
from pathlib import Path
from typing import Any

from markupsafe import Markup

from monitor import words
from monitor.board import athlete_pages, rendering
from monitor.board.athlete_pages import (
    FOLDER,
    AthleteEntry,
    AthletePages,
    PageContext,
    PastPlanPages,
    finding_file,
    past_plans,
)
from monitor.board.athlete_view import Row, row
from monitor.board.board_data import BoardContext, KnownAthlete, at_once, gather
from monitor.board.drawers import Drawers
from monitor.board.rendering import ALWAYS_NEW, Folder, put
from monitor.board.session_view import ViewCache
from monitor.board.tables import hold_words
from monitor.home import Home
from monitor.plain_text import sentence, spoken
from monitor.roster import Roster
from monitor.store.database import Store
from monitor.store.seasons import changes
from monitor.views.findings import rules_view
from monitor.views.status import program
from rules.findings import Finding, Severity
from rules.limits import Limits
from rules.words import amounts, said

# What has changed since yesterday: found, grown worse, answered; stages that began or wait.

SPAN = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """One line: about whom, what, and the finding that it leads to."""

    kind: str  # a key of KINDS
    athlete: str
    name: str
    words: str
    at: datetime
    finding: str = ""


@dataclass(frozen=True, slots=True)
class News:
    since: datetime
    changes: tuple[ChangeLine, ...]

    @property
    def tally(self) -> str:
        """ "4 new, 1 worse, 2 answered"; empty without any change."""
        counts = [
            (sum(change.kind == kind for change in self.changes), text) for kind, text in words.board.KINDS.items()
        ]
        return ", ".join(f"{count} {text}" for count, text in counts if count)


def news(board_context: BoardContext, athletes: Sequence[KnownAthlete], now: datetime, news_days: float) -> News:
    """Whether something is news: what ended long ago and came with a first import is not."""
    return told([change for athlete in athletes for change in changes_of(board_context, athlete, now, news_days)], now)


def told(changes: Iterable[ChangeLine], now: datetime) -> News:
    """Those of the last day in the order in which they are told."""
    since, order = now - SPAN, list(words.board.KINDS)
    found = [change for change in changes if change.at > since]
    return News(since, tuple(sorted(found, key=lambda answer: (order.index(answer.kind), answer.name.casefold()))))


def changes_of(board_context: BoardContext, one: KnownAthlete, now: datetime, news_days: float) -> Iterator[ChangeLine]:
    """What has changed for one athlete since yesterday."""
    athlete, since = one.athlete.athlete, now - SPAN
    name = athlete.name or athlete.id

    def change(kind: str, text: str, at: datetime, finding: str = "") -> ChangeLine:
        return ChangeLine(kind, athlete.id, name, text, at, finding)

    for each in one.standing:
        seen = [mark for mark in board_context.marks.get(each.id, ()) if mark["at"] <= now]
        yield from (
            change("answered", f"{spoken(each.rule)} seen by {mark['by']}", mark["at"], each.id)
            for mark in seen
            if mark["at"] > since
        )
        if seen:
            continue
        made = board_context.answers.made_at.get(each.id)
        recent = each.subject_end >= now - timedelta(days=news_days)
        if made is not None and since < made <= now and recent and each.severity > Severity.NOTE:
            yield change("new", _finding(each), made, each.id)
        elif since < (worse := board_context.worse_at.get(each.id, since)) <= now:
            yield change("worse", _finding(each), worse, each.id)
    for hold in one.made.history.holds:
        if since < hold.at <= now:
            yield change("answered", hold_words(hold), hold.at)
    yield from (change(kind, text, now) for kind, text in _stages(one, now))


def _finding(finding: Finding) -> str:
    return f"{finding.severity}, {spoken(finding.rule)}: {sentence(said(finding.summary))}"


def _stages(one: KnownAthlete, now: datetime) -> Iterator[tuple[str, str]]:
    plan = one.made.judgement.current
    if plan is None:
        return
    today = one.athlete.athlete.local_date(now)
    stage, before = plan.stage_on(today), plan.stage_on(today - SPAN)
    if stage not in (before, "before"):
        yield "began", words.board.PLAN_IS_DONE if stage == "done" else f"{words.shared.stage_words(stage)} began"
    for gate in plan.gates:
        if gate.until is None and gate.since >= today - SPAN:
            held = amounts.counted((today - gate.since).days + 1, "day")
            reason = gate.reasons[0].reason if gate.reasons else ""
            yield "waits", f"{words.shared.wait_words(gate.before)}, {held} so far: {reason}"


# board.html from the store, with what is too much for one file in a folder beside it.

FEW_CHANGES, FEW_ATHLETES = 4, 8
"""Changes since yesterday that are open at first, on a board of so few athletes that lines are not cut."""


def write(
    home: Home,
    roster: Roster,
    store: Store,
    now: datetime,
    limits: Limits,
    view_cache: ViewCache | None = None,
    give: Callable[[], None] = at_once,
) -> Path:
    """Write board.html as of a moment, and the files beside it that have changed; the path of the board.

    `give` is called between the steps, and returns when it may go on.
    """
    many = len(roster.athletes) > athlete_pages.AT_ONCE and not home.board.exists()
    with _keeping_all(), ExitStack() as stack:
        drawers = stack.enter_context(Drawers()) if many else None  # they start while the athletes are read
        return _write(home, roster, store, now, limits, view_cache or ViewCache(store, limits), give, drawers)


@dataclass(frozen=True, slots=True)
class Line:
    """An athlete's line as it was drawn, what it was made from, what had changed, and the files that belong to it."""

    made_from: tuple[object, ...]
    row: Row
    drawn: Markup
    changes: tuple[ChangeLine, ...]
    files: frozenset[str]


def _write(
    home: Home,
    roster: Roster,
    store: Store,
    now: datetime,
    limits: Limits,
    view_cache: ViewCache,
    give: Callable[[], None],
    drawers: Drawers | None,
) -> Path:
    """Only those are read and drawn of whom something may have changed since they were drawn last in this hour."""
    stamps = _stamps(store, roster, now, limits)
    lines: dict[str, Line] = view_cache.lines
    kept = {id_: line for id_, line in lines.items() if len(stamps) > 1 and stamps.get(id_) == line.made_from}
    drawn = [athlete for athlete in roster.athletes if athlete.id not in kept]
    around, athletes = gather(store, roster, now, limits, give, drawn)
    entries: list[AthleteEntry] = []
    for person in athletes:
        give()
        entries.append(_entry(person, around, roster, now, limits))
    folder = Folder(home.path / FOLDER)
    for line in kept.values():
        folder.keep_all(line.files)
    pages = AthletePages(folder, view_cache, PageContext(around, limits, now), drawers)
    fresh = {entry.row.id: _line(entry, around, roster, now, stamps[entry.row.id]) for entry in entries}
    view_cache.lines = {athlete.id: (fresh if athlete.id in fresh else kept)[athlete.id] for athlete in roster.athletes}
    try:
        page = _page(home, roster, around, entries, view_cache.lines, pages, now, limits, give)
        coming = rendering.page("coming.jinja", made_from=ALWAYS_NEW)
        folder.announce([name for entry in entries for name in entry.files], coming)
        put(home.board, page)
        for line in fresh.values():
            folder.keep_all(line.files)
        pages.write(sorted(entries, key=lambda entry: _by_need(entry.row)), give)
        past = PastPlanPages(store, folder, view_cache, around, limits)
        past.write([past_plan for entry in entries for past_plan in entry.over], now, give)
    except BaseException:
        view_cache.lines = kept
        raise
    folder.clear()
    return home.board


def _stamps(store: Store, roster: Roster, now: datetime, limits: Limits) -> dict[str, tuple[object, ...]]:
    """Athlete -> what their line is made from: the hour, the look, the roster, and whatever the store has changed."""
    with store.reading() as con:
        changed = changes(con)
    hour = now.astimezone(UTC).strftime("%Y-%m-%dT%H")
    look = (hour, rendering.fingerprint(), roster.fingerprint, limits.fingerprint)
    return {
        athlete.id: (look, athlete.athlete.local_date(now), changed.get(athlete.id), store.path)
        for athlete in roster.athletes
    }


def _line(
    entry: AthleteEntry, around: BoardContext, roster: Roster, now: datetime, made_from: tuple[object, ...]
) -> Line:
    findings = (finding_file(finding.id) for finding in entry.known.standing)
    files = frozenset((*entry.files, *findings))
    changes = tuple(changes_of(around, entry.known, now, roster.alerts.late_after_days))
    return Line(made_from, entry.row, rendering.part("line", entry.row), changes, files)


@contextmanager
def _keeping_all() -> Iterator[None]:
    """Without garbage collection: thousands of values are made and kept, and scanning them costs a sixth more time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def _entry(one: KnownAthlete, around: BoardContext, roster: Roster, now: datetime, limits: Limits) -> AthleteEntry:
    over = past_plans(one, one.athlete.athlete.local_date(now))
    return AthleteEntry(one, row(one, around, now, roster.alerts.late_after_days, limits), over)


@lru_cache(maxsize=1)
def _rules(limits: Limits) -> Markup:
    return rendering.part("rules", rules_view(limits))


def _by_need(row: Row) -> tuple[Any, ...]:
    return row.word.rank, row.name.casefold(), row.id


def _page(
    home: Home,
    roster: Roster,
    around: BoardContext,
    entries: Sequence[AthleteEntry],
    lines: Mapping[str, Line],
    pages: AthletePages,
    now: datetime,
    limits: Limits,
    give: Callable[[], None],
) -> str:
    """The roster in order of need; of somebody alone also all that their own page tells."""
    state = program(home, roster, around.messages)
    zone: tzinfo = roster.athletes[0].athlete.zone if roster.athletes else UTC
    rows = sorted((line.row for line in lines.values()), key=_by_need)
    changed = told((change for line in lines.values() for change in line.changes), now)
    return rendering.page(
        "board.jinja",
        give,
        coached=any(athlete.athlete.coached for athlete in roster.athletes),
        rows=rows,
        needs=Counter(line.word.need for line in rows),
        news=changed,
        since=words.shared.day_and_time(changed.since, zone),
        many=len(rows) > FEW_ATHLETES,
        few=len(changed.changes) <= FEW_CHANGES and len(rows) <= FEW_ATHLETES,
        alone=pages.view(entries[0]) if len(rows) == 1 else None,
        troubles=state.troubles,
        written=words.shared.day_and_time(now, zone),
        looked_at=words.shared.day_and_time(state.looked_at, zone) if state.looked_at else "",
        lines={id_: line.drawn for id_, line in lines.items()},
        rules=_rules(limits),
        rules_at="",
    )
