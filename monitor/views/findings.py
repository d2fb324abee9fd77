"""Findings, what led to one, and the catalogue of rules, in the shape of `--json`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

import duckdb

from monitor import words
from monitor.plain_text import local, minute_second, spoken
from monitor.roster import Roster, RosterAthlete
from monitor.store import findings, outbox, recordings
from monitor.views.status import outbox_row
from rules import catalogue
from rules.findings import Finding
from rules.limits import Limit, Limits, default_limits
from rules.words import rendered, said

# Which signals a finding was judged by, how good each was, and what it said.

SAYS = {"for": "says yes", "against": "says no", "nothing": "says nothing"}
QUALITY = {"good": "good", "weak": "weak", "none": "not heard"}


def signal_words(evidence: Mapping[str, Any]) -> list[str]:
    """ "speed: good, says yes: 3:32/km for 20 s", a signal each; empty where the evidence names none."""
    told = evidence.get("signals")
    named = [signal for signal in told if isinstance(signal, dict)] if isinstance(told, list) else []
    return [f"{signal.get('signal', '')}: {said_by(signal)}" for signal in named]


def said_by(one: Mapping[str, Any]) -> str:
    """The quality of one signal, what it says, and why."""
    quality, says = QUALITY.get(str(one.get("quality")), ""), SAYS.get(str(one.get("says")), "")
    why = f": {one['why']}" if one.get("why") else ""
    return ", ".join(part for part in (quality, says) if part) + why


# The numbers of a finding's evidence as people read them: the unit beside the name, a pace beside a speed.

UNITS = ("bpm", "mps", "min", "spm", "ms", "s", "m")
SIX_DIGITS = 1e5
STANDING_MPS = 0.3
"""Below this a speed is shown without a pace."""
NOT_NUMBERS = ("times", "masked_s", "masked_why", "assumed", "reason", "signals")
"""Keys of the evidence that are shown elsewhere and not as numbers."""


def number_name(key: str) -> str:
    """A key with its unit set apart: "above_s" -> "above, s"."""
    unit = unit_of(key)
    return f"{spoken(key[: -len(unit) - 1])}, {unit.replace('mps', 'm/s')}" if unit else spoken(key)


@cache
def unit_of(key: str) -> str:
    """The unit that a key ends with; empty where it has none."""
    if key.endswith("_per_min"):
        return ""
    return next((unit for unit in UNITS if key.endswith(f"_{unit}")), "")


def number_words(key: str, value: Any, units: str = "metric") -> str:
    """A value as text; a speed with its pace. Empty for nested values, which only JSON shows."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        plain = f"{value:.6g}" if abs(value) < SIX_DIGITS else f"{value:.0f}"
        return _speed(value, units) if unit_of(key) == "mps" else plain
    if isinstance(value, str):
        return value
    if isinstance(value, dict):
        flat = [(str(name), part) for name, part in value.items() if not isinstance(part, dict | list | tuple)]
        return ", ".join(f"{spoken(name)} {number_words(name, part, units)}" for name, part in flat)
    if isinstance(value, list | tuple) and value and all(isinstance(part, int | float | str) for part in value):
        return ", ".join(number_words(key, part, units) for part in value)
    return ""


def _speed(mps: float, units: str) -> str:
    return f"{mps:.3g} ({words.shared.pace_words(1000 / mps, units)})" if mps > STANDING_MPS else f"{mps:.3g}"


def measured_words(observed: float, unit: str, units: str = "metric") -> str:
    """What was observed or allowed, with its unit: "4.2 m/s (3:58/km)"."""
    if unit == "m/s":
        return f"{observed:.3g} m/s" + (
            f" ({words.shared.pace_words(1000 / observed, units)})" if observed > STANDING_MPS else ""
        )
    return f"{observed:.6g}" + (f" {unit}" if unit else "")


# Findings in the shape of `findings --json`.

COLUMNS = (
    "id", "athlete", "name", "rule", "severity", "stage", "day", "date", "session_start", "session_end", "sport",
    "source", "observed", "limit", "unit", "summary", "advice", "seen_by",
)  # fmt: skip
"""Columns of the CSV; the evidence is only in the JSON."""


def finding_view(
    finding: Finding, zone: ZoneInfo, marks: Sequence[dict[str, Any]] = (), *, coached: bool = True
) -> dict[str, Any]:
    """One finding in words, times on the athlete's clock."""
    advice = finding.advice or catalogue.advice_of(finding, default_limits(), coached=coached)
    return {
        "id": finding.id,
        "athlete": finding.athlete,
        "rule": finding.rule,
        "severity": str(finding.severity),
        "stage": finding.stage,
        "day": finding.day,
        "date": finding.date.isoformat(),
        "session_start": local(finding.session_start, zone),
        "session_end": local(finding.session_end, zone),
        "sport": finding.sport,
        "source": finding.source,
        "observed": finding.observed,
        "limit": finding.limit,
        "unit": said(finding.unit),
        "summary": said(finding.summary),
        "evidence": rendered(finding.evidence),
        "advice": list(advice),
        "about": finding.subject_kind,
        "seen": [{**mark, "at": local(mark["at"], zone)} for mark in marks],
        "seen_by": [mark["by"] for mark in marks],
    }


def findings_view(con: duckdb.DuckDBPyConnection, athletes: Sequence[RosterAthlete]) -> list[dict[str, Any]]:
    """Findings that stand, of the athletes named, newest first."""
    named = {athlete.id: athlete.athlete for athlete in athletes}
    marks = findings.marks(con)
    return [
        {
            **finding_view(finding, athlete.zone, marks.get(finding.id, ()), coached=athlete.coached),
            "name": athlete.name or finding.athlete,
        }
        for finding in findings.standing(con)
        if (athlete := named.get(finding.athlete)) is not None
    ]


# One finding with all that led to it: numbers, times, limits and their sources, advice, who was told, who has seen.

HEART_NOTES = ("fades_after_45_min", "hr_scatter_bpm", "hr_erratic_for_speed")
SAID_ELSEWHERE = ("times", "masked_s", "assumed", "reason", "signals")


def explain_view(
    con: duckdb.DuckDBPyConnection, roster: Roster, finding: Finding, withdrawn_at: datetime | None, limits: Limits
) -> dict[str, Any]:
    """A finding in the shape of `findings --json` and more."""
    athlete = roster.athlete(finding.athlete)
    zone = athlete.athlete.zone if athlete else ZoneInfo("UTC")
    coached = athlete is None or athlete.athlete.coached
    rule = catalogue.rule(finding.rule)
    alerts = [outbox_row(row, roster) for row in outbox.every(con) if finding.id in row.findings]
    shown = finding_view(finding, zone, findings.marks(con).get(finding.id, ()), coached=coached)
    evidence = shown["evidence"]
    return {
        **shown,
        "name": athlete.athlete.name if athlete else finding.athlete,
        "about_rule": rule.about,
        "rule_severity": rule.severity,
        "evidence_strength": rule.evidence,
        "limits": [limit_view(limit) for limit in catalogue.limits_of(rule, limits)],
        "ceiling_reason": evidence.get("reason"),
        "times": times_view(finding, zone),
        "signals": list(evidence.get("signals") or ()),
        "units": athlete.units if athlete else "metric",
        "masked_s": evidence.get("masked_s"),
        "heart_for_speed": _heart_for_speed(con, finding),
        "assumed": list(evidence.get("assumed") or ()),
        "numbers": {key: value for key, value in evidence.items() if key not in SAID_ELSEWHERE},
        "advice_to_coach": list(catalogue.advice_of(finding, limits, "coach")) if coached else [],
        "cautions": list(catalogue.cautions(finding.severity, coached=coached)),
        "alerts": [
            {key: row[key] for key in ("id", "contact", "state", "reason", "reason_code", "sent_at", "title")}
            for row in alerts
        ],
        "withdrawn_at": local(withdrawn_at, zone),
    }


def _heart_for_speed(con: duckdb.DuckDBPyConnection, finding: Finding) -> dict[str, Any]:
    """How heart rate went with speed in the session of a finding: drift, fading, scatter; empty where it is not known.

    Of the day, not of the finding: heat, thirst and the course make a heart drift too.
    """
    if finding.session_start is None:
        return {}
    at = finding.session_start
    digest = next((session.digest for session in recordings.sessions(con, finding.athlete, at, at)), None)
    if digest is None:
        return {}
    told = {name: digest.notes[name] for name in HEART_NOTES if name in digest.notes}
    return told if digest.drift is None else {"drift": digest.drift, **told}


def limit_view(limit: Limit) -> dict[str, Any]:
    return {
        "name": limit.name,
        "value": limit.value,
        "unit": limit.unit,
        "source": limit.source,
        "evidence": limit.evidence,
    }


def times_view(finding: Finding, zone: ZoneInfo) -> list[dict[str, Any]]:
    """Stretches within the session, from its start and on the athlete's clock."""
    spans: Sequence[Sequence[float]] = finding.evidence.get("times") or ()
    start = finding.session_start
    return [
        {
            "from": minute_second(begin),
            "to": minute_second(end),
            "clock_from": _clock(start, begin, zone),
            "clock_to": _clock(start, end, zone),
            "seconds": round(end - begin, 1),
        }
        for begin, end in spans
    ]


def _clock(start: datetime | None, seconds: float, zone: ZoneInfo) -> str | None:
    return (start + timedelta(seconds=seconds)).astimezone(zone).strftime("%H:%M:%S") if start else None


# The catalogue of rules as data.


def rules_view(limits: Limits) -> list[dict[str, Any]]:
    """Every rule in the order of the catalogue, with its limits and their sources."""
    return [
        {
            "id": rule.id,
            "about": rule.about,
            "severity": rule.severity,
            "stages": list(rule.stages),
            "needs": list(rule.needs),
            "evidence": rule.evidence,
            "false_alarms": list(rule.false_alarms),
            "limits": [limit_view(limit) for limit in catalogue.limits_of(rule, limits)],
        }
        for rule in catalogue.catalogue()
    ]
