"""A reverse taper looked back on: days planned and taken, sessions, findings, mornings."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from rules.findings import Finding
from rules.judge import Judgement
from rules.plan import Plan

BODY_RULES = frozenset({"resting_hr_up", "hrv_down", "short_sleep", "stairs_test", "pain", "see_a_doctor"})


@dataclass(frozen=True, slots=True)
class Summary:
    """What became of one plan, in figures and sentences."""

    days_planned: int
    days_taken: int
    held_days: int
    findings: dict[str, int]  # severity -> number
    sessions_found: int  # sessions with any finding of caution or stop
    mornings_found: int  # findings of mornings, nights and check-ins
    sentences: tuple[str, ...]


def summary(judgement: Judgement, plan: Plan) -> Summary:
    """Of one plan among those judged."""
    inside = [each for each in judgement.findings if plan.day0 <= each.date <= plan.last_date]
    counts = Counter(str(each.severity) for each in inside)
    sessions = {each.subject for each in inside if each.subject_kind == "session" and each.severity > 1}
    body = [each for each in inside if each.rule in BODY_RULES]
    held = plan.last_day - plan.length_days
    return Summary(
        days_planned=plan.length_days,
        days_taken=plan.last_day,
        held_days=held,
        findings={word: counts.get(word, 0) for word in ("note", "caution", "stop")},
        sessions_found=len(sessions),
        mornings_found=len(body),
        sentences=tuple(_sentences(plan, held, counts, len(sessions), body)),
    )


def _sentences(plan: Plan, held: int, counts: Counter[str], sessions: int, body: list[Finding]) -> list[str]:
    longer = f", {held} longer than planned" if held else ", as planned"
    said = [f"The reverse taper is done: {plan.last_day} days{longer}, from {plan.day0} to {plan.last_date}."]
    if held:
        reasons = dict.fromkeys(shut.by for gate in plan.gates for shut in gate.reasons)
        said.append(f"Held by: {', '.join(reasons) or 'the coach'}.")
    if counts:
        told = ", ".join(f"{counts[word]} {word}" for word in ("stop", "caution", "note") if counts[word])
        said.append(f"Findings: {told}, from {sessions} session{'s' * (sessions != 1)} that asked too much.")
    else:
        said.append("Not one finding.")
    said.append(f"Mornings, nights and check-ins: {_body(body)}.")
    return said


def _body(body: list[Finding]) -> str:
    if not body:
        return "nothing out of the ordinary"
    counts = Counter(each.rule for each in body)
    return ", ".join(f"{rule.replace('_', ' ')} {number} x" for rule, number in sorted(counts.items()))
