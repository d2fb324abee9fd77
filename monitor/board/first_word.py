"""Who needs a word first, and why, in one sentence."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from monitor.board.gather import Known
from monitor.board.words import clock, counted, day, gate_words, number, rule_place, spoken
from monitor.views.status import open_since
from rules.findings import Finding, Severity

NEEDS = ("a word now", "a word soon", "in good time", "nothing open")
LASTING = frozenset({"gone_quiet"})
"""Rules whose findings stand only as long as what they tell of lasts."""
OF_THE_COACH = frozenset({"coach", "hold"})


@dataclass(frozen=True, slots=True)
class Word:
    """`rank` orders the roster, the least first; `need` names its group; `severity` is that of what `why` tells of."""

    rank: tuple[int, float]
    need: str
    why: str
    severity: str
    unseen: int


def first_word(known: Known, seen: Collection[str], now: datetime, news_days: float) -> Word:
    """The one thing to talk about, worst and newest first; what is older than news steps back."""
    unseen = open_findings(known, seen)
    news = now - timedelta(days=news_days)
    fresh = [each for each in unseen if each.subject_end >= news or each.rule in LASTING]
    on = known.athlete.athlete.local_date(now)
    if not fresh and _done(known, now):
        return Word((98, 0.0), NEEDS[3], _looked_back(known, len(unseen)), "", len(unseen))
    for step, (need, found) in enumerate(_steps(known, fresh, unseen, on)):
        if found is None:
            continue
        if isinstance(found, Finding):
            rank = (step, -found.subject_end.timestamp())
            return Word(rank, need, _sentence(found, len(unseen)), str(found.severity), len(unseen))
        return Word((step, 0.0), need, found, "", len(unseen))
    return Word((99, 0.0), NEEDS[3], _calm(known, now), "", len(unseen))


def open_findings(known: Known, seen: Collection[str]) -> list[Finding]:
    """Findings of the plan that is shown which nobody has marked as seen, newest first."""
    since = open_since(known.made)
    return [each for each in known.standing if each.id not in seen and (since is None or each.date >= since)]


def _steps(
    known: Known, fresh: list[Finding], unseen: list[Finding], on: date
) -> list[tuple[str, Finding | str | None]]:
    """What may need a word, in the order in which it is looked for."""
    return [
        (NEEDS[0], _worst([each for each in fresh if each.rule == "see_a_doctor" and each.severity == Severity.STOP])),
        (NEEDS[0], _worst([each for each in fresh if each.severity == Severity.STOP])),
        (NEEDS[0], _gate(known, on, OF_THE_COACH)),
        (NEEDS[1], _worst([each for each in fresh if each.severity == Severity.CAUTION])),
        (NEEDS[1], _gate(known, on, None)),
        (NEEDS[2], _worst([each for each in unseen if each.severity > Severity.NOTE])),
        (NEEDS[2], _worst(fresh)),
    ]


def _worst(found: list[Finding]) -> Finding | None:
    """The gravest, of those the newest, of those the first in the catalogue."""
    return max(found, key=lambda each: (each.severity, each.subject_end, -rule_place(each.rule)), default=None)


def _gate(known: Known, on: date, by: frozenset[str] | None) -> str | None:
    """A gate that is shut today, by the coach's own hand or (None) by anything."""
    plan = known.made.judgement.current
    if plan is None or not plan.day0 <= on <= plan.last_date:
        return None
    for gate in plan.gates:
        reasons = [shut for shut in gate.reasons if by is None or shut.by in by]
        if gate.until is None and reasons:
            return f"Before {gate_words(gate.before)}: {reasons[0].reason}. It asks for {reasons[0].asks}."
    return None


def _sentence(finding: Finding, unseen: int) -> str:
    more = f"; {counted(unseen - 1, 'more finding')} not marked as seen" if unseen > 1 else ""
    return f"{day(finding.date)}, {spoken(finding.rule)}: {finding.summary.rstrip('.')}{more}."


def _done(known: Known, now: datetime) -> bool:
    plan = known.made.judgement.current
    return plan is not None and plan.stage_at(now) == "done"


def _looked_back(known: Known, unseen: int) -> str:
    plan = known.made.judgement.current
    ended = f" since {day(plan.last_date)}" if plan else ""
    marks = f"; {counted(unseen, 'finding')} in it not marked as seen" if unseen else ""
    return f"The reverse taper is done{ended}{marks}."


def _calm(known: Known, now: datetime) -> str:
    """What there is to say of someone of whom nothing is open."""
    plan, athlete = known.made.judgement.current, known.athlete.athlete
    if plan is None:
        return "No race in the roster, so nothing is limited."
    past = [each for each in known.made.history.sessions if each.start <= now]
    last = max(past, key=lambda each: each.start, default=None)
    if last is None:
        return "Nothing has come in yet."
    told = f"{spoken(last.digest.sport)}, {number(last.timer_s / 60, 0)} min"
    return f"Nothing open. The last session: {clock(last.start, athlete.zone)}, {told}."
