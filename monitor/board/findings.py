"""Findings as the board shows them: grouped by what broke the rules, with numbers, advice and who has seen them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any

from monitor import words
from monitor.plain_text import rule_place, sentence, spoken
from monitor.roster import RosterAthlete
from monitor.views.findings import NOT_NUMBERS, number_name, number_words, signal_words
from rules import catalogue
from rules.findings import Finding
from rules.limits import Limits
from rules.words import amounts, rendered, said

MOST_NUMBERS = 7


@dataclass(slots=True)  # made by the thousand, and freezing doubles what that takes
class Shown:
    """One finding in words."""

    id: str
    severity: str
    rule: str
    about: str
    summary: str
    numbers: tuple[tuple[str, str], ...]
    athlete_does: tuple[str, ...]
    coach_does: tuple[str, ...]
    seen: tuple[str, ...]
    sure: str  # how strong the evidence behind the rule is


@dataclass(slots=True)  # made by the thousand, and freezing doubles what that takes
class Group:
    """What happened once (a session, a morning) and all findings on it, the worst first."""

    title: str
    place: str
    source: str
    findings: tuple[Shown, ...]
    session: str | None  # its key, where there is one
    worst: str


def groups(
    found: Sequence[Finding], marks: Mapping[str, Sequence[dict[str, Any]]], athlete: RosterAthlete, limits: Limits
) -> list[Group]:
    """Findings (newest first) by subject."""
    made = []
    for _, some in groupby(found, key=lambda finding: (finding.date, finding.subject_kind, finding.subject)):
        together = sorted(some, key=lambda finding: (-finding.severity, rule_place(finding.rule)))
        first = together[0]
        made.append(
            Group(
                title=_title(first, athlete),
                place=_place(first),
                source=first.source or "",
                findings=tuple(_shown(finding, marks.get(finding.id, ()), athlete, limits) for finding in together),
                session=first.subject if first.subject_kind == "session" else None,
                worst=str(first.severity),
            )
        )
    return made


def _title(finding: Finding, athlete: RosterAthlete) -> str:
    if finding.subject_kind == "session" and finding.session_start is not None:
        return (
            f"{words.shared.when(finding, athlete.athlete.zone, athlete.clock)}, {spoken(finding.sport or 'session')}"
        )
    kinds = {
        "morning": "the morning",
        "checkin": words.board.CHECK_IN,
        "silence": "no files",
        "week": "the week",
        "day": "",
    }
    return ", ".join(part for part in (amounts.weekday(finding.date), kinds.get(finding.subject_kind, "")) if part)


def _place(finding: Finding) -> str:
    stage = words.shared.stage_words(finding.stage)
    return stage if finding.stage == "before" else f"day {finding.day}, {stage}"


def _shown(finding: Finding, marks: Sequence[dict[str, Any]], athlete: RosterAthlete, limits: Limits) -> Shown:
    return Shown(
        id=finding.id,
        severity=str(finding.severity),
        rule=finding.rule,
        about=spoken(finding.rule),
        summary=sentence(said(finding.summary)),
        numbers=tuple((name, text) for name, text in _numbers(finding, athlete.units) if text),
        athlete_does=finding.advice or catalogue.advice_of(finding, limits, coached=athlete.athlete.coached),
        coach_does=catalogue.advice_of(finding, limits, "coach") if athlete.athlete.coached else (),
        seen=tuple(_seen(mark, athlete) for mark in marks),
        sure=catalogue.rule(finding.rule).evidence,
    )


def _seen(mark: dict[str, Any], athlete: RosterAthlete) -> str:
    at: datetime = mark["at"]
    note = f": {mark['note']}" if mark["note"] else ""
    return f"{mark['by']}, {words.shared.day_and_time(at, athlete.athlete.zone, athlete.clock)}{note}"


def _masked(evidence: dict[str, Any]) -> str:
    seconds = evidence.get("masked_s")
    if not isinstance(seconds, int | float) or seconds <= 0:
        return ""
    why = evidence.get("masked_why") or {}
    reasons = ", ".join(f"{name} {amounts.duration(spent)}" for name, spent in why.items())
    return words.board.NOT_BELIEVED.format(seconds=amounts.duration(seconds)) + (f" ({reasons})" if reasons else "")


def _numbers(finding: Finding, units: str) -> list[tuple[str, str]]:
    """How far off, the evidence's own numbers, what was left out and what was assumed."""
    evidence = rendered(finding.evidence)
    own = [
        (number_name(key), number_words(key, value, units)) for key, value in evidence.items() if key not in NOT_NUMBERS
    ]
    return [
        (words.board.AGAINST_LIMIT, words.shared.against(finding) or ""),
        *[(name, said) for name, said in own if said][:MOST_NUMBERS],
        ("ceiling", str(evidence.get("reason") or "")),
        ("not believed", _masked(evidence)),
        ("signals", "; ".join(signal_words(evidence))),
        ("assumed", "; ".join(evidence.get("assumed") or ())),
    ]


def tally(found: Sequence[Finding]) -> str:
    """ "5 stops, 6 cautions, 5 notes"."""
    counts = Counter(finding.severity for finding in found)
    return ", ".join(amounts.counted(counts[severity], str(severity)) for severity in sorted(counts, reverse=True))
