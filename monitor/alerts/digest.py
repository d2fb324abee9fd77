"""A coach's morning in one message: who needs a word first and why, who has not synced, what begins."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from monitor import words
from monitor.alerts.readers import audience_of, call_of
from monitor.news import DigestRow, Reader
from monitor.plain_text import clean, in_passing
from rules import words as rule_words
from rules.day import Decision, decide
from rules.facts import History
from rules.findings import Finding, Severity
from rules.judge import Judgement
from rules.judgement.history import in_order
from rules.limits import Limits
from rules.numbers import weekday

# A coach's morning in one message: who needs a word first and why, who has not synced, what begins, who is fine.

# One athlete in a coach's morning: whether a word is needed, and why; silence; a stage that begins or waits.

MOST_TOLD = 60
NO_NEED = frozenset({"rest_hours", "time_used", "rest_day", "week_share", "tolerated_used"})
"""Reasons that are the plan's own and ask for no word."""


def digest_row(
    judgement: Judgement,
    history: History,
    unseen: Sequence[Finding],
    reader: Reader,
    now: datetime,
    limits: Limits,
) -> DigestRow | None:
    """None for an athlete in no active plan."""
    decision = decide(judgement, in_order(history, limits), now, limits)
    if not decision.active or decision.plan is None or decision.day is None or decision.stage is None:
        return None
    since = now - timedelta(hours=limits.alerts.digest_news_hours)  # older ones were told in an earlier morning
    fresh = [each for each in unseen if each.severity >= Severity.CAUTION and each.subject_end >= since]
    worst = max(fresh, key=lambda each: (each.severity, each.subject_end), default=None)
    row = decision.plan.planned_stage(decision.date)
    gate = next((each for each in decision.plan.gates if each.until is None and each.reasons), None)
    heard = history.last_file_at
    silent = heard is not None and now - heard >= timedelta(hours=limits.alerts.digest_silent_hours)
    grave = str(decision.flags[0].numbers["class"]) if decision.flags else ""
    return DigestRow(
        name=reader.called,
        day=decision.day,
        stage=decision.stage,
        answer=rule_words.day.CLASS_ANSWERS[grave]
        if grave
        else rule_words.day.answer(decision, audience_of(reader).clock),
        why=_why(decision, worst, reader),
        call=call_of(grave, reader) if grave else "",
        silent_since=decision.athlete.local_date(heard) if heard is not None and silent else None,
        never_came=heard is None,
        begins=decision.stage if row is not None and row.first_date == decision.date else "",
        waits=gate.before if gate is not None and gate.before != "done" else "",
        opens_with=gate.asks[0] if gate is not None and gate.asks else "",
    )


def _why(decision: Decision, worst: Finding | None, reader: Reader) -> str:
    """A sign for a doctor, else the gravest of the last days, else what keeps the athlete at rest."""
    if decision.flags:
        return f"“{clean(str(decision.flags[0].numbers['told']), MOST_TOLD)}”"
    if worst is not None and worst.rule != "gone_quiet":
        return f"{words.findings.happened(worst, reader).title} ({weekday(worst.date)})"
    ruling = decision.ruling
    if ruling is None or ruling.kind in NO_NEED:
        return ""
    return in_passing(rule_words.day.reason_words(ruling, audience_of(reader)))


def urgency(row: DigestRow) -> tuple[int, str]:
    """Order of a morning: calls, then other words, then silence, then the rest."""
    rank = 0 if row.call == "phone now" else 1 if row.call else 2 if row.why else 3 if row.silent_since else 4
    return rank, row.name
