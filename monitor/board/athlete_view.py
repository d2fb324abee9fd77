"""Everything the board shows of one athlete, ready for the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from monitor.board.asked import questions
from monitor.board.body_charts import clocks_chart, resting_chart, rmssd_chart, sleep_chart
from monitor.board.clocks import clocks
from monitor.board.days import Sheet, sheet
from monitor.board.effort_charts import heart_chart, minutes_chart
from monitor.board.evidence import Group, groups, tally
from monitor.board.first_word import Word, first_word
from monitor.board.frame import Figure
from monitor.board.gaps import data_gaps
from monitor.board.gather import Desk, Known
from monitor.board.onramp_charts import onramp_charts
from monitor.board.session_view import SessionView
from monitor.board.strip import strip
from monitor.board.tables import checkin_rows, day_rows, decisions, hold_words
from monitor.board.words import clock, counted, day, gate_words, race_name, sentence, stage_words
from monitor.views.status import open_since, status_entry
from rules.findings import Finding
from rules.judgement.ordered import Ordered
from rules.limits import Limits
from rules.plan import Plan
from rules.today import Today, today_by


@dataclass(frozen=True, slots=True)
class PlanView:
    """One reverse taper: its pictures, its tables, and what was found in it."""

    name: str  # begins the names of its pictures and places on the page
    race: str
    figures: tuple[Figure, ...]
    rows: tuple[tuple[str, ...], ...]
    checkins: tuple[tuple[str, str], ...]
    decided: tuple[str, ...]
    gaps: tuple[str, ...]
    groups: tuple[Group, ...]
    tally: str
    views: dict[str, SessionView] = field(default_factory=dict)
    elsewhere: str = ""  # the file that tells the findings at length, where this page is brief


@dataclass(frozen=True, slots=True)
class AthleteView:
    id: str
    name: str
    word: Word
    where: str  # "day 20 of 32, test runs"
    stage: str
    day: int | None
    ends: str
    allowed: str
    last_file: str
    last_file_at: float
    held: tuple[str, ...]
    today: Today
    plan: PlanView | None
    asked: tuple[str, ...] = ()
    past: tuple[tuple[str, str], ...] = ()  # file, words


def athlete_view(
    known: Known, desk: Desk, now: datetime, news_days: float, limits: Limits, *, elsewhere: str = ""
) -> AthleteView:
    """All but the session views, which need the samples; `elsewhere` is the file that tells the findings at length."""
    athlete, plan = known.athlete.athlete, known.made.judgement.current
    entry = status_entry(known.made, known.standing, desk.marks, now)
    today = today_by(known.made.judgement, known.facts, now, limits)
    last = known.made.history.last_file_at
    return AthleteView(
        id=athlete.id,
        name=athlete.name or athlete.id,
        word=first_word(known, desk.marks, now, news_days),
        where=_where(plan, entry),
        stage=entry["stage"] or "",
        day=entry["day"],
        ends=day(plan.last_date) if plan else "",
        allowed=_allowed(today, plan),
        last_file=clock(last, athlete.zone) if last else "no file yet",
        last_file_at=last.timestamp() if last else 0.0,
        held=(*(_gate(gate) for gate in entry["gates"]), *_holds(plan, athlete.local_date(now))),
        today=today,
        plan=plan_view(athlete.id, known, plan, shown(known), desk, now, limits, elsewhere=elsewhere) if plan else None,
        asked=questions(known, desk.marks, now, limits),
    )


def shown(known: Known) -> list[Finding]:
    """Findings of the plan on the board, newest first."""
    since = open_since(known.made) or date.min
    return [each for each in known.standing if each.date >= since]


def plan_view(
    name: str,
    known: Known,
    plan: Plan,
    found: Sequence[Finding],
    desk: Desk,
    now: datetime,
    limits: Limits,
    *,
    elsewhere: str = "",
) -> PlanView:
    """One plan of an athlete with the findings that belong to it, newest first."""
    athlete = known.athlete.athlete
    laid = sheet(plan, known.facts, athlete.local_date(now), limits)
    unreadable = desk.unreadable.get(athlete.id, ())
    thin = known.made.judgement.thin if plan is known.made.judgement.current else ()
    return PlanView(
        name=name,
        race=f"{race_name(plan.race)} on {day(plan.day0)}",
        figures=tuple(_figures(laid, known.facts, limits)),
        rows=day_rows(laid),
        checkins=checkin_rows(laid),
        decided=decisions(plan),
        gaps=tuple(sentence(text) for text in data_gaps(laid, thin, unreadable)),
        groups=tuple(groups(name, found, desk.marks, athlete.zone, limits, brief=bool(elsewhere))),
        tally=tally(found),
        elsewhere=elsewhere,
    )


def _figures(laid: Sheet, facts: Ordered, limits: Limits) -> list[Figure]:
    """The ribbon, and a picture of whatever has come in since the race: an empty one would say nothing."""
    days = laid.since_race()
    figures = [strip(laid)]
    if any(each.outings for each in days):
        figures += [minutes_chart(laid), heart_chart(laid, limits)]
    figures += onramp_charts(laid, facts, limits)
    if any(each.resting is not None for each in days):
        figures.append(resting_chart(laid, limits))
    if any(each.rmssd_ln is not None for each in days):
        figures.append(rmssd_chart(laid, limits))
    if any(each.asleep_min is not None for each in days):
        figures.append(sleep_chart(laid, limits))
    both = clocks(laid, facts, limits)
    if both.heart or both.impact:
        figures.append(clocks_chart(laid, both))
    return figures


def _where(plan: Plan | None, entry: dict[str, Any]) -> str:
    if plan is None:
        return "no plan"
    if entry["stage"] == "before":
        return f"{race_name(plan.race)} in {counted(-entry['day'], 'day')}" if entry["day"] < 0 else "race today"
    if entry["stage"] == "done":
        return f"done after {counted(plan.last_day, 'day')}"
    return f"day {entry['day']} of {plan.last_day}, {stage_words(entry['stage'])}"


def _allowed(today: Today, plan: Plan | None) -> str:
    """Today in one short line."""
    if plan is None or today.stage in (None, "before", "done"):
        return "no limit"
    if today.rest_until is not None:
        return f"walking and mobility only, until {today.rest_until:%a %H:%M}"
    time = f"{today.allowed_min} min" if today.allowed_min is not None else "no cap on time"
    heart = f"heart rate to {today.ceiling_bpm}" if today.ceiling_bpm else (today.effort or "no ceiling")
    run = {
        "none": "no running",
        "rest day": "a rest day from running",
        "tolerated": f"at most one run of {today.run_allowed_min} min",
        "test": f"a run of up to {today.run_allowed_min} min",
        "share": "running by the week's share",
    }.get(today.running, "running")
    return f"{time}, {heart}, {run}"


def _gate(gate: dict[str, Any]) -> str:
    return f"Before {gate_words(gate['before'])}: {'; '.join(gate['reasons'])}."


def _holds(plan: Plan | None, on: date) -> list[str]:
    """Holds with an end that are in force; one without an end keeps a gate shut and is told there."""
    holds = plan.holds if plan else ()
    released = [each for each in holds if each.kind == "release" and each.on <= on]
    return [
        hold_words(each)
        for each in holds
        if each.kind == "hold"
        and each.days
        and each.on <= on < each.on + timedelta(days=each.days)
        and not any(release.at > each.at for release in released)
    ]
