"""The catalogue of rules as data."""

from __future__ import annotations

from typing import Any

from monitor.views.explain import limit_view
from rules import catalogue
from rules.limits import Limits


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
