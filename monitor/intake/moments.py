"""Moments as files write them."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

NO_DATE = "the device had no date when it recorded this, so it belongs to no day"


def parsed(text: str) -> datetime | None:
    """An ISO 8601 date and time, aware or naive as it is written; None for anything else."""
    try:
        moment = datetime.fromisoformat(text.strip())
        moment.replace(tzinfo=UTC).timestamp()
    except (ValueError, OverflowError):
        return None
    return moment if 1 < moment.year < 9999 else None


def epoch(text: str) -> tuple[float, int | None] | None:
    """Seconds since 1970 of an ISO moment, and the offset it states; without one it is UTC, as TCX and GPX ask."""
    try:
        moment = datetime.fromisoformat(text.strip())
        aware = moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)
        return aware.timestamp(), stated_offset_s(aware)
    except (ValueError, OverflowError):
        return None


def in_utc(moment: datetime, timezone: str) -> datetime:
    """The moment in UTC; one without an offset is on the athlete's clock."""
    aware = moment if moment.tzinfo is not None else moment.replace(tzinfo=ZoneInfo(timezone))
    return aware.astimezone(UTC)


def local_date(moment: datetime, timezone: str) -> date:
    return moment.astimezone(ZoneInfo(timezone)).date()


def from_epoch(seconds: float) -> datetime:
    """UTC, to the millisecond."""
    return datetime.fromtimestamp(round(seconds, 3), UTC)


def stated_offset_s(moment: datetime) -> int | None:
    """Seconds the writer's clock was ahead of UTC; None for Z and +00:00, written for "UTC, place unknown" too."""
    offset = moment.utcoffset()
    seconds = int(offset.total_seconds()) if offset is not None else 0
    return seconds or None
