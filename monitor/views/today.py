"""What today allows, in the shape of `today --json`."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date, datetime
from typing import Any

from monitor.judging.judge import View
from rules.limits import Limits
from rules.today import Today, today


def today_of(made: View, now: datetime, limits: Limits) -> Today:
    """The day of one athlete by a judgement of now."""
    return today(made.judgement, made.history, now, limits)


def today_view(made: View, now: datetime, limits: Limits) -> dict[str, Any]:
    """Every limit of the day as a number, and all of it as sentences."""
    day = today_of(made, now, limits)
    return {**{key: _plain(value) for key, value in asdict(day).items()}, "name": made.athlete.athlete.name}


def _plain(value: Any) -> Any:
    if isinstance(value, date | datetime):
        return value.isoformat()
    if isinstance(value, tuple | list):
        return [_plain(part) for part in value]
    if isinstance(value, dict):
        return {key: _plain(part) for key, part in value.items()}
    return value
