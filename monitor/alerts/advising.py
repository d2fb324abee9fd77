"""Which advice one reader gets: the athlete's or the coach's, of today or of a day that is over."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from monitor.alerts.readers import Reader
from monitor.alerts.words import sentence
from rules.advice import cautions, gravest_class, what_now, what_then
from rules.day.words import CLASS_ANSWERS
from rules.findings import Finding, Severity
from rules.judgement.finding import OF_RUNNING
from rules.limits import default_limits

MOST_SENTENCES = 4
BY_PHONE = {"before_sport": "phone today"}


def advice(findings: Sequence[Finding], reader: Reader, today: date) -> tuple[str, ...]:
    """Whole sentences, each once, the gravest finding's first."""
    running = [one for one in findings if one.rule in OF_RUNNING]
    apart = [one for one in findings if one not in running[1:]]  # one piece of advice on running is enough
    said = [words for one in apart for words in _of_one(one, reader, today)]
    return tuple(dict.fromkeys(sentence(words) for words in said))[:MOST_SENTENCES]


def _of_one(finding: Finding, reader: Reader, today: date) -> tuple[str, ...]:
    if finding.rule == "gone_quiet" and finding.evidence.get("ever") is False:
        return what_then("never_came", reader.role, coached=reader.coached)
    if finding.date < today and (past := what_then(finding.rule, reader.role, coached=reader.coached)):
        return past
    about = gravest_class(finding.evidence)
    return what_now(
        finding.rule, finding.severity, finding.stage, default_limits(), reader.role,
        about=about, coached=reader.coached,
    ) or finding.advice  # fmt: skip


def first_call(finding: Finding, reader: Reader) -> str:
    """What a title says before what it is about, where somebody must act at once."""
    about = gravest_class(finding.evidence)
    return f"{call_of(about, reader)}: " if about else ""


def call_of(about: str, reader: Reader) -> str:
    """What to do at once about a red flag of a class, in a few words."""
    return CLASS_ANSWERS[about] if reader.role == "athlete" else BY_PHONE.get(about, "phone now")


def usual_cautions(severity: Severity, reader: Reader) -> tuple[str, ...]:
    """The cautions below advice to an athlete; a coach knows them."""
    return cautions(severity, coached=reader.coached) if reader.role == "athlete" else ()
