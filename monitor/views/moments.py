"""Moments and numbers as JSON shows them."""

from __future__ import annotations

from datetime import datetime, tzinfo


def local(moment: datetime | None, zone: tzinfo) -> str | None:
    """ISO 8601 with the offset of a zone, to the second."""
    return None if moment is None else moment.astimezone(zone).isoformat(timespec="seconds")


def clock(moment: datetime | None, zone: tzinfo) -> str:
    """Date and time of day for people: "2026-10-17 18:05"."""
    return "-" if moment is None else moment.astimezone(zone).strftime("%Y-%m-%d %H:%M")


def minute_second(seconds: float) -> str:
    """A place within a session: "12:40", "1:05:30"."""
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"
