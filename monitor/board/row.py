"""One athlete in a line of the board: who, how urgent and why, what to do, where they stand, how the weeks went."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from markupsafe import Markup

from monitor.board.gather import Desk, Known
from monitor.board.small_weeks import small_weeks
from monitor.views.first_word import Word, first_word
from monitor.views.standing import body_words, next_words, quiet_words, where_words
from monitor.views.words import day, race_name, short_moment
from rules.day import Decision, answer, decide
from rules.judgement.of_days import plan_checkins
from rules.limits import Limits


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


def row(known: Known, desk: Desk, now: datetime, news_days: float, limits: Limits) -> Row:
    """What the board shows of one athlete."""
    athlete, plan = known.athlete.athlete, known.made.judgement.current
    on = athlete.local_date(now)
    decision = decide(known.made.judgement, known.facts, now, limits)
    last = known.made.history.last_file_at
    return Row(
        id=athlete.id,
        name=athlete.name or athlete.id,
        word=first_word(known.made, known.standing, decision, desk.answers, now, news_days, limits),
        where=where_words(plan, now),
        stage=plan.stage_at(now) if plan else "",
        day=plan.day_of(on) if plan else None,
        allowed=answer(decision, short_moment(known.athlete.clock)),
        race=f"{race_name(plan.race)}, {day(plan.day0)}" if plan else "no race",
        next=next_words(plan, now),
        body=body_words(plan_checkins(known.facts, plan) if plan else {}, on),
        quiet=quiet_words(last, now, athlete.zone),
        last_file_at=last.timestamp() if last else 0.0,
        weeks=small_weeks(known.facts, on, _race_day(known, on), limits),
        decision=decision,
    )


def _race_day(known: Known, on: date) -> date | None:
    plan = known.made.judgement.current
    return plan.day0 if plan is not None and plan.day0 <= on + timedelta(days=1) else None
