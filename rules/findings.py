"""Findings: one rule broken by one session, day, morning, check-in or silence.

A rule yields a `Breach`; the judge turns it into a `Finding` by adding the athlete, the stage and a stable id.
"""

from __future__ import annotations

import datetime as dt  # a field named date hides the type of that name
import hashlib
from dataclasses import dataclass, field
from datetime import datetime
from enum import IntEnum
from typing import Any, Literal

SubjectKind = Literal["session", "day", "week", "morning", "checkin", "silence"]


class Severity(IntEnum):
    NOTE = 1
    CAUTION = 2
    STOP = 3

    def __str__(self) -> str:
        return self._name_.lower()  # `name` is a property, and this is called for every finding shown

    @classmethod
    def of(cls, word: str) -> Severity:
        """Severity from its word; KeyError for any other."""
        return cls[word.upper()]


@dataclass(frozen=True, slots=True)
class Breach:
    """One rule broken, before it is known by whom.

    `evidence` is JSON-ready: numbers with their unit in the key, `times` as [[from_s, to_s], ...] within the session,
    `masked_s`, `assumed` (list of sentences on estimates used).
    """

    rule: str
    severity: Severity
    summary: str  # one plain sentence with the numbers against the limit
    observed: float | None = None
    limit: float | None = None
    unit: str = ""
    evidence: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Finding:
    """A breach with its place in the plan. `subject` is the identity in time of what broke the rule."""

    id: str
    athlete: str
    rule: str
    severity: Severity
    stage: str
    day: int
    date: dt.date
    subject_kind: SubjectKind
    subject: str
    subject_start: datetime
    subject_end: datetime
    session_start: datetime | None
    session_end: datetime | None
    sport: str | None
    source: str | None
    observed: float | None
    limit: float | None
    unit: str
    summary: str
    evidence: dict[str, Any]
    advice: tuple[str, ...] = ()


def finding_id(athlete: str, rule: str, subject_kind: str, subject: str) -> str:
    """Ten hex digits, the same for the same athlete, rule and subject whatever file brought it and when."""
    text = "\x1f".join((athlete, rule, subject_kind, subject))
    return hashlib.sha256(text.encode()).hexdigest()[:10]
