"""A state that lasts is told when it begins, when it grows worse, and then once a week."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from rules.findings import Breach, Severity
from rules.limits import Limits


def told(breaches: dict[date, Breach], judged: Iterable[date], limits: Limits) -> dict[date, Breach]:
    """Of the breaches of a rolling mean those to tell; `judged` are all days on which it could be judged, in order."""
    again = timedelta(days=limits.body.told_again_days)
    kept: dict[date, Breach] = {}
    worst: Severity | None = None
    last = began = date.min
    for day in judged:
        breach = breaches.get(day)
        if breach is None:
            worst = None
            continue
        if worst is None:
            began = day
        if worst is None or breach.severity > worst or day - last >= again:
            breach.evidence["since"] = began.isoformat()
            kept[day] = breach
            worst = max(breach.severity, worst or breach.severity)
            last = day
    return kept
