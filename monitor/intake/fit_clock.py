"""What the clock of a FIT device says: dates or a count from its own start, and how far it is from UTC."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from monitor.intake.fit_messages import FIRST_DATE, Message, Messages, date_moment, moment

QUARTER_SECONDS = 900
MOST_OFFSET_SECONDS = 14 * 3600  # UTC+14 is the farthest from UTC that clocks on earth are


def utc_offset(messages: Messages) -> int | None:
    """Local clock minus UTC in seconds, to the quarter of an hour; None where the file does not say."""
    for activity in messages.get("activity", ()):
        utc, local = date_moment(activity, "timestamp"), date_moment(activity, "local_timestamp")
        if utc is not None and local is not None:
            offset = round((local - utc) / QUARTER_SECONDS) * QUARTER_SECONDS
            return offset if abs(offset) <= MOST_OFFSET_SECONDS else None
    return None


def shift(messages: Messages, timezone: str) -> float | None:
    """Seconds that make the file's moments dates: 0 where they are, None where nothing in the file gives a date."""
    seen = _moments(messages)
    if not seen or any(value >= FIRST_DATE for value in seen):
        return 0.0
    for correlation in messages.get("timestamp_correlation", ()):
        utc, system = date_moment(correlation, "timestamp"), moment(correlation, "system_timestamp")
        if utc is not None and system is not None:
            return utc - system
    for activity in messages.get("activity", ()):
        local, relative = date_moment(activity, "local_timestamp"), moment(activity, "timestamp")
        if local is not None and relative is not None:
            return _as_utc(local, timezone) - relative
    return None


def _moments(messages: Messages) -> list[float]:
    kinds = [(kind, name) for kind in ("session", "lap") for name in ("start_time", "timestamp")]
    found = [moment(message, name) for kind, name in kinds for message in messages.get(kind, ())]
    records: list[Message] = messages.get("record", [])
    found += [moment(record, "timestamp") for record in records[:: max(1, len(records) // 50)]]
    return [value for value in found if value is not None]


def _as_utc(local: float, timezone: str) -> float:
    """A moment that a local clock showed, told as if it were UTC -> the moment itself."""
    shown = datetime.fromtimestamp(local, UTC).replace(tzinfo=ZoneInfo(timezone))
    return shown.timestamp()
