"""What a calendar shows of an athlete's plan: the race, stages as spans, the days to come, gates and holds.

Values only: which days, in which words. The words of a day are those of the one decision (`rules.day`), those of a
stage are those of the plan.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal

from monitor import words
from monitor.judging import View
from monitor.plain_text import sentence
from monitor.views.plan import stage_lines, stage_view
from rules import words as rule_words
from rules.catalogue import cautions
from rules.day import Decision, decide, foresee
from rules.day.decision import Audience
from rules.facts import Hold
from rules.findings import Severity
from rules.judgement.history import in_order
from rules.limits import Limits
from rules.numbers import counted
from rules.plan import GateRecord, Plan
from rules.plan.build import ruling_on

ONE = timedelta(days=1)
Kind = Literal["race", "stage", "day", "gate", "hold", "release"]
BODILY = frozenset({"red flag", "check-in", "morning"})
"""What shuts a gate and tells of the body."""


@dataclass(frozen=True, slots=True)
class CalendarEntry:
    """One entry of all-day spans. `subject` says what it is about and stays the same wherever it moves."""

    kind: Kind
    subject: str
    first: date
    last: date  # inclusive
    title: str
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CalendarView:
    name: str
    about: str
    entries: tuple[CalendarEntry, ...]


def calendar_view(made: View, now: datetime, limits: Limits, *, body: bool) -> CalendarView:
    """The plans that are not over, and the one that is shown; `body` lets reasons in that tell of the body."""
    athlete = made.athlete.athlete
    today = athlete.local_date(now)
    plans = [plan for plan in made.judgement.plans if plan.last_date >= today or plan is made.judgement.current]
    entries: list[CalendarEntry] = []
    for plan in plans:
        entries += [_race(plan), *_stages(plan), *_gates(plan, today, body=body)]
    entries += _days(made, plans, now, limits, body=body)
    entries += _overrides(plans, today, body=body)
    *_, above = cautions(Severity.CAUTION, coached=athlete.coached)
    about = words.status.WAS_KNOWN.format(above=above)
    return CalendarView(words.status.WAY_BACK.format(name=athlete.name or athlete.id), about, tuple(entries))


def _race(plan: Plan) -> CalendarEntry:
    return CalendarEntry("race", f"{plan.day0}", plan.day0, plan.day0, _capital(words.shared.race_name(plan.race)))


def _stages(plan: Plan) -> Iterator[CalendarEntry]:
    shut = any(gate.until is None for gate in plan.gates)
    for stage in plan.stages:
        ahead = shut and stage.first_date > plan.as_of
        title = _capital(words.shared.stage_words(stage.stage)) + (words.status.EARLIEST if ahead else "")
        days = words.status.DAYS_TO.format(first_day=stage.first_day, last_day=stage.last_day, length=plan.last_day)
        held = (
            [words.status.LONGER_THAN_PLANNED.format(held_days=counted(stage.held_days, "day"))]
            if stage.held_days
            else []
        )
        rows = [sentence(f"{label}: {text}") for label, text in stage_lines(stage_view(stage), beats=False)]
        subject = f"{plan.day0}/{stage.stage}"
        yield CalendarEntry("stage", subject, stage.first_date, stage.last_date, title, (days, *held, *rows))


def _days(made: View, plans: Sequence[Plan], now: datetime, limits: Limits, *, body: bool) -> Iterator[CalendarEntry]:
    """From today on; what was, the plan and the findings tell."""
    athlete, facts = made.athlete.athlete, in_order(made.history, limits)
    today = athlete.local_date(now)
    audience = Audience("athlete", athlete.coached, words.shared.short_moment(made.athlete.clock), body)
    decision = decide(made.judgement, facts, now, limits)
    waits = any(reason.until is None for reason in decision.reasons)
    if decision.active:
        yield _day(decision, rule_words.day.answer(decision, audience.clock, body=body), audience)
    last = max((plan.last_date for plan in plans), default=today)
    on = max(today, min((plan.day0 for plan in plans), default=today)) + ONE
    while on <= last:
        if ruling_on(plans, on) is not None:
            coming = foresee(made.judgement, facts, on, limits)
            yield _day(coming, _coming(coming, audience, waits=waits), audience)
        on += ONE


def _coming(decision: Decision, audience: Audience, *, waits: bool) -> str:
    """A day to come in one phrase. `waits`: what keeps the athlete from sport today is ended by an answer, by no clock.

    Which of two following days is run on is not known yet.
    """
    said = rule_words.day.answer(decision, audience.clock, body=audience.body)
    if decision.runs and decision.allowance is not None and decision.allowance.rest_day_between_runs:
        said += words.status.UNLESS_YOU_RAN_DAY
    return words.status.IF_NOTHING_HOLDS.format(said=said) if waits else said


def _day(decision: Decision, said: str, audience: Audience) -> CalendarEntry:
    text = [word for word in rule_words.day.now_words(decision, audience) if word.rstrip(".").lower() != said.lower()]
    lines = (*text, *rule_words.today.stage_has(decision, body=audience.body))
    return CalendarEntry(
        "day", decision.date.isoformat(), decision.date, decision.date, f"Day {decision.day}: {said}", lines
    )


def _gates(plan: Plan, today: date, *, body: bool) -> Iterator[CalendarEntry]:
    for gate in plan.gates:
        last = gate.until - ONE if gate.until else max(today, gate.since)
        reasons = [shut for shut in gate.reasons if body or shut.by not in BODILY]
        lines = [sentence(shut.reason) for shut in reasons]
        if gate.until is None:
            lines += [sentence(words.status.WHAT_OPENS.format(asks=shut.asks)) for shut in reasons]
            lines += _elsewhere(gate, len(reasons))
        title = _capital(words.shared.wait_words(gate.before))
        yield CalendarEntry("gate", f"{plan.day0}/{gate.before}", gate.since, last, title, tuple(dict.fromkeys(lines)))


def _elsewhere(gate: GateRecord, told: int) -> list[str]:
    return [] if told == len(gate.reasons) else [words.status.WHY_WHAT_OPENS]


def _overrides(plans: Sequence[Plan], today: date, *, body: bool) -> Iterator[CalendarEntry]:
    """Holds as long as they hold, releases on their day. The reason is the coach's own words, mostly about the body."""
    given = list(dict.fromkeys(hold for plan in plans for hold in plan.holds))
    releases = [each for each in given if each.kind == "release"]
    times: Counter[tuple[str, datetime]] = Counter()
    for each in given:
        times[each.kind, each.at] += 1
        again = times[each.kind, each.at]
        by = f" by {each.by}" if each.by else ""
        lines = (sentence(each.why),) if body and each.why else ()
        subject = each.at.isoformat() if again == 1 else f"{each.at.isoformat()}/{again}"
        if each.kind == "release":
            yield CalendarEntry("release", subject, each.on, each.on, f"Released{by}", lines)
            continue
        how_long = counted(each.days, "day") if each.days else "until released"
        yield CalendarEntry("hold", subject, each.on, _held_to(each, releases, today), f"Held{by}, {how_long}", lines)


def _held_to(hold: Hold, releases: Sequence[Hold], today: date) -> date:
    ends = [release.on for release in releases if release.at > hold.at and release.on >= hold.on]
    last = hold.on + timedelta(days=hold.days - 1) if hold.days else max(today, hold.on)
    return min([last, *ends])


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
