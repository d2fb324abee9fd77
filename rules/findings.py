"""Findings: one rule broken by one session, day, morning, check-in or silence.

A rule yields a `Breach`; the judge turns it into a `Finding` by adding the athlete, the stage and a stable id.
"""

from __future__ import annotations

import datetime as dt  # a field named date hides the type of that name
import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import IntEnum
from numbers import Integral, Real
from typing import Any, Literal

SubjectKind = Literal["session", "day", "week", "morning", "checkin", "silence"]


# What is said of a finding, before it is words: a key with values, JSON-ready. `rules.words.said` makes the sentence
# where it is shown; the store never holds one, but where an older version kept text.

Statement = dict[str, Any]
Said = Statement | str
STATEMENT = "statement"
"""Under it stands the key, by which `rules.words.en.findings` has the sentence; keys stay, for stores hold them."""


def say(key: str, **values: object) -> Statement:
    """A statement; a value is a number, a text from outside, a day, another statement, or a list of such."""
    return {STATEMENT: key, **{name: _plain(value) for name, value in values.items()}}


def _plain(value: object) -> object:
    """As JSON has it: no number of a library, no date."""
    if isinstance(value, bool | str | dict | list) or value is None:
        return value
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Integral):
        return int(value)
    return float(value) if isinstance(value, Real) else value


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
    `masked_s`, `assumed` (list of statements on estimates used).
    """

    rule: str
    severity: Severity
    summary: Said  # one plain sentence with the numbers against the limit
    observed: float | None = None
    limit: float | None = None
    unit: Said = ""
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
    unit: Said
    summary: Said
    evidence: dict[str, Any]
    advice: tuple[str, ...] = field(default=(), compare=False)  # in words, as older versions kept it


def finding_id(athlete: str, rule: str, subject_kind: str, subject: str) -> str:
    """Ten hex digits, the same for the same athlete, rule and subject whatever file brought it and when."""
    text = "\x1f".join((athlete, rule, subject_kind, subject))
    return hashlib.sha256(text.encode()).hexdigest()[:10]


# What the signals of a session say of one question, and how grave a finding they can carry. A signal (speed,
# positions, altitude, cadence, heart rate, laps, timer, label, running dynamics) has a quality that was measured on
# the recording itself, never assumed from the device: `good` weighs two, `weak` one, `none` is not heard. What speaks
# against is taken from what speaks for. A finding is as grave as what is left: - a `stop` from two: one good signal
# is clear, or two weaker ones agree, - a `caution`, put as a question, at one: a single weak signal; and where good
# signals contradict each other, - nothing where a good signal contradicts weak ones, or nothing is left.

RUNNING_SIGNALS = "running_signals"
"""Note of a digest: what each signal says to the question whether this was running, in the form of `shown`."""

GOOD, WEAK = 2, 1
Quality = Literal["good", "weak", "none"]
Says = Literal["for", "against", "nothing"]


@dataclass(frozen=True, slots=True)
class Signal:
    """One signal on one question. `why` is a clause with its numbers: "164 steps a minute for 20 min"."""

    name: str
    quality: Quality
    says: Says
    why: Said = ""

    def shown(self) -> dict[str, Any]:
        """JSON-ready, for the evidence of a finding."""
        return {"signal": self.name, "quality": self.quality, "says": self.says, "why": self.why}


def severity_of(heard: Iterable[Signal]) -> Severity | None:
    """The gravest finding that these signals carry; None where they carry none."""
    kept = {
        (signal.name, signal.quality, signal.says)
        for signal in heard
        if signal.quality != "none" and signal.says != "nothing"
    }
    good = {says for _, quality, says in kept if quality == "good"}
    if good == {"for", "against"}:
        return Severity.CAUTION
    if good == {"against"}:
        return None
    weighs = sum((GOOD if quality == "good" else WEAK) * (1 if says == "for" else -1) for _, quality, says in kept)
    if weighs >= GOOD:
        return Severity.STOP
    return Severity.CAUTION if weighs == WEAK else None


def shown(heard: Iterable[Signal]) -> list[dict[str, Any]]:
    """All of them for `evidence["signals"]`, those that speak first."""
    order = {"for": 0, "against": 1, "nothing": 2}
    return [one.shown() for one in sorted(heard, key=lambda signal: order[signal.says])]


def signals_from_store(told: Sequence[Any]) -> tuple[Signal, ...]:
    """From the stored form of `shown`; what is not of that shape is left out."""
    found = []
    for entry in told:
        if isinstance(entry, dict) and entry.get("quality") in ("good", "weak", "none"):
            says: Says = entry["says"] if entry.get("says") in ("for", "against") else "nothing"
            found.append(Signal(str(entry.get("signal", "")), entry["quality"], says, entry.get("why", "")))
    return tuple(found)
