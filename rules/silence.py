"""`gone_quiet`: no file while a plan is active."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from rules.findings import Breach, Severity


def quiet_since(last_file_at: datetime | None, finish: datetime) -> datetime:
    """Where the silence begins: with the last file, or with the finish where none came since."""
    finished = finish.astimezone(UTC)
    return finished if last_file_at is None else max(last_file_at.astimezone(UTC), finished)


def gone_quiet(since: datetime, now: datetime, silent_after_hours: float, zone: ZoneInfo) -> Breach | None:
    """A note to the athlete, a caution to the coach."""
    seconds = (now.astimezone(UTC) - since.astimezone(UTC)).total_seconds()
    if seconds < silent_after_hours * 3600:
        return None
    told = since.astimezone(zone)
    text = f"No file since {told:%Y-%m-%d %H:%M}; after {silent_after_hours:g} h of silence in a plan the coach is told"
    whole_days = float(seconds // 86400 * 24)  # so that it changes once a day, not with every look
    evidence = {"since": since.astimezone(UTC).isoformat(), "severity_for": {"athlete": "note", "coach": "caution"}}
    return Breach("gone_quiet", Severity.CAUTION, text, whole_days, silent_after_hours, "h", evidence)
