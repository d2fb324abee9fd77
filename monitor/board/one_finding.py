"""One finding on a page of its own: what `fallow explain --open` shows."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from monitor.board import render
from monitor.board.athlete_view import plan_view
from monitor.board.files import Folder
from monitor.board.gather import Known, desk, known, read
from monitor.board.shelf import Shelf
from monitor.errors import WrongUse
from monitor.home import Home
from monitor.roster import Roster
from monitor.store.database import Store
from monitor.views.words import clock
from rules.findings import Finding
from rules.limits import Limits
from rules.plan import Plan

FOLDER = "board"
ALWAYS_NEW = "0" * 24


def finding_file(finding_id: str) -> str:
    return f"finding.{finding_id}.html"


def write_finding(home: Home, roster: Roster, store: Store, finding: Finding, now: datetime, limits: Limits) -> Path:
    """The finding, those on the same session or day, and the session over time, else the days; the path of the page."""
    athlete = roster.athlete(finding.athlete)
    if athlete is None:
        raise WrongUse(f"{roster.path}: no athlete {finding.athlete!r}, whose finding this is")
    with store.reading() as con:
        season, around = read(con, [athlete], now, limits, touched=finding.date)[athlete.id], desk(con, roster)
    then = known(athlete, season, now, limits)
    together = [each for each in then.standing if _same(each, finding)] or [finding]
    plan = plan_of(then, finding)
    view = plan_view(then, plan, together, around, now, limits) if plan else None
    shown = view.groups if view else ()
    page = render.page(
        "finding.jinja",
        made_from=ALWAYS_NEW,
        athlete=athlete.athlete.name or athlete.id,
        plan=view,
        groups=shown,
        views=Shelf(store, limits).views(then, plan, shown),
        coached=athlete.athlete.coached,
        written=clock(now, athlete.athlete.zone, athlete.clock),
        rules_at="../board.html",
    )
    home.made()
    return Folder(home.path / FOLDER).put(finding_file(finding.id), page)


def _same(one: Finding, other: Finding) -> bool:
    return (one.subject_kind, one.subject, one.date) == (other.subject_kind, other.subject, other.date)


def plan_of(one: Known, finding: Finding) -> Plan | None:
    """The plan that a finding belongs to: the one on the board where that holds its day."""
    judgement = one.made.judgement
    holding = [plan for plan in judgement.plans if plan.day0 <= finding.date <= plan.last_date]
    return judgement.current if judgement.current in holding else next(iter(holding), judgement.current)
