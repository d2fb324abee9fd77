"""Nights, mornings and check-ins from a table with a header.

`date` is the day of waking. A row or a cell that cannot be read costs itself alone, and the remark names its line.
Time asleep is only what the file says: time in bed is never taken for it.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import islice

from monitor import words
from monitor.errors import Unreadable
from monitor.intake import table as cells
from monitor.intake.checkin import SCALES, YES_NO, checkin_of, in_order
from monitor.intake.plausible import BOUNDS, MOST, Remarks, is_plausible
from monitor.intake.table import find_table, header_of, names_in
from monitor.intake.untrusted import decoded, quoted, shown
from monitor.values import ColumnMap, FileFacts, IntakeOptions
from rules.facts import CheckIn, Morning, Night
from rules.limits import default_limits

NIGHT_FIELDS = ("bedtime", "wake_time", "total_sleep_min")
MORNING_FIELDS = ("resting_hr", "rmssd_ms")
CHECKIN_FIELDS = (*YES_NO, *SCALES, "pain_where", "symptoms", "note", "gone", "seen_doctor")
EXPECTED = ("date", *NIGHT_FIELDS, *MORNING_FIELDS)
FIELDS = ("date", *NIGHT_FIELDS, *MORNING_FIELDS, *CHECKIN_FIELDS)
USUAL_UNIT = {"total_sleep_min": "min", "resting_hr": "bpm", "rmssd_ms": "ms"}
BOUNDS_OF = {"total_sleep_min": BOUNDS.sleep, "resting_hr": BOUNDS.resting_hr, "rmssd_ms": BOUNDS.rmssd}
IN_BED_SLACK_MIN = 1.0


@dataclass(slots=True)
class _Row:
    """The known cells of one line; what is wrong with them goes to the remarks."""

    line: int
    cells: Mapping[str, str]
    options: IntakeOptions
    remarks: Remarks

    def cell(self, name: str) -> str | None:
        text = self.cells.get(name, "")
        return None if cells.is_blank(text) else text

    def remark(self, name: str, reason: object) -> None:
        column = header_of(name, self.options)
        self.remarks.add(words.files.IN_LINE.format(line=self.line, column=column, reason=reason))

    def value(self, name: str) -> float | None:
        """A number in the field's own unit, within its bounds; None with a remark where it is not."""
        text = self.cell(name)
        if text is None:
            return None
        unit = self.options.columns.get(name, ColumnMap(name)).unit or USUAL_UNIT[name]
        comma = self.options.decimal_comma
        try:
            if name == "total_sleep_min":
                value = cells.minutes(text, unit, comma)
            else:
                value = cells.number(text, comma) * (1000.0 if unit == "s" else 1.0)
        except ValueError as error:
            self.remark(name, error)
            return None
        if not is_plausible(BOUNDS_OF[name], value):
            least, highest = BOUNDS_OF[name]
            allowed = f"{least:g} to {highest:g} {USUAL_UNIT[name]}"
            self.remark(name, words.files.VALUE_OUT_OF_RANGE.format(text=quoted(text, 40), allowed=allowed))
            return None
        return value

    def moment(self, name: str, day: date | None) -> datetime | None:
        text = self.cell(name)
        if text is None:
            return None
        try:
            return cells.moment(
                text, day, self.options.date_order, self.options.timezone, evening_before=name == "bedtime"
            )
        except (ValueError, OverflowError) as error:
            self.remark(name, error)
            return None


@dataclass(slots=True)
class _Collected:
    nights: dict[date, Night] = field(default_factory=dict)
    mornings: dict[date, Morning] = field(default_factory=dict)
    checkins: list[CheckIn] = field(default_factory=list)


def read_csv(data: bytes, options: IntakeOptions) -> FileFacts:
    """All rows of a table. Unreadable when no line is a header that is known, or no row could be read."""
    table = find_table(decoded(data), FIELDS, EXPECTED, options)
    remarks = Remarks()
    collected = _Collected()
    rows = 0
    try:
        for line, known in table.rows():
            rows += 1
            if rows > MOST.rows:
                remarks.add(words.files.TABLE_TOO_LONG.format(rows=MOST.rows))
                break
            _take(_Row(line, known, table.options, remarks), collected)
    except csv.Error as error:
        remarks.add(words.files.ONLY_PART_COULD_BE_READ.format(broken=shown(error)))
    facts = FileFacts(
        kind="csv",
        nights=tuple(collected.nights[day] for day in sorted(collected.nights)),
        mornings=tuple(collected.mornings[day] for day in sorted(collected.mornings)),
        checkins=in_order(collected.checkins),
        remarks=remarks.all(),
        damaged=bool(remarks),
    )
    if rows and remarks and not (facts.nights or facts.mornings or facts.checkins):
        raise Unreadable(words.files.NO_ROW_COULD_BE_READ.format(reason=remarks.first()))
    return facts


def has_header(text: str, options: IntakeOptions) -> bool:
    """Whether one of the first lines names columns that are known."""
    try:
        find_table(text, FIELDS, EXPECTED, options)
    except Unreadable:
        return False
    return True


def _take(row: _Row, collected: _Collected) -> None:
    """Adds what one row says; one day twice keeps the longer night and the later morning."""
    try:
        day = _day(row)
    except (ValueError, OverflowError) as error:
        row.remark("date", words.files.ROW_LEFT_OUT.format(error=error))
        return
    if any(row.cell(name) for name in NIGHT_FIELDS):
        night = _night(row, day)
        other = collected.nights.get(day)
        told = any(part is not None for part in (night.bedtime, night.wake, night.total_sleep_min))
        if told and (other is None or _length(night) >= _length(other)):
            collected.nights[day] = night
    resting_hr, rmssd_ms = row.value("resting_hr"), row.value("rmssd_ms")
    if resting_hr is not None or rmssd_ms is not None:
        before = collected.mornings.get(day, Morning(day))
        collected.mornings[day] = Morning(
            date=day,
            resting_hr=resting_hr if resting_hr is not None else before.resting_hr,
            rmssd_ms=rmssd_ms if rmssd_ms is not None else before.rmssd_ms,
        )
    if any(row.cell(name) for name in CHECKIN_FIELDS):
        said = {name: row.cell(name) for name in CHECKIN_FIELDS} | {"date": _checkin_date(row, day)}
        try:
            collected.checkins.append(checkin_of(said, row.options, lambda wrong: row.remark("date", wrong)))
        except Unreadable as error:
            row.remark("date", words.files.CHECK_IN_ROW_LEFT_OUT.format(error=error))


def _day(row: _Row) -> date:
    """The day of waking: the date column, else the day of the wake time."""
    stated = row.cell("date")
    if stated is not None:
        return cells.split_date(stated, row.options.date_order)[0]
    wake = row.cell("wake_time")
    if wake is None:
        raise ValueError(words.files.ROW_WITHOUT_DATE)
    moment = cells.moment(wake, None, row.options.date_order, row.options.timezone)
    return cells.local_day(moment, row.options.timezone)


def _checkin_date(row: _Row, day: date) -> str:
    """The date cell with its time of day, where it has one."""
    try:
        stated = row.cell("date") or ""
        moment = cells.moment(stated, None, row.options.date_order, row.options.timezone)
    except ValueError:
        return day.isoformat()
    return moment.isoformat()


def _night(row: _Row, day: date) -> Night:
    bedtime, wake = row.moment("bedtime", day), row.moment("wake_time", day)
    asleep = row.value("total_sleep_min")
    if asleep is not None and not is_plausible(BOUNDS.night, asleep):
        row.remark("total_sleep_min", words.files.ASLEEP_IMPLAUSIBLE.format(asleep=asleep))
        asleep = None
    if bedtime is not None and wake is not None:
        in_bed_min = (wake - bedtime).total_seconds() / 60
        if not 0 < in_bed_min <= BOUNDS.sleep[1]:
            row.remark("wake_time", words.files.WAKING_TOO_FAR_FROM_BEDTIME)
            bedtime = wake = None
        elif asleep is not None and asleep > in_bed_min + IN_BED_SLACK_MIN:
            row.remark(
                "total_sleep_min", words.files.ASLEEP_LONGER_THAN_IN_BED.format(asleep=asleep, in_bed_min=in_bed_min)
            )
            asleep = None
        elif asleep is not None and asleep < in_bed_min * default_limits().plausible.asleep_of_bed:
            row.remark(
                "total_sleep_min",
                words.files.ASLEEP_LONGER_THAN_IN_BED_UNIT.format(asleep=asleep, in_bed_min=in_bed_min),
            )
            asleep = None
    return Night(date=day, bedtime=bedtime, wake=wake, total_sleep_min=asleep)


def _length(night: Night) -> float:
    if night.total_sleep_min is not None:
        return night.total_sleep_min
    return (night.wake - night.bedtime).total_seconds() / 60 if night.wake and night.bedtime else 0.0


# How a table would be read: which columns were understood as what, which were passed over, the first rows.

ROWS = 3


@dataclass(frozen=True, slots=True)
class Preview:
    """A table before it is taken in. `understood` is (header as written, field, unit or "")."""

    header_line: int
    understood: tuple[tuple[str, str, str], ...]
    passed_over: tuple[str, ...]
    rows: tuple[dict[str, str], ...]  # field -> cell as written, of the first rows
    facts: FileFacts  # what those rows come to


def preview(data: bytes, options: IntakeOptions) -> Preview:
    """Read the head and the first rows of a table. Unreadable where no line is a header that is known."""
    text = decoded(data)
    table = find_table(text, FIELDS, EXPECTED, options)
    lines = list(islice(io.StringIO(text, newline=None), table.header_line))
    headers = names_in(lines[-1], table.delimiter)
    understood = tuple(
        (shown(headers[at].strip(), 40), name, _unit(name, table.options)) for at, name in sorted(table.columns.items())
    )
    passed_over = tuple(
        shown(name.strip(), 40) for at, name in enumerate(headers) if at not in table.columns and name.strip()
    )
    rows = list(islice(table.rows(), ROWS))
    last = max((line for line, _ in rows), default=table.header_line)
    head = "".join(islice(io.StringIO(text, newline=None), last))
    return Preview(
        table.header_line,
        understood,
        passed_over,
        tuple({name: shown(cell.strip(), 40) for name, cell in cells.items()} for _, cells in rows),
        read_csv(head.encode(), options),
    )


def _unit(name: str, options: IntakeOptions) -> str:
    if name not in USUAL_UNIT:
        return ""
    return options.columns.get(name, ColumnMap(name)).unit or USUAL_UNIT[name]
