"""A reverse taper looked back on: days planned and taken, sessions, findings, mornings."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from rules.findings import Finding
from rules.judge import Judgement
from rules.judgement.history import PlanTotals
from rules.numbers import counted, duration, weekday
from rules.plan import Plan

BODY_WORDS = {
    "resting_hr_up": "resting heart rate up",
    "hrv_down": "heart-rate variability down",
    "short_sleep": "short sleep",
    "stairs_test": "stairs or squat not unaided",
    "pain": "pain",
    "see_a_doctor": "a symptom for a doctor",
}
HELD_WORDS = {
    "red flag": "a sign for a doctor",
    "check-in": "a check-in",
    "morning": "resting heart rate",
    "stop": "rest after a stop",
    "coach": "waiting for a release after repeated stops",
    "hold": "a hold",
}


@dataclass(frozen=True, slots=True)
class PlanSummary:
    """What became of one plan, in figures and sentences."""

    days_planned: int
    days_taken: int
    held_days: int
    sessions: int
    findings: dict[str, int]  # severity -> number
    sessions_found: int  # sessions with any finding of caution or stop
    mornings_found: int  # findings of mornings, nights and check-ins
    sentences: tuple[str, ...]


def summary(judgement: Judgement, plan: Plan) -> PlanSummary:
    """Of one plan among those judged."""
    inside = [finding for finding in judgement.findings if plan.day0 <= finding.date <= plan.last_date]
    counts = Counter(str(each.severity) for each in inside)
    sessions = {each.subject for each in inside if each.subject_kind == "session" and each.severity > 1}
    body = [each for each in inside if each.rule in BODY_WORDS]
    held = plan.last_day - plan.length_days
    lived = judgement.totals_of(plan)
    return PlanSummary(
        days_planned=plan.length_days,
        days_taken=plan.last_day,
        held_days=held,
        sessions=lived.sessions if lived else 0,
        findings={word: counts.get(word, 0) for word in ("note", "caution", "stop")},
        sessions_found=len(sessions),
        mornings_found=len(body),
        sentences=tuple(_sentences(plan, held, lived, _findings(counts, len(sessions)), body)),
    )


def looked_back(judgement: Judgement, now: datetime) -> tuple[str, ...]:
    """The plan that is shown summed up once it is done; nothing before."""
    plan = judgement.current
    return summary(judgement, plan).sentences if plan is not None and plan.stage_at(now) == "done" else ()


def _sentences(plan: Plan, held: int, lived: PlanTotals | None, found: str, body: list[Finding]) -> list[str]:
    longer = f", {counted(held, 'day')} longer than planned" if held else ", as planned"
    days = counted(plan.last_day, "day")
    said = [f"The reverse taper is done: {days}{longer}, from {weekday(plan.day0)} to {weekday(plan.last_date)}."]
    if held:
        reasons = dict.fromkeys(shut.by for gate in plan.gates for shut in gate.reasons)
        said.append(f"What held it: {', '.join(HELD_WORDS[by] for by in reasons) or HELD_WORDS['hold']}.")
    if lived is not None:
        said.append(_sessions(lived))
    return [*said, found, *([] if lived is None else [_mornings(lived)]), f"The body said: {_body(body)}."]


def _sessions(lived: PlanTotals) -> str:
    if not lived.sessions:
        return "No session was recorded."
    runs = f"{lived.runs} of them with running" if lived.runs else "none with running"
    return f"{counted(lived.sessions, 'session')}, {duration(round(lived.hours * 60) * 60)} in all, {runs}."


def _findings(counts: Counter[str], sessions: int) -> str:
    if not counts:
        return "Not one finding."
    told = ", ".join(f"{counts[word]} {word}" for word in ("stop", "caution", "note") if counts[word])
    return f"Findings: {told}; {counted(sessions, 'session')} asked too much." if sessions else f"Findings: {told}."


def _mornings(lived: PlanTotals) -> str:
    """How the mornings went; resting heart rate at the end against what was usual before the race."""
    if not lived.mornings:
        return "No mornings were recorded."
    told = f"{counted(lived.mornings, 'morning')} recorded"
    if lived.resting_last is None:
        return f"{told}."
    usual = "" if lived.resting_usual is None else f", usual before the race {lived.resting_usual:.0f}"
    return f"{told}; resting heart rate at the end {lived.resting_last:.0f}{usual}."


def _body(body: list[Finding]) -> str:
    if not body:
        return "nothing out of the ordinary in mornings, nights and check-ins"
    counts = Counter(each.rule for each in body)
    return ", ".join(f"{BODY_WORDS[rule]} ({number} x)" for rule, number in sorted(counts.items()))
