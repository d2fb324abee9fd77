"""Cells and headers of tables, each through its own function, at its border."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from monitor import words
from monitor.errors import Unreadable
from monitor.intake.nights_csv import EXPECTED, FIELDS
from monitor.intake.table import Table, find_table, minutes, moment, split_date
from monitor.values import ColumnMap, IntakeOptions

UTC_OPTIONS = IntakeOptions("UTC")


@pytest.mark.parametrize(
    ("cell", "unit", "length_min"),
    [
        ("2", "h", 120),
        ("2", "min", 2),
        ("120", "s", 2),
        ("120000", "ms", 2),
        ("7:30", "s", 450),
        ("7:30:30", "s", 450.5),
        ("7h", "s", 420),
        ("90 min", "h", 90),
        ("90 s", "h", 1.5),
        ("90000ms", "h", 1.5),
        ("0:59:59", "h", 59 + 59 / 60),
        ("7:60", "h", None),
        ("7:00:60", "h", None),
        ("2", "fortnights", None),
    ],
)
def test_a_length_of_time_is_in_its_own_unit_or_in_that_of_its_column(
    cell: str, unit: str, length_min: float | None
) -> None:
    if length_min is None:
        with pytest.raises(ValueError, match=r"."):
            minutes(cell, unit, None)
        return
    assert minutes(cell, unit, None) == pytest.approx(length_min)


@pytest.mark.parametrize(
    ("clock", "day", "hour", "minute"),
    [
        ("11:59", 6, 11, 59),
        ("12:00", 5, 12, 0),
        ("23:15", 5, 23, 15),
        ("0:30", 6, 0, 30),
        ("12:30 am", 6, 0, 30),
        ("12:30 pm", 5, 12, 30),
        ("11:30 PM", 5, 23, 30),
        ("1:05am", 6, 1, 5),
    ],
)
def test_from_noon_on_a_bedtime_is_of_the_evening_before(clock: str, day: int, hour: int, minute: int) -> None:
    at = moment(clock, date(2026, 10, 6), None, "UTC", evening_before=True)
    assert at == datetime(2026, 10, day, hour, minute, tzinfo=UTC)
    waking = moment(clock, date(2026, 10, 6), None, "UTC", evening_before=False)
    assert waking == datetime(2026, 10, 6, hour, minute, tzinfo=UTC)


@pytest.mark.parametrize("clock", ["24:00", "12:60", "7:30:61"])
def test_what_no_clock_shows_is_no_time(clock: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        moment(clock, date(2026, 10, 6), None, "UTC", evening_before=False)


@pytest.mark.parametrize("year", ["2026", "26"])
def test_a_year_has_four_digits_or_the_last_two(year: str) -> None:
    assert split_date(f"6.10.{year} 07:00", "dmy") == (date(2026, 10, 6), "07:00")
    assert split_date(f"10/6/{year}", "mdy") == (date(2026, 10, 6), "")


def table_of(text: str, options: IntakeOptions = UTC_OPTIONS) -> Table:
    return find_table(text, FIELDS, EXPECTED, options)


@pytest.mark.parametrize(("before", "is_found"), [(0, True), (29, True), (30, False)])
def test_a_header_stands_within_thirty_lines(before: int, *, is_found: bool) -> None:
    text = "an export\n" * before + "date,resting_hr\n2026-10-06,50\n"
    if not is_found:
        with pytest.raises(Unreadable, match="'an export'"):
            table_of(text)
        return
    table = table_of(text)
    assert table.header_line == before + 1
    assert list(table.rows()) == [(before + 2, {"date": "2026-10-06", "resting_hr": "50"})]


def test_of_two_lines_that_tell_as_much_the_first_is_the_header() -> None:
    assert table_of("date,resting_hr\ndate,rmssd_ms\n").header_line == 1
    assert table_of("date,resting_hr\ndate,rmssd_ms,bedtime\n").header_line == 2


@pytest.mark.parametrize("text", ["", "date\n2026-10-06\n", "resting_hr,rmssd_ms\n50,60\n", "a,b\n1,2\n"])
def test_a_header_names_a_day_and_something_of_it(text: str) -> None:
    with pytest.raises(Unreadable, match=r"date"):
        table_of(text)


def test_quotes_behind_a_space_hold_a_cell_together() -> None:
    options = IntakeOptions("UTC", {"total_sleep_min": ColumnMap("asleep, all of it", "h")})
    table = table_of('date, "asleep, all of it", resting_hr\n2026-10-06, "7,5", "50"\n', options)
    assert list(table.rows()) == [(2, {"date": "2026-10-06", "total_sleep_min": "7,5", "resting_hr": "50"})]


def test_a_table_that_the_roster_does_not_know_is_read_by_the_usual_names() -> None:
    options = IntakeOptions("UTC", {"resting_hr": ColumnMap("Pulse")})
    assert table_of("date,Pulse\n", options).options.columns
    assert not table_of("date,resting_hr,rmssd_ms\n", options).options.columns


def test_the_hint_names_the_first_header_of_what_may_be_one() -> None:
    with pytest.raises(Unreadable) as told:
        table_of('"Tag";Puls;Schlaf\n')
    assert words.files.COLUMN_HINT.format(first="Tag") in str(told.value)
