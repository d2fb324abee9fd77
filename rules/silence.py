"""`gone_quiet`: no file while a plan is active."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from rules.findings import Breach, Severity


def quiet_since(last_file_at: datetime | None, finish: datetime, watched_since: datetime | None = None) -> datetime:
    """Where the silence begins: the latest of the finish, the last file and the first look at the folder."""
    known = (finish, last_file_at, watched_since)
    return max(moment.astimezone(UTC) for moment in known if moment is not None)


def gone_quiet(
    since: datetime,
    now: datetime,
    silent_after_hours: float,
    zone: ZoneInfo,
    *,
    ever: bool = True,
    coached: bool = True,
) -> Breach | None:
    """A note to the athlete, a caution to the coach; `ever`: whether a file has ever come."""
    seconds = (now.astimezone(UTC) - since.astimezone(UTC)).total_seconds()
    if seconds < silent_after_hours * 3600:
        return None
    told = since.astimezone(zone)
    what = f"No file since {told:%Y-%m-%d %H:%M}" if ever else f"No file has ever come, awaited since {told:%Y-%m-%d}"
    asks = "the coach is told" if coached else "somebody should ask"
    text = f"{what}; after {silent_after_hours:g} h of silence in a plan {asks}"
    whole_days = float(seconds // 86400 * 24)  # so that it changes once a day, not with every look
    evidence = {
        "since": since.astimezone(UTC).isoformat(),
        "ever": ever,
        "severity_for": {"athlete": "note", "coach": "caution"},
    }
    return Breach("gone_quiet", Severity.CAUTION, text, whole_days, silent_after_hours, "h", evidence)
