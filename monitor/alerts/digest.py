"""A coach's morning in one message: who needs a word first and why, who has not synced, what begins."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from monitor import words
from monitor.alerts.finding_words import happened
from monitor.alerts.news import DigestRow, MorningDigest
from monitor.alerts.readers import Reader, call_of
from monitor.plain_text import capital, clean, in_passing
from rules import words as rule_words
from rules.day import Decision, decide
from rules.facts import History
from rules.findings import Finding, Severity
from rules.judge import Judgement
from rules.judgement.history import in_order
from rules.limits import Limits
from rules.numbers import weekday

# A coach's morning in one message: who needs a word first and why, who has not synced, what begins, who is fine.

MOST_LETTERS = 1400
NAMED = 3
"""Names in a title."""


def digest_words(news: MorningDigest, url: str = "") -> tuple[str, str]:
    """Title and text; where there are pages, `url` stands below it and no command in it."""
    text = [row for row in news.rows if row.why]
    silent = [row for row in news.rows if not row.why and (row.silent_since or row.never_came)]
    fine = [row for row in news.rows if row not in text and row not in silent]
    lines = [_first(text, silent), *_numbered(text)]
    told = [*_silent(silent), *_stages(news.rows), *_fine(fine)]
    room = MOST_LETTERS - sum(len(line) + 1 for line in (lines[0], *told))
    shown = [lines[0]]
    for line in lines[1:]:
        room -= len(line) + 1
        if room < 0:
            break
        shown.append(line)
    left = len(lines) - len(shown)
    where = "" if url else ": fallow status"
    pointer = [f"And {left} more{where}"] if left else []
    return _title(text, silent, news.rows), "\n".join([*shown, *pointer, *told])


def _title(text: Sequence[DigestRow], silent: Sequence[DigestRow], rows: Sequence[DigestRow]) -> str:
    of = f"{len(text)} of {len(rows)}"
    if text:
        return f"{of} need{'s' if len(text) == 1 else ''} a word: {_names(text, NAMED)}"
    if silent:
        return f"No word needed; nothing new from {_names(silent, NAMED)}"
    return f"All {len(rows)} are fine today" if len(rows) > 1 else f"{rows[0].name} is fine today"


def _first(text: Sequence[DigestRow], silent: Sequence[DigestRow]) -> str:
    """What to do now."""
    if text:
        call = capital(text[0].call or "a word first")
        return f"{call}: {text[0].name}, {text[0].why}."
    if silent:
        return f"Ask {_names(silent, NAMED)} to sync; nobody else needs a word."
    return "Nothing to do: nobody needs a word."


def _numbered(text: Sequence[DigestRow]) -> list[str]:
    """The first of them with what the day allows, since why stands above already."""
    told = []
    for index, row in enumerate(text, start=1):
        why = f" {capital(f'{row.call}: {row.why}' if row.call else row.why)}." if index > 1 else ""
        told.append(f"{index}. {row.name}, day {row.day}: {row.answer}.{why}")
    return told


def _silent(rows: Sequence[DigestRow]) -> list[str]:
    since = [
        f"{row.name} (nothing ever came)" if row.never_came or row.silent_since is None
        else f"{row.name} ({weekday(row.silent_since)})"
        for row in rows
    ]  # fmt: skip
    return [f"No file since: {_list(since)}."] if since else []


def _stages(rows: Sequence[DigestRow]) -> list[str]:
    begins = [f"{row.name} {words.shared.stage_words(row.begins)}" for row in rows if row.begins]
    waits = [
        f"{row.name} {words.shared.stage_words(row.waits)}{f' ({row.opens_with})' if row.opens_with else ''}"
        for row in rows
        if row.waits
    ]
    return [
        *([f"Begins today: {_list(begins)}."] if begins else []),
        *([f"Waits: {_list(waits)}."] if waits else []),
    ]


def _fine(rows: Sequence[DigestRow]) -> list[str]:
    return [f"Fine: {_list([row.name for row in rows], 20)}."] if rows else []


def _names(rows: Sequence[DigestRow], most: int) -> str:
    return _list([row.name for row in rows], most)


def _list(text: Sequence[str], most: int = 8) -> str:
    more = f" and {len(text) - most} more" if len(text) > most else ""
    return ", ".join(text[:most]) + more


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
        answer=rule_words.day.CLASS_ANSWERS[grave] if grave else rule_words.day.answer(decision, reader.audience.clock),
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
        return f"{happened(worst, reader).title} ({weekday(worst.date)})"
    ruling = decision.ruling
    if ruling is None or ruling.kind in NO_NEED:
        return ""
    return in_passing(rule_words.day.reason_words(ruling, reader.audience))


def urgency(row: DigestRow) -> tuple[int, str]:
    """Order of a morning: calls, then other words, then silence, then the rest."""
    rank = 0 if row.call == "phone now" else 1 if row.call else 2 if row.why else 3 if row.silent_since else 4
    return rank, row.name
