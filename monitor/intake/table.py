"""A table with a header: which line it is, which columns are known, and what one cell says."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from itertools import islice
from zoneinfo import ZoneInfo

from monitor import words
from monitor.errors import Unreadable
from monitor.intake.plausible import in_utc, parsed
from monitor.intake.untrusted import quoted, shown
from monitor.values import ColumnMap, IntakeOptions

# One cell of a table -> a number, a length of time, a date or a moment. ValueError carries what is wrong with it.

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
        raise ValueError(words.files.NO_NUMBER.format(quoted=quoted(cell, 40))) from None


def minutes(cell: str, unit: str, decimal_comma: bool | None) -> float:
    """A length of time in minutes, from 7:30, 7h30, 7 h 30 min, 7 h or a number in `unit`."""
    text = cell.strip().casefold()
    if match := HOURS_AND_MINUTES.fullmatch(text):
        hours, mins, seconds = (int(part or 0) for part in match.groups())
        if max(mins, seconds) > LAST_OF_SIXTY:
            raise ValueError(words.files.NO_DURATION.format(quoted=quoted(cell, 40)))
        return hours * 60 + mins + seconds / 60
    if match := SUFFIX.fullmatch(text):
        text, unit = match[1], "ms" if match[2] == "ms" else {"h": "h", "m": "min", "s": "s"}[match[2][0]]
    if unit not in MINUTES_IN:
        raise ValueError(words.files.UNKNOWN_UNIT_OF_TIME.format(unit=unit))
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
            told = words.files.DATE_ORDER_SETTING
            raise ValueError(words.files.DAY_OR_MONTH_FIRST.format(cell=quoted(cell, 40), told=told))
        day, month = (match[1], match[2]) if order == "dmy" else (match[2], match[1])
        year = match[3] if len(match[3]) == len("2026") else f"20{match[3]}"
        return _date(cell, year, month, day), match[4] or ""
    moment = parsed(text)
    if moment is None:
        raise ValueError(words.files.CELL_IS_NO_DATE.format(cell=quoted(cell, 40)))
    return moment.date(), text[DATE_LETTERS:].lstrip("T ")


def moment(cell: str, day: date | None, order: str | None, timezone: str, *, evening_before: bool = False) -> datetime:
    """A moment in UTC from a full date and time, or from HH:MM on the day; after noon it may be the evening before."""
    text = cell.strip()
    clock = _clock(text)
    if clock is not None:
        if day is None:
            raise ValueError(words.files.CELL_WITHOUT_DATE.format(cell=quoted(cell, 40)))
        if evening_before and clock.hour >= NOON:
            day -= timedelta(days=1)
        return in_utc(datetime.combine(day, clock), timezone)
    full = parsed(text)
    if full is None:
        stated, rest = split_date(cell, order)
        clock = _clock(rest)
        if clock is None:
            raise ValueError(words.files.CELL_WITHOUT_TIME.format(cell=quoted(cell, 40)))
        full = datetime.combine(stated, clock)
    elif len(text) <= DATE_LETTERS:
        raise ValueError(words.files.CELL_WITHOUT_TIME.format(cell=quoted(cell, 40)))
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
        raise ValueError(words.files.NO_DAY_OF_CALENDAR.format(cell=quoted(cell, 40))) from None


DELIMITERS = ",;\t|"
HEADER_WITHIN_LINES = 30
PLACES = ("date", "bedtime", "wake_time")
"""Columns that can say which day a row is of."""


@dataclass(frozen=True, slots=True)
class Table:
    text: str
    delimiter: str
    header_line: int  # counted from 1
    columns: Mapping[int, str]  # place in the row -> field
    options: IntakeOptions  # those by which the header was understood

    def rows(self) -> Iterator[tuple[int, dict[str, str]]]:
        """Line number and known cells of each row with anything in it; csv.Error where quotes do not close."""
        body = io.StringIO(self.text, newline=None)
        for _ in range(self.header_line):
            body.readline()
        reader = csv.reader(body, delimiter=self.delimiter, skipinitialspace=True)
        for row in reader:
            if any(cell.strip() for cell in row):
                known = {name: row[at] for at, name in self.columns.items() if at < len(row)}
                yield self.header_line + reader.line_num, known


def header_of(name: str, options: IntakeOptions) -> str:
    """The header text a field has in this athlete's tables."""
    return shown(options.columns.get(name, ColumnMap(name)).header, 40)


def find_table(text: str, fields: Collection[str], expected: Sequence[str], options: IntakeOptions) -> Table:
    """The table whose header line and delimiter make the most sense. Unreadable, naming what was found and expected.

    By the headers that the roster names or by the usual ones, whichever tell more: a file of before such an edit, or of
    another device, still says all it said.
    """
    lines = list(islice(io.StringIO(text, newline=None), HEADER_WITHIN_LINES))
    candidates = [
        Table(text, delimiter, number, columns, tried)
        for tried in ((options, replace(options, columns={})) if options.columns else (options,))
        for number, line in enumerate(lines, start=1)
        for delimiter in DELIMITERS
        if (columns := _known_columns(line, delimiter, _wanted(fields, tried)))
    ]
    best = max(candidates, key=lambda table: len(table.columns), default=None)
    found = set(best.columns.values()) if best is not None else set()
    if best is None or not found - {"date"} or not found.intersection(PLACES):
        seen = next((line.strip() for line in lines if line.strip()), "")
        names = ", ".join(header_of(name, options) for name in expected)
        raise Unreadable(words.files.NO_KNOWN_COLUMNS.format(seen=quoted(seen), names=names, hint=_as_in(seen)))
    return best


def _as_in(line: str) -> str:
    """An example of a name, by the first header of what may be the header line."""
    delimiter = max(DELIMITERS, key=line.count)
    first = line.partition(delimiter)[0].strip(" \"'\ufeff") if delimiter in line else ""
    return words.files.COLUMN_HINT.format(first=shown(first, 40)) if first else ""


def names_in(line: str, delimiter: str) -> list[str]:
    """The cells of a header line; csv.Error where quotes do not close."""
    return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])


def _known_columns(line: str, delimiter: str, wanted: Mapping[str, str]) -> dict[int, str]:
    """Place -> field; the first of two columns of one name counts."""
    try:
        names = names_in(line, delimiter)
    except csv.Error:
        return {}
    columns: dict[int, str] = {}
    for at, name in enumerate(names):
        known = wanted.get(_plain(name))
        if known is not None and known not in columns.values():
            columns[at] = known
    return columns


def _wanted(fields: Collection[str], options: IntakeOptions) -> dict[str, str]:
    """Plain header text -> field; what the roster names stands before the usual names."""
    wanted = {_plain(name): name for name in fields if name not in options.columns}
    return wanted | {_plain(column.header): name for name, column in options.columns.items() if name in fields}


def _plain(header: str) -> str:
    return " ".join(header.replace("_", " ").casefold().split())
