"""One finding with all that led to it: numbers, times, limits and their sources, advice, who was told, who has seen."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import duckdb

from monitor.roster import Roster
from monitor.store import findings, outbox
from monitor.views.findings import finding_view
from monitor.views.moments import local, minute_second
from monitor.views.outbox import outbox_row
from rules import advice, catalogue
from rules.findings import Finding
from rules.limits import Limit, Limits

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
    return {
        **finding_view(finding, zone, findings.marks(con).get(finding.id, ())),
        "name": athlete.athlete.name if athlete else finding.athlete,
        "about_rule": rule.about,
        "rule_severity": rule.severity,
        "evidence_strength": rule.evidence,
        "limits": [limit_view(limit) for limit in catalogue.limits_of(rule, limits)],
        "ceiling_reason": finding.evidence.get("reason"),
        "times": times_view(finding, zone),
        "signals": list(finding.evidence.get("signals") or ()),
        "units": athlete.units if athlete else "metric",
        "masked_s": finding.evidence.get("masked_s"),
        "assumed": list(finding.evidence.get("assumed") or ()),
        "numbers": {key: value for key, value in finding.evidence.items() if key not in SAID_ELSEWHERE},
        "advice_to_coach": list(_for_the_coach(finding, limits)) if coached else [],
        "cautions": list(advice.cautions(finding.severity, coached=coached)),
        "alerts": [
            {key: row[key] for key in ("id", "contact", "state", "reason", "sent_at", "title")} for row in alerts
        ],
        "withdrawn_at": local(withdrawn_at, zone),
    }


def _for_the_coach(finding: Finding, limits: Limits) -> tuple[str, ...]:
    about = advice.gravest_class(finding.evidence)
    return advice.what_now(finding.rule, finding.severity, finding.stage, limits, "coach", about=about)


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
