"""What one reader is told: alerts on sessions, mornings or days, each with its findings, worst first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from monitor.alerts.news import News
from monitor.roster import Contact
from monitor.store import codec
from rules.findings import Finding, Severity

TELLING = (
    "see_a_doctor", "rest_hours", "no_speed_work", "no_running", "no_strength", "pain", "stairs_test", "duration_cap",
)  # fmt: skip
ItemKind = Literal["first", "update", "correction", "taken_back", "news", "text"]


@dataclass(frozen=True, slots=True)
class DayTold:
    """What a day allows, by `rules.day`, in the words of one contact; good for that day only."""

    on: date
    answer: str
    now: tuple[str, ...]  # what to do, in sentences
    why: tuple[tuple[str, str], ...] = ()  # id of the finding behind a reason, if any, and the reason
    ends: tuple[str, ...] = ()  # what ends it, where the clock alone does not


@dataclass(frozen=True, slots=True)
class Item:
    """One alert, before or after it was gathered with others. `about` tells which session or day it is about."""

    kind: ItemKind
    severity: Severity
    about: str
    findings: tuple[Finding, ...] = ()
    news: News | None = None  # of the kind "news"
    replaces: tuple[Finding, ...] = ()  # as they were told, where a correction puts them right
    day: DayTold | None = None  # the day on which it is to be read
    title: str = ""  # title and body only of the kind "text", which older versions queued and nothing reads back
    body: str = ""


def to_text(items: Iterable[Item]) -> str:
    return codec.to_text(tuple(items), tuple[Item, ...])


def from_text(text: str) -> tuple[Item, ...]:
    return codec.from_text(tuple[Item, ...], text)


def worst(items: Iterable[Item]) -> Severity:
    return max((item.severity for item in items), default=Severity.NOTE)


def finding_ids(items: Iterable[Item]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(finding.id for item in items for finding in item.findings))


def as_told(finding: Finding, contact: Contact) -> Finding:
    """The finding at the severity it has for this contact: silence is a note to the athlete."""
    if finding.rule == "gone_quiet":
        return replace(finding, severity=Severity.NOTE if contact.role == "athlete" else Severity.CAUTION)
    return finding


def item(kind: ItemKind, about: str, findings: Iterable[Finding], replaces: Iterable[Finding] = ()) -> Item:
    """Findings of one session or day as one alert."""
    ordered = tuple(sorted(findings, key=_weight))
    severity = Severity.NOTE if kind == "taken_back" else ordered[0].severity  # good news can wait for the morning
    return Item(kind, severity, about, ordered, replaces=tuple(replaces))


def news_item(about: str, news: News, severity: Severity) -> Item:
    """News under its key, by which it is found again."""
    return Item("news", severity, about, news=news)


def news_keys(items: Iterable[Item]) -> tuple[str, ...]:
    """Keys of what is told a single time."""
    return tuple(dict.fromkeys(item.about for item in items if item.kind in ("news", "text")))


def _weight(finding: Finding) -> tuple[int, int, str, str]:
    """Worst first; of equal ones what says most about the session."""
    place = TELLING.index(finding.rule) if finding.rule in TELLING else len(TELLING)
    return (-finding.severity, place, finding.rule, finding.id)


def by_subject(findings: Iterable[Finding]) -> dict[str, list[Finding]]:
    """Findings by what they are about, worst first; a total of a day or week goes with the last session of that day."""
    groups: dict[str, list[Finding]] = defaultdict(list)
    last_session: dict[object, str] = {}
    ordered = sorted(findings, key=lambda one: (one.subject_kind != "session", one.subject_start, one.id))
    for one in ordered:
        about = about_words(one)
        if one.subject_kind == "session":
            last_session[one.date] = about
        elif one.subject_kind in ("day", "week"):
            about = last_session.get(one.date, about)
        groups[about].append(one)
    return dict(sorted(groups.items(), key=lambda pair: -max(one.severity for one in pair[1])))


def about_words(finding: Finding) -> str:
    """The identity of a subject: one session, or the day on which something was said or measured."""
    if finding.subject_kind == "session":
        return f"session {(finding.session_start or finding.subject_start).isoformat()}"
    if finding.subject_kind in ("morning", "checkin"):
        return f"body {finding.date}"
    return f"{finding.subject_kind} {finding.subject}"
