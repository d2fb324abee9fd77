from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.errors import Unreadable
from monitor.intake.nights_csv import preview, read_csv
from monitor.roster.columns import ColumnsError, read_columns
from monitor.values import ColumnMap, FileFacts, IntakeOptions
from rules.facts import Morning, Night

OSLO = IntakeOptions("Europe/Oslo")
HEADER = "date,bedtime,wake_time,total_sleep_min,resting_hr,rmssd_ms\n"


def facts_of(text: str, options: IntakeOptions = OSLO) -> FileFacts:
    return read_csv(text.encode(), options)


def utc(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)  # year to minute


def test_the_default_columns_give_a_night_and_a_morning() -> None:
    facts = facts_of(HEADER + "2026-10-06,22:45,06:30,432,47,61.5\n")
    assert facts.nights == (Night(date(2026, 10, 6), utc(2026, 10, 5, 20, 45), utc(2026, 10, 6, 4, 30), 432.0),)
    assert facts.mornings == (Morning(date(2026, 10, 6), 47.0, 61.5),)
    assert (facts.kind, facts.remarks, facts.damaged) == ("csv", (), False)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_marks_delimiters_and_line_ends_make_no_difference(encoding: str, delimiter: str, newline: str) -> None:
    text = (HEADER + "2026-10-06,22:45,06:30,432,47,61.5\n").replace(",", delimiter).replace("\n", newline)
    assert read_csv(text.encode(encoding), OSLO).mornings == (Morning(date(2026, 10, 6), 47.0, 61.5),)


def test_a_space_behind_a_comma_makes_no_difference_to_quotes() -> None:
    facts = facts_of('date, "resting_hr", rmssd_ms\n2026-10-06, "47,5", 61.5\n')
    assert facts.mornings == (Morning(date(2026, 10, 6), 47.5, 61.5),)


def test_a_decimal_comma_is_understood_beside_semicolons_and_in_quotes() -> None:
    assert facts_of("date;resting_hr;rmssd_ms\n2026-10-06;47,5;61,25\n").mornings[0] == Morning(
        date(2026, 10, 6), 47.5, 61.25
    )
    assert facts_of('date,resting_hr\n2026-10-06,"47,5"\n').mornings[0].resting_hr == 47.5


def test_a_decimal_comma_that_is_told_makes_points_thousands() -> None:
    told = IntakeOptions("Europe/Oslo", columns={"total_sleep_min": ColumnMap("sleep", "s")}, decimal_comma=True)
    assert facts_of("date;sleep\n2026-10-06;25.920,0\n", told).nights[0].total_sleep_min == 432


@pytest.mark.parametrize("blank", ["", "-", "n/a", "NA", "--", "null", " "])
def test_blank_cells_say_nothing(blank: str) -> None:
    facts = facts_of(HEADER + f"2026-10-06,{blank},{blank},{blank},47,{blank}\n")
    assert facts.nights == ()
    assert facts.mornings == (Morning(date(2026, 10, 6), 47.0, None),)
    assert facts.remarks == ()


@pytest.mark.parametrize(
    ("cell", "minutes"),
    [
        ("7:30", 450),
        ("07:30:00", 450),
        ("7h30", 450),
        ("7 h 30 min", 450),
        ("7h30m", 450),
        ("7 h", 420),
        ("7,5 h", 450),
        ("450 min", 450),
        ("450", 450),
        ("27000 s", 450),
    ],
)
def test_lengths_of_sleep_are_understood_however_they_are_written(cell: str, minutes: float) -> None:
    assert facts_of(f"date;total_sleep_min\n2026-10-06;{cell}\n").nights[0].total_sleep_min == minutes


@pytest.mark.parametrize(("unit", "cell"), [("h", "7.2"), ("min", "432"), ("s", "25920"), (None, "432")])
def test_the_roster_names_columns_and_units(unit: str | None, cell: str) -> None:
    options = IntakeOptions(
        "Europe/Oslo",
        columns={
            "date": ColumnMap("Day"),
            "total_sleep_min": ColumnMap("Sleep (h)", unit),
            "rmssd_ms": ColumnMap("HRV", "s"),
        },
    )
    facts = facts_of(f"Nr,Day,sleep  (H),hrv,date\n1,2026-10-06,{cell},0.0615,nonsense\n", options)
    assert facts.nights[0].total_sleep_min == pytest.approx(432)
    assert facts.mornings[0].rmssd_ms == pytest.approx(61.5)


def test_a_file_with_the_usual_headers_says_all_it_said_before_the_roster_named_others() -> None:
    named = {"total_sleep_min": ColumnMap("Sleep (h)", "h"), "rmssd_ms": ColumnMap("HRV", "s")}
    usual = HEADER + "2026-10-06,22:45,06:30,432,47,61.5\n"
    assert facts_of(usual, IntakeOptions("Europe/Oslo", columns=named)) == facts_of(usual)
    both = "date,Sleep (h),HRV,rmssd_ms\n2026-10-06,7.2,0.0615,99\n"
    assert facts_of(both, IntakeOptions("Europe/Oslo", columns=named)).mornings[0].rmssd_ms == pytest.approx(61.5)


@pytest.mark.parametrize(
    ("bedtime", "wake", "expected"),
    [
        ("22:45", "06:30", (utc(2026, 10, 5, 20, 45), utc(2026, 10, 6, 4, 30))),
        ("00:20", "06:30", (utc(2026, 10, 5, 22, 20), utc(2026, 10, 6, 4, 30))),
        ("10:45 PM", "6:30 am", (utc(2026, 10, 5, 20, 45), utc(2026, 10, 6, 4, 30))),
        ("2026-10-05T22:45", "2026-10-06 06:30:00", (utc(2026, 10, 5, 20, 45), utc(2026, 10, 6, 4, 30))),
        ("2026-10-05T21:45:00+01:00", "2026-10-06T04:30:00Z", (utc(2026, 10, 5, 20, 45), utc(2026, 10, 6, 4, 30))),
    ],
)
def test_bedtimes_after_noon_belong_to_the_evening_before(
    bedtime: str, wake: str, expected: tuple[datetime, datetime]
) -> None:
    night = facts_of(HEADER + f"2026-10-06,{bedtime},{wake},,,\n").nights[0]
    assert (night.bedtime, night.wake) == expected
    assert night.total_sleep_min is None


@pytest.mark.parametrize(("day", "hours"), [("2026-03-29", 7), ("2026-10-25", 9), ("2026-06-10", 8)])
def test_the_night_the_clocks_change_is_as_long_as_it_was(day: str, hours: int) -> None:
    night = facts_of(HEADER + f"{day},22:00,06:00,,,\n").nights[0]
    assert night.bedtime is not None
    assert night.wake is not None
    assert night.wake - night.bedtime == timedelta(hours=hours)


def test_other_date_orders_are_read_when_told() -> None:
    text = "date,resting_hr\n03/04/2026,47\n05/04/26,48\n"
    dmy, mdy = (facts_of(text, IntakeOptions("Europe/Oslo", date_order=order)) for order in ("dmy", "mdy"))
    assert [morning.date for morning in dmy.mornings] == [date(2026, 4, 3), date(2026, 4, 5)]
    assert [morning.date for morning in mdy.mornings] == [date(2026, 3, 4), date(2026, 5, 4)]


@pytest.mark.parametrize(
    "cell", ["2026-10-06", "2026/10/6", "2026.10.06", "2026-10-6 07:00", "20261006", "2026-10-06T23:59:00-10:00"]
)
def test_a_date_with_the_year_first_is_read_however_it_is_parted(cell: str) -> None:
    assert facts_of(f"date,resting_hr\n{cell},47\n").mornings[0].date == date(2026, 10, 6)


def test_a_unit_that_is_none_of_time_costs_the_cell_and_is_told() -> None:
    options = IntakeOptions("Europe/Oslo", columns={"total_sleep_min": ColumnMap("Sleep", "bpm")})
    with pytest.raises(Unreadable, match="line 2, Sleep: a length of time has no unit bpm"):
        facts_of("date,Sleep\n2026-10-06,432\n", options)


def test_other_date_orders_are_not_guessed() -> None:
    with pytest.raises(Unreadable, match="line 2, date: '03/04/2026': tell the order of day and month with date_order"):
        facts_of("date,resting_hr\n03/04/2026,47\n")


def test_a_bad_row_costs_that_row_and_names_its_line() -> None:
    facts = facts_of(
        HEADER
        + "2026-10-06,,,432,47,\n\nsometime,,,1,2,\n2026-10-08,,,400,many,\n2026-02-30,,,1,2,\n2026-10-09,,,400,47,\n"
    )
    assert [night.date.day for night in facts.nights] == [6, 8, 9]
    assert [morning.date.day for morning in facts.mornings] == [6, 9]
    assert facts.damaged
    assert [remark.partition(":")[0] for remark in facts.remarks] == [
        "line 4, date",
        "line 5, resting_hr",
        "line 6, date",
    ]


@pytest.mark.parametrize(
    ("column", "value", "reason"),
    [
        ("resting_hr", "24", "25 to 120 bpm"),
        ("resting_hr", "300", "25 to 120 bpm"),
        ("rmssd_ms", "0", "1 to 400 ms"),
        ("rmssd_ms", "401", "1 to 400 ms"),
        ("total_sleep_min", "1441", "0 to 1440 min"),
        ("total_sleep_min", "-5", "0 to 1440 min"),
        ("total_sleep_min", "1e999", "0 to 1440 min"),
    ],
)
def test_values_out_of_bounds_are_left_out_and_told(column: str, value: str, reason: str) -> None:
    facts = facts_of(f"date,energy,{column}\n2026-10-06,5,{value}\n")
    assert (facts.nights, facts.mornings) == ((), ())
    assert reason in facts.remarks[0]


@pytest.mark.parametrize(
    ("bedtime", "wake", "asleep", "in_bed", "kept"),
    [
        ("2026-10-06 07:00:00", "2026-10-06 07:00:30", "", True, ""),
        ("2026-10-06 07:00", "2026-10-06 07:00", "", False, ""),
        ("2026-10-05 07:00", "2026-10-06 07:00", "", True, ""),
        ("2026-10-05 07:00", "2026-10-06 07:01", "", False, ""),
        ("23:00", "07:00", "480", True, "480"),
        ("23:00", "07:00", "481", True, "481"),
        ("23:00", "07:00", "481.5", True, ""),
    ],
)
def test_a_night_in_bed_has_a_day_at_most_and_its_sleep_fits_but_for_a_minute(
    bedtime: str, wake: str, asleep: str, kept: str, *, in_bed: bool
) -> None:
    (night, *_) = (*facts_of(HEADER + f"2026-10-06,{bedtime},{wake},{asleep},47,\n").nights, Night(date.min))
    assert (night.bedtime is not None, night.wake is not None) == (in_bed, in_bed)
    assert night.total_sleep_min == (float(kept) if kept else None)


def test_a_preview_shows_three_rows_under_headers_of_any_spelling() -> None:
    rows = "".join(f'2026-10-0{day}, "5{day}"\n' for day in range(1, 6))
    shown = preview(
        f'date, "Pulse, at rest"\n{rows}'.encode(), IntakeOptions("UTC", {"resting_hr": ColumnMap("Pulse, at rest")})
    )
    assert shown.understood == (("date", "date", ""), ("Pulse, at rest", "resting_hr", "bpm"))
    assert [row["resting_hr"] for row in shown.rows] == ["51", "52", "53"]


def test_more_sleep_than_time_in_bed_is_left_out() -> None:
    facts = facts_of(HEADER + "2026-10-06,23:00,06:00,480,47,\n")
    assert facts.nights[0].total_sleep_min is None
    assert "480 min asleep in 420 min in bed" in facts.remarks[0]


def test_a_night_that_ends_before_it_begins_keeps_its_sleep_only() -> None:
    facts = facts_of(HEADER + "2026-10-06,2026-10-06T06:00,2026-10-05T22:00,420,47,\n")
    assert facts.nights == (Night(date(2026, 10, 6), None, None, 420.0),)
    assert "both left out" in facts.remarks[0]


def test_a_row_without_a_date_takes_the_day_of_waking() -> None:
    facts = facts_of("bedtime,wake_time,total_sleep_min\n2026-10-05 23:30,2026-10-06 07:00,430\n")
    assert facts.nights[0].date == date(2026, 10, 6)


def test_of_two_rows_of_a_day_the_longer_night_and_the_later_morning_stand() -> None:
    facts = facts_of(HEADER + "2026-10-06,,,432,47,60\n2026-10-06,,,45,48,\n")
    assert facts.nights[0].total_sleep_min == 432
    assert facts.mornings == (Morning(date(2026, 10, 6), 48.0, 60.0),)


def test_the_header_may_stand_below_a_title() -> None:
    assert len(facts_of("Export of 2026\n\nmade by a phone\n" + HEADER + "2026-10-06,,,432,47,\n").nights) == 1


def test_a_table_without_known_columns_names_what_it_has_and_what_is_expected() -> None:
    options = IntakeOptions("Europe/Oslo", columns={"rmssd_ms": ColumnMap("HRV")})
    with pytest.raises(Unreadable) as caught:
        facts_of("Datum;Schlaf\n2026-10-06;7\n", options)
    assert str(caught.value) == (
        "no known columns in 'Datum;Schlaf'; expected: date, bedtime, wake_time, total_sleep_min, resting_hr, HRV; "
        'name other headers under [athlete.columns] in the roster, as in date = "Datum"'
    )


def test_check_in_columns_give_check_ins() -> None:
    facts = facts_of(
        "date,stairs_unaided,pain,symptoms\n2026-10-06,no,3,\n2026-10-07 07:30,yes,2,fever\n"
        "2026-10-08,,,\n2026-10-09,yes,12,\n"
    )
    first, second, third = facts.checkins
    assert (first.stairs_unaided, first.pain, first.symptoms) == (False, 3, ())
    assert (second.order, second.symptoms) == (utc(2026, 10, 7, 5, 30).timestamp(), ("fever",))
    assert (third.stairs_unaided, third.pain) == (True, None)
    assert "pain = '12': must be a number from 0 to 10; the other answers are kept" in facts.remarks[0]


def test_a_header_without_rows_is_an_empty_table() -> None:
    facts = facts_of(HEADER)
    assert (facts.nights, facts.mornings, facts.remarks) == ((), (), ())


def test_thousands_of_bad_rows_cost_a_few_remarks() -> None:
    facts = facts_of(HEADER + "2026-10-06,,,432,47,\n" + "x,,,1,1,\n" * 3000)
    assert len(facts.remarks) == 21
    assert facts.remarks[-1] == "and 2980 more like these"


nights = st.dictionaries(
    st.dates(date(2020, 1, 1), date(2030, 1, 1)),
    st.tuples(st.integers(60, 900), st.integers(30, 110), st.floats(2, 300).map(lambda value: round(value, 1))),
    min_size=1,
    max_size=12,
)


@settings(max_examples=50, deadline=None)
@given(nights, st.sampled_from(",;\t|"), st.booleans())
def test_what_is_written_is_read_back(rows: dict[date, tuple[int, int, float]], delimiter: str, comma: bool) -> None:
    lines = [["date", "total_sleep_min", "resting_hr", "rmssd_ms"]]
    for day, (sleep, rate, rmssd) in rows.items():
        written = str(rmssd).replace(".", ",") if comma else str(rmssd)
        lines.append([day.isoformat(), str(sleep), str(rate), f'"{written}"'])
    facts = facts_of("\n".join(delimiter.join(line) for line in lines))
    assert {night.date: night.total_sleep_min for night in facts.nights} == {day: row[0] for day, row in rows.items()}
    assert {m.date: (m.resting_hr, m.rmssd_ms) for m in facts.mornings} == {day: row[1:] for day, row in rows.items()}
    assert facts.remarks == ()


@settings(max_examples=150, deadline=None)
@given(st.text(st.sampled_from('date,;\t"\n\r 0123456789-:.hTZ+é\x00bedtim_wkrsog'), max_size=120), st.booleans())
def test_any_text_is_a_table_or_unreadable(text: str, with_header: bool) -> None:
    try:
        told = facts_of(HEADER + text if with_header else text).remarks
    except Unreadable as reason:
        told = (str(reason),)
    assert all(line.isprintable() for line in told)


HOURS = (
    "Sleep (hours)", "Sleep (hrs)", "Schlaf (Std)", "Schlaf (Std.)", "Sommeil (heures)", "Søvn (t)", "Sleep hours",
    "sleep_h", "Søvn (timer)", "Sueño [horas]",
)  # fmt: skip


@pytest.mark.parametrize("header", HOURS)
def test_hours_in_the_head_of_a_column_are_hours_in_many_languages(header: str) -> None:
    options = IntakeOptions("Europe/Oslo", columns=read_columns({"total_sleep_min": header}))
    assert facts_of(f"date,{header}\n2026-10-06,7.2\n", options).nights[0].total_sleep_min == pytest.approx(432)


@pytest.mark.parametrize("header", ["Sleep (min)", "Schlaf (Minuten)", "Sleep minutes", "Sleep", "Sleep (total)"])
def test_minutes_and_no_unit_are_minutes(header: str) -> None:
    options = IntakeOptions("Europe/Oslo", columns=read_columns({"total_sleep_min": header}))
    assert facts_of(f"date,{header}\n2026-10-06,432\n", options).nights[0].total_sleep_min == 432


@pytest.mark.parametrize(("field", "header"), [("total_sleep_min", "Sleep (blips)"), ("rmssd_ms", "HRV (h)")])
def test_a_bracket_that_is_no_unit_is_named(field: str, header: str) -> None:
    inside = header.partition("(")[2].rstrip(")")
    with pytest.raises(ColumnsError, match=rf"\({inside}\) is no unit that is known"):
        read_columns({field: header})
    assert read_columns({field: {"header": header, "unit": "s"}})[field].unit == "s"


@pytest.mark.parametrize(("minutes", "kept"), [(59.9, False), (60, True), (960, True), (960.1, False), (7.2, False)])
def test_a_total_that_no_person_sleeps_is_left_out_and_said(minutes: float, *, kept: bool) -> None:
    facts = facts_of(f"date,total_sleep_min,resting_hr\n2026-10-06,{minutes},47\n")
    assert bool(facts.nights) == kept
    assert any("is the unit right?" in remark for remark in facts.remarks) != kept


@pytest.mark.parametrize(("minutes", "kept"), [(143, False), (144, True), (145, True)])
def test_a_total_far_below_the_time_in_bed_is_left_out(minutes: float, *, kept: bool) -> None:
    night = facts_of(HEADER + f"2026-10-06,22:30,06:30,{minutes},,\n").nights[0]
    assert (night.total_sleep_min is not None) == kept
    assert night.bedtime is not None


def test_a_preview_tells_columns_units_what_is_passed_over_and_three_rows() -> None:
    options = IntakeOptions("Europe/Oslo", columns=read_columns({"total_sleep_min": "Schlaf (Std)"}))
    text = "log of mine;;\nDate;Schlaf (Std);Wetter\n" + "".join(f"2026-10-0{day};7,2;nass\n" for day in range(1, 7))
    made = preview(text.encode(), options)
    assert made.header_line == 2
    assert made.understood == (("Date", "date", ""), ("Schlaf (Std)", "total_sleep_min", "h"))
    assert made.passed_over == ("Wetter",)
    assert [row["total_sleep_min"] for row in made.rows] == ["7,2"] * 3
    assert [night.total_sleep_min for night in made.facts.nights] == pytest.approx([432] * 3)
