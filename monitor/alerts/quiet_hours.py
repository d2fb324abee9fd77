"""Quiet hours on the athlete's clock, over midnight and through both nights on which the clock is changed."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

Span = tuple[time, time]


def quiet_until(now: datetime, quiet: Span | None, zone: ZoneInfo) -> datetime | None:
    """The end of the quiet hours that `now` lies in, in UTC; None when it lies in none."""
    if quiet is None:
        return None
    begin, end = quiet
    today = now.astimezone(zone).date()
    for day in (today - timedelta(days=1), today):
        last_day = day + timedelta(days=1) if begin >= end else day
        until = _instant(last_day, end, zone, last=True)
        if _instant(day, begin, zone, last=False) <= now < until:
            return until
    return None


def _instant(day: date, clock: time, zone: ZoneInfo, *, last: bool) -> datetime:
    """The moment at which local clocks show a time.

    Of one that comes twice the first or the last; for one that is left out, the moment the clocks jump over it.
    """
    early, late = (datetime.combine(day, clock, zone).replace(fold=fold).astimezone(UTC) for fold in (0, 1))
    if early > late:  # left out: fold 0 lies behind the jump, fold 1 before it
        return _jump(late, early, zone)
    return late if last else early


def _jump(before: datetime, after: datetime, zone: ZoneInfo) -> datetime:
    """The second between two moments at which the clock is changed."""
    offset = before.astimezone(zone).utcoffset()
    while after - before > timedelta(seconds=1):
        middle = before + timedelta(seconds=(after - before) // timedelta(seconds=2))
        if middle.astimezone(zone).utcoffset() == offset:
            before = middle
        else:
            after = middle
    return after


def until_words(until: datetime, zone: ZoneInfo) -> str:
    """ "deferred until 06:30", on the athlete's clock."""
    return f"deferred until {until.astimezone(zone):%H:%M}"
