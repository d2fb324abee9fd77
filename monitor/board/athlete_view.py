"""Everything the board shows of one athlete, ready for the page."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta

from markupsafe import Markup

from monitor import words
from monitor.board.board_data import BoardContext, KnownAthlete
from monitor.board.body_charts import clocks_chart, resting_chart, rmssd_chart, sleep_chart
from monitor.board.days import ChartDays, Day, sheet
from monitor.board.effort_charts import heart_chart, minutes_chart
from monitor.board.findings import Group, groups, tally
from monitor.board.plan_charts import onramp_charts, small_weeks, strip
from monitor.board.session_view import SessionView
from monitor.board.svg_chart import Figure
from monitor.board.tables import checkin_rows, day_rows, decisions, hold_words
from monitor.board.two_clocks import clocks
from monitor.plain_text import sentence, spoken
from monitor.views.plan import looks_like_races, question_words
from monitor.views.triage import Word, body_words, first_word, next_words, open_since, quiet_words, where_words
from rules import words as rule_words
from rules.day import Decision, audience_of, decide
from rules.day.decision import heart_rate_misleads
from rules.facts import Race
from rules.findings import Finding, Statement
from rules.history import Ordered, plan_checkins
from rules.limits import Limits
from rules.plan import GateRecord, Plan
from rules.race_file import race_file
from rules.today import today_by
from rules.words import amounts

# Questions to who keeps the roster: conditions that a race file suggests, runs that look like a race.


def questions(known: KnownAthlete, seen: Collection[str], now: datetime, limits: Limits) -> tuple[str, ...]:
    """Sentences, empty where there is nothing to ask; what somebody has marked as seen is not asked again."""
    current, today = known.made.judgement.current, known.athlete.athlete.local_date(now)
    of_race = _of_race_file(known, current.race, limits) if current and today <= current.last_date else ()
    return (*of_race, *_looks_like_races(known, seen, now, limits))


def _of_race_file(known: KnownAthlete, race: Race, limits: Limits) -> tuple[str, ...]:
    file = race_file(known.made.history.sessions, race, limits)
    return rule_words.report.race_words(file, race) if file is not None and (file.suggestions or file.doubt) else ()


def _looks_like_races(known: KnownAthlete, seen: Collection[str], now: datetime, limits: Limits) -> tuple[str, ...]:
    if known.asked_about is None:
        return ()
    return tuple(sentence(question_words(asked)) for asked in looks_like_races(known.asked_about, seen, now, limits))


# Missing data is reported: an empty place on the board must not be taken for a good sign.

MOST_NAMED = 5


def data_gaps(sheet: ChartDays, thin: Sequence[Statement], unreadable: Sequence[tuple[str, str]]) -> list[str]:
    """Sentences on what could not be seen since the race."""
    days = sheet.since_race()
    said = [*map(rule_words.said, thin), *(f"assumed: {rule_words.said(text)}" for text in sheet.plan.estimated)]
    if days:
        said += _missing(days)
        said += _sessions(days)
    said += [words.board.UNREADABLE_FILE.format(path=path, reason=reason) for path, reason in unreadable[:MOST_NAMED]]
    if len(unreadable) > MOST_NAMED:
        said.append(words.board.MORE_UNREADABLE_FILES.format(more=len(unreadable) - MOST_NAMED))
    return said


def _missing(days: Sequence[Day]) -> list[str]:
    total = len(days)
    said = []
    empty = [day for day in days if _empty(day)]
    if empty:
        said.append(words.board.DAYS_WITHOUT_ANYTHING.format(empty=_named(empty)))
    for what, missing in (
        (words.board.RESTING_HEART_RATE, [day for day in days if day.resting is None]),
        (words.board.HEART_RATE_VARIABILITY, [day for day in days if day.rmssd_ln is None]),
        ("sleep", [day for day in days if day.asleep_min is None]),
    ):
        if len(missing) == total:
            said.append(words.board.NONE_SINCE_RACE.format(what=what))
        elif missing:
            said.append(
                words.board.MISSING_DAYS.format(
                    what=what, missing=len(missing), total=amounts.counted(total, "day"), days=_named(missing)
                )
            )
    told = [day for day in days if day.checkin is not None]
    if not told:
        said.append(words.board.NO_CHECK_IN)
    else:
        said.append(
            words.board.CHECK_INS.format(
                days=len(told), total=amounts.counted(total, "day"), date=amounts.weekday(told[-1].date)
            )
        )
    return said


def _empty(each: Day) -> bool:
    said = (each.resting, each.rmssd_ln, each.asleep_min, each.checkin)
    return not each.outings and all(answer is None for answer in said)


def _named(days: Sequence[Day]) -> str:
    names = [amounts.weekday(day.date) for day in days[:MOST_NAMED]]
    more = f" and {amounts.counted(len(days) - MOST_NAMED, 'more day')}" if len(days) > MOST_NAMED else ""
    return ", ".join(names) + more


def _sessions(days: Sequence[Day]) -> list[str]:
    said = []
    for outing in (outing for day in days for outing in day.outings):
        digest, name = outing.session.digest, f"{spoken(outing.sport)} on {amounts.weekday(outing.on)}"
        if outing.heart is None:
            said.append(words.board.NO_HEART_RATE.format(name=name))
        elif digest.hr_masked_s >= 60:
            said.append(
                words.board.HEART_RATE_NOT_BELIEVED.format(name=name, hr_masked_s=amounts.duration(digest.hr_masked_s))
            )
        if outing.sport == "unknown":
            said.append(words.board.UNKNOWN_SPORT.format(name=name))
    return said


# One athlete in a line of the board: who, how urgent and why, what to do, where they stand, how the weeks went.


@dataclass(frozen=True, slots=True)
class Row:
    id: str
    name: str
    word: Word
    where: str  # "day 20 of 32, test runs"
    stage: str
    day: int | None
    allowed: str
    race: str
    next: str
    body: str
    quiet: str
    last_file_at: float
    weeks: Markup
    decision: Decision


def row(known: KnownAthlete, board_context: BoardContext, now: datetime, news_days: float, limits: Limits) -> Row:
    """What the board shows of one athlete."""
    athlete, plan = known.athlete.athlete, known.made.judgement.current
    on = athlete.local_date(now)
    decision = decide(known.made.judgement, known.facts, now, limits)
    last = known.made.history.last_file_at
    return Row(
        id=athlete.id,
        name=athlete.name or athlete.id,
        word=first_word(known.made, known.standing, decision, board_context.answers, now, news_days, limits),
        where=where_words(plan, now),
        stage=plan.stage_at(now) if plan else "",
        day=plan.day_of(on) if plan else None,
        allowed=rule_words.day.answer(decision, words.shared.short_moment(known.athlete.clock)),
        race=f"{words.shared.race_name(plan.race)}, {amounts.weekday(plan.day0)}" if plan else "no race",
        next=next_words(plan, now),
        body=body_words(plan_checkins(known.facts, plan) if plan else {}, on),
        quiet=quiet_words(last, now, athlete.zone),
        last_file_at=last.timestamp() if last else 0.0,
        weeks=small_weeks(known.facts, on, _race_day(known, on), limits),
        decision=decision,
    )


def _race_day(known: KnownAthlete, on: date) -> date | None:
    plan = known.made.judgement.current
    return plan.day0 if plan is not None and plan.day0 <= on + timedelta(days=1) else None


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


def athlete_view(
    known: KnownAthlete, row: Row, board_context: BoardContext, now: datetime, limits: Limits
) -> AthleteView:
    """All but the session views, which need the samples, and the plans that are over."""
    athlete, plan = known.athlete.athlete, known.made.judgement.current
    gates = [gate for gate in plan.gates if gate.until is None] if plan else []
    today = today_by(known.made.judgement, known.facts, now, limits, row.decision)
    return AthleteView(
        row=row,
        ends=amounts.weekday(plan.last_date) if plan else "",
        now=words_now(known, row)[1:],
        easy=(*_easy(row.decision, known.athlete.units), *today.notes),
        mornings=today.mornings,
        held=(*(_gate(gate) for gate in gates), *_holds(plan, athlete.local_date(now))),
        plan=plan_view(known, plan, shown(known), board_context, now, limits) if plan else None,
        asked=questions(known, board_context.marks, now, limits),
    )


def words_now(known: KnownAthlete, row: Row) -> tuple[str, ...]:
    """What today allows, why, and what ends it, in sentences."""
    audience = replace(audience_of(row.decision), clock=words.shared.short_moment(known.athlete.clock))
    return rule_words.day.now_words(row.decision, audience)


def _easy(decision: Decision, units: str) -> tuple[str, ...]:
    """How hard the sport of today may be at most; nothing where there is none."""
    allowed = decision.allowance
    if not decision.active or not decision.sport or allowed is None:
        return ()
    said = []
    if allowed.ceiling is not None and not heart_rate_misleads(decision.athlete):
        guess = words.board.BY_ESTIMATED_HR_MAX if allowed.ceiling.estimated else ""
        said.append(words.board.CEILING.format(bpm=allowed.ceiling.bpm, guess=guess))
    elif allowed.ceiling_open:
        said.append(words.board.HEART_RATE_IS_OPEN)
    if allowed.effort:
        said.append(sentence(allowed.effort))
    if decision.runs and decision.pace_s_per_km is not None:
        said.append(words.board.PACE_LIMIT.format(pace_s_per_km=words.shared.pace_words(decision.pace_s_per_km, units)))
    return tuple(said)


def shown(known: KnownAthlete) -> list[Finding]:
    """Findings of the plan on the board, newest first."""
    since = open_since(known.made) or date.min
    return [finding for finding in known.standing if finding.date >= since]


def plan_view(
    known: KnownAthlete,
    plan: Plan,
    found: Sequence[Finding],
    board_context: BoardContext,
    now: datetime,
    limits: Limits,
) -> PlanView:
    """One plan of an athlete with the findings that belong to it, newest first."""
    athlete = known.athlete.athlete
    laid = sheet(plan, known.facts, athlete.local_date(now), limits)
    unreadable = board_context.unreadable.get(athlete.id, ())
    thin = known.made.judgement.thin if plan is known.made.judgement.current else ()
    return PlanView(
        race=f"{words.shared.race_name(plan.race)} on {amounts.weekday(plan.day0)}",
        figures=tuple(_figures(laid, known.facts, limits, known.athlete.units)),
        rows=day_rows(laid),
        checkins=checkin_rows(laid),
        decided=decisions(plan),
        gaps=tuple(sentence(text) for text in data_gaps(laid, thin, unreadable)),
        groups=tuple(groups(found, board_context.marks, known.athlete, limits)),
        tally=tally(found),
    )


def _figures(laid: ChartDays, facts: Ordered, limits: Limits, units: str) -> list[Figure]:
    """The ribbon, and the charts for which there is any data since the race."""
    days = laid.since_race()
    figures = [strip(laid)]
    if any(day.outings for day in days):
        figures += [minutes_chart(laid), heart_chart(laid, limits)]
    figures += onramp_charts(laid, facts, limits, units)
    if any(day.resting is not None for day in days):
        figures.append(resting_chart(laid, limits))
    if any(day.rmssd_ln is not None for day in days):
        figures.append(rmssd_chart(laid, limits))
    if any(day.asleep_min is not None for day in days):
        figures.append(sleep_chart(laid, limits))
    both = clocks(laid, facts, limits)
    if both.heart or both.impact:
        figures.append(clocks_chart(laid, both))
    return figures


def _gate(gate: GateRecord) -> str:
    reasons = "; ".join(shut.reason for shut in gate.reasons)
    asks = "; ".join(gate.asks)
    waits = sentence(f"{words.shared.wait_words(gate.before)}: {reasons}")
    return words.board.WHAT_OPENS.format(waits=waits, asks=asks) if asks else waits


def _holds(plan: Plan | None, on: date) -> list[str]:
    """Holds with an end that are in force; one without an end keeps a gate shut and is told there."""
    holds = plan.holds if plan else ()
    released = [hold for hold in holds if hold.kind == "release" and hold.on <= on]
    return [
        hold_words(hold)
        for hold in holds
        if hold.kind == "hold"
        and hold.days
        and hold.on <= on < hold.on + timedelta(days=hold.days)
        and not any(release.at > hold.at for release in released)
    ]
