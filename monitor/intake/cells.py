"""One cell of a table -> a number, a length of time, a date or a moment. ValueError carries what is wrong with it."""

from __future__ import annotations

import re
from datetime import MAXYEAR, MINYEAR, UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from monitor.intake.untrusted import quoted

# Moments as files write them.

NO_DATE = "the device had no date when it recorded this, so it belongs to no day"


def parsed(text: str) -> datetime | None:
    """An ISO 8601 date and time, aware or naive as it is written; None for anything else."""
    try:
        moment = datetime.fromisoformat(text.strip())
        moment.replace(tzinfo=UTC).timestamp()
    except (ValueError, OverflowError):
        return None
    return moment if MINYEAR < moment.year < MAXYEAR else None


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


BLANK = frozenset({"", "-", "--", "–", "—", "n/a", "na", "nan", "null", "none", "?"})
MINUTES_IN = {"h": 60.0, "min": 1.0, "s": 1 / 60.0, "ms": 1 / 60000.0}
HOURS_AND_MINUTES = re.compile(
    r"(\d{1,2})\s*(?::|h|hrs?|hours?)\s*(\d{1,2})(?::(\d{1,2})(?:\.\d+)?)?\s*(?:m|min|mins|minutes)?"
)
SUFFIX = re.compile(r"(.*\d)\s*(h|hrs?|hours?|m|min|mins|minutes|s|sec|seconds|ms)")
CLOCK = re.compile(r"(\d{1,2})[:.h](\d{2})(?::(\d{2}))?\s*(am|pm)?", re.IGNORECASE)
DAY_FIRST = re.compile(r"(\d{1,2})\s*[./\- ]\s*(\d{1,2})\s*[./\- ]\s*(\d{4}|\d{2})\.?(?:[ ,T]+(.*))?")
DATE_LETTERS = len("2026-10-06")
NOON = 12
LAST_OF_SIXTY = 59  # seconds or minutes on a clock
ISO_LIKE = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[ T]+(.*))?")


def is_blank(cell: str) -> bool:
    return cell.strip().casefold() in BLANK


def number(cell: str, decimal_comma: bool | None) -> float:
    """A number; a comma is the decimal sign when told, or when it can be nothing else."""
    text = cell.strip().replace("\u00a0", "").replace("\u202f", "").replace("'", "")
    if decimal_comma or (decimal_comma is None and "," in text and "." not in text):
        text = text.replace(".", "").replace(",", ".")
    try:
        return float(text)
    except ValueError:
        raise ValueError(f"{quoted(cell, 40)} is no number") from None


def minutes(cell: str, unit: str, decimal_comma: bool | None) -> float:
    """A length of time in minutes, from 7:30, 7h30, 7 h 30 min, 7 h or a number in `unit`."""
    text = cell.strip().casefold()
    if match := HOURS_AND_MINUTES.fullmatch(text):
        hours, mins, seconds = match.groups()
        if max(int(mins), int(seconds or 0)) > LAST_OF_SIXTY:
            raise ValueError(f"{quoted(cell, 40)} is no length of time")
        return int(hours) * 60 + int(mins) + int(seconds or 0) / 60
    if match := SUFFIX.fullmatch(text):
        text, unit = match[1], "ms" if match[2] == "ms" else {"h": "h", "m": "min", "s": "s"}[match[2][0]]
    if unit not in MINUTES_IN:
        raise ValueError(f"a length of time has no unit {unit}")
    return number(text, decimal_comma) * MINUTES_IN[unit]


def split_date(cell: str, order: str | None) -> tuple[date, str]:
    """The date in a cell, and what follows it. Other orders than year-month-day only when told."""
    text = cell.strip()
    match = ISO_LIKE.fullmatch(text)
    if match:
        return _date(cell, match[1], match[2], match[3]), match[4] or ""
    match = DAY_FIRST.fullmatch(text)
    if match:
        if order not in ("dmy", "mdy"):
            told = 'date_order = "dmy" or "mdy" under [athlete.columns]'
            raise ValueError(f"{quoted(cell, 40)}: tell the order of day and month with {told}")
        day, month = (match[1], match[2]) if order == "dmy" else (match[2], match[1])
        year = f"20{match[3]}"[-4:]
        return _date(cell, year, month, day), match[4] or ""
    moment = parsed(text)
    if moment is None:
        raise ValueError(f"{quoted(cell, 40)} is no date such as 2026-10-06")
    return moment.date(), text[DATE_LETTERS:].lstrip("T ")


def moment(cell: str, day: date | None, order: str | None, timezone: str, *, evening_before: bool) -> datetime:
    """A moment in UTC from a full date and time, or from HH:MM on the day; after noon it may be the evening before."""
    text = cell.strip()
    clock = _clock(text)
    if clock is not None:
        if day is None:
            raise ValueError(f"{quoted(cell, 40)} has no date")
        if evening_before and clock.hour >= NOON:
            day -= timedelta(days=1)
        return in_utc(datetime.combine(day, clock), timezone)
    full = parsed(text)
    if full is None:
        stated, rest = split_date(cell, order)
        clock = _clock(rest)
        if clock is None:
            raise ValueError(f"{quoted(cell, 40)} has no time of day")
        full = datetime.combine(stated, clock)
    elif len(text) <= DATE_LETTERS:
        raise ValueError(f"{quoted(cell, 40)} has no time of day")
    return in_utc(full, timezone)


def local_day(moment_utc: datetime, timezone: str) -> date:
    return moment_utc.astimezone(ZoneInfo(timezone)).date()


def _clock(text: str) -> time | None:
    match = CLOCK.fullmatch(text.strip())
    if match is None:
        return None
    hour, minute, second = int(match[1]), int(match[2]), int(match[3] or 0)
    if match[4]:
        hour = hour % 12 + (12 if match[4].casefold() == "pm" else 0)
    try:
        return time(hour, minute, second)
    except ValueError:
        return None


def _date(cell: str, year: str, month: str, day: str) -> date:
    try:
        return date(int(year), int(month), int(day))
    except ValueError:
        raise ValueError(f"{quoted(cell, 40)} is no day of the calendar") from None
