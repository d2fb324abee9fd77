"""Everything the board shows of one athlete, ready for the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta

from monitor.board.asked import questions
from monitor.board.body_charts import clocks_chart, resting_chart, rmssd_chart, sleep_chart
from monitor.board.clocks import clocks
from monitor.board.days import Sheet, sheet
from monitor.board.effort_charts import heart_chart, minutes_chart
from monitor.board.evidence import Group, groups, tally
from monitor.board.frame import Figure
from monitor.board.gaps import data_gaps
from monitor.board.gather import Desk, Known
from monitor.board.onramp_charts import onramp_charts
from monitor.board.row import Row
from monitor.board.session_view import SessionView
from monitor.board.strip import strip
from monitor.board.tables import checkin_rows, day_rows, decisions, hold_words
from monitor.views.standing import open_since
from monitor.views.words import day, pace_words, race_name, sentence, short_moment, wait_words
from rules.day import Decision, audience_of, now_words
from rules.day.remarks import heart_rate_misleads
from rules.findings import Finding
from rules.judgement.ordered import Ordered
from rules.limits import Limits
from rules.plan import GateRecord, Plan
from rules.today import today_by


@dataclass(frozen=True, slots=True)
class PlanView:
    """One reverse taper: its pictures, its tables, and what was found in it."""

    race: str
    figures: tuple[Figure, ...]
    rows: tuple[tuple[str, ...], ...]
    checkins: tuple[tuple[str, str], ...]
    decided: tuple[str, ...]
    gaps: tuple[str, ...]
    groups: tuple[Group, ...]
    tally: str
    views: dict[str, SessionView] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class AthleteView:
    """The page of one athlete: what today allows, then why, then the rest."""

    row: Row
    ends: str
    now: tuple[str, ...]  # what today allows, why, what ends it
    easy: tuple[str, ...]  # how hard at most, and what fits the athlete
    mornings: tuple[str, ...]
    held: tuple[str, ...]
    plan: PlanView | None
    asked: tuple[str, ...] = ()
    past: tuple[tuple[str, str], ...] = ()  # file, words


def athlete_view(known: Known, row: Row, desk: Desk, now: datetime, limits: Limits) -> AthleteView:
    """All but the session views, which need the samples, and the plans that are over."""
    athlete, plan = known.athlete.athlete, known.made.judgement.current
    gates = [gate for gate in plan.gates if gate.until is None] if plan else []
    today = today_by(known.made.judgement, known.facts, now, limits)
    return AthleteView(
        row=row,
        ends=day(plan.last_date) if plan else "",
        now=said_now(known, row)[1:],
        easy=(*_easy(row.decision, known.athlete.units), *today.notes),
        mornings=today.mornings,
        held=(*(_gate(gate) for gate in gates), *_holds(plan, athlete.local_date(now))),
        plan=plan_view(known, plan, shown(known), desk, now, limits) if plan else None,
        asked=questions(known, desk.marks, now, limits),
    )


def said_now(known: Known, row: Row) -> tuple[str, ...]:
    """What today allows, why, and what ends it, in sentences."""
    audience = replace(audience_of(row.decision), clock=short_moment(known.athlete.clock))
    return now_words(row.decision, audience)


def _easy(decision: Decision, units: str) -> tuple[str, ...]:
    """How hard the sport of today may be at most; nothing where there is none."""
    allowed = decision.allowance
    if not decision.active or not decision.sport or allowed is None:
        return ()
    said = []
    if allowed.ceiling is not None and not heart_rate_misleads(decision.athlete):
        guess = ", by an estimated highest heart rate" if allowed.ceiling.estimated else ""
        said.append(f"Heart rate up to {allowed.ceiling.bpm} bpm{guess}.")
    elif allowed.ceiling_open:
        said.append("Heart rate is open.")
    if allowed.effort:
        said.append(sentence(allowed.effort))
    if decision.runs and decision.pace_s_per_km is not None:
        said.append(f"No faster than {pace_words(decision.pace_s_per_km, units)} on the level.")
    return tuple(said)


def shown(known: Known) -> list[Finding]:
    """Findings of the plan on the board, newest first."""
    since = open_since(known.made) or date.min
    return [each for each in known.standing if each.date >= since]


def plan_view(
    known: Known, plan: Plan, found: Sequence[Finding], desk: Desk, now: datetime, limits: Limits
) -> PlanView:
    """One plan of an athlete with the findings that belong to it, newest first."""
    athlete = known.athlete.athlete
    laid = sheet(plan, known.facts, athlete.local_date(now), limits)
    unreadable = desk.unreadable.get(athlete.id, ())
    thin = known.made.judgement.thin if plan is known.made.judgement.current else ()
    return PlanView(
        race=f"{race_name(plan.race)} on {day(plan.day0)}",
        figures=tuple(_figures(laid, known.facts, limits, known.athlete.units)),
        rows=day_rows(laid),
        checkins=checkin_rows(laid),
        decided=decisions(plan),
        gaps=tuple(sentence(text) for text in data_gaps(laid, thin, unreadable)),
        groups=tuple(groups(found, desk.marks, known.athlete, limits)),
        tally=tally(found),
    )


def _figures(laid: Sheet, facts: Ordered, limits: Limits, units: str) -> list[Figure]:
    """The ribbon, and a picture of whatever has come in since the race: an empty one would say nothing."""
    days = laid.since_race()
    figures = [strip(laid)]
    if any(each.outings for each in days):
        figures += [minutes_chart(laid), heart_chart(laid, limits)]
    figures += onramp_charts(laid, facts, limits, units)
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


def _gate(gate: GateRecord) -> str:
    reasons = "; ".join(shut.reason for shut in gate.reasons)
    asks = "; ".join(gate.asks)
    waits = sentence(f"{wait_words(gate.before)}: {reasons}")
    return f"{waits} What opens it: {asks}." if asks else waits


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
