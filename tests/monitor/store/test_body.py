"""Nights, mornings and check-ins: all are kept, the newest telling of a day stands, in any order of arrival."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import permutations
from pathlib import Path

import duckdb
import pytest

from monitor.store import body
from monitor.store.body import SourceFile
from monitor.store.database import Store
from monitor.store.seasons import Season
from rules.facts import CheckIn, Morning, Night
from tests.monitor.store import told

DAY = date(2026, 10, 7)


def test_of_whom_the_store_has_nothing_it_tells_nothing(tmp_path: Path) -> None:
    with Store(tmp_path / "x.duckdb").writing() as con:
        assert told.season(con, "a") == Season([], [], [], [], [], [], None, None, None, False, False)


def test_a_morning_told_again_is_not_new(tmp_path: Path) -> None:
    with Store(tmp_path / "x.duckdb").writing() as con:
        mornings = [Morning(DAY, 48.0, 71.5, "m.csv"), Morning(date(2026, 10, 8), 50.0, None, "m.csv")]
        assert body.insert_mornings(con, "a", SourceFile("m.csv", "1", 10), mornings) == [DAY, date(2026, 10, 8)]
        assert body.insert_mornings(con, "a", SourceFile("m.csv", "2", 20), mornings) == []
        assert body.insert_mornings(con, "b", SourceFile("m.csv", "2", 20), mornings[:1]) == [DAY]


def test_the_newer_file_stands_field_by_field_whichever_came_first(tmp_path: Path) -> None:
    for order in ((0, 1), (1, 0)):
        tellings = [(10, Morning(DAY, 48.0, 71.5, "old.csv")), (20, Morning(DAY, 52.0, None, "new.csv"))]
        with Store(tmp_path / f"{order[0]}.duckdb").writing() as con:
            for index in order:
                mtime_ns, morning = tellings[index]
                body.insert_mornings(con, "a", SourceFile(morning.source or "", str(mtime_ns), mtime_ns), [morning])
            assert told.season(con, "a", DAY, DAY).mornings == [Morning(DAY, 52.0, 71.5, "new.csv")]


def test_a_value_that_is_corrected_and_corrected_back_stands_in_any_order(tmp_path: Path) -> None:
    tellings = [(10, 48.0), (20, 50.0), (30, 48.0)]
    for number, order in enumerate(permutations(tellings)):
        with Store(tmp_path / f"{number}.duckdb").writing() as con:
            for mtime_ns, resting_hr in order:
                morning = Morning(DAY, resting_hr, None, f"{mtime_ns}.csv")
                body.insert_mornings(con, "a", SourceFile(morning.source or "", str(mtime_ns), mtime_ns), [morning])
            assert [morning.resting_hr for morning in told.season(con, "a", DAY, DAY).mornings] == [48.0]


def test_a_correction_back_is_something_new_to_judge(tmp_path: Path) -> None:
    with Store(tmp_path / "x.duckdb").writing() as con:
        for mtime_ns, resting_hr in ((10, 48.0), (20, 50.0)):
            body.insert_mornings(
                con, "a", SourceFile("m.csv", str(mtime_ns), mtime_ns), [Morning(DAY, resting_hr, None)]
            )
        again = [Morning(DAY, 48.0, None, "m.csv")]
        assert body.insert_mornings(con, "a", SourceFile("m.csv", "3", 30), again) == [DAY]
        assert body.insert_mornings(con, "a", SourceFile("m.csv", "4", 40), again) == []


def test_nights_without_times_are_kept(tmp_path: Path) -> None:
    with Store(tmp_path / "x.duckdb").writing() as con:
        body.insert_nights(con, "a", SourceFile("n.csv", "1", 10), [Night(DAY, None, None, 412.0, "n.csv")])
        assert told.season(con, "a", DAY, DAY).nights == [Night(DAY, None, None, 412.0, "n.csv")]


def test_of_two_checkins_without_a_time_the_one_written_later_is_last(tmp_path: Path) -> None:
    with Store(tmp_path / "x.duckdb").writing() as con:
        body.insert_checkins(con, "a", SourceFile("late.checkin.json", "2", 20), [CheckIn(DAY, 100.0, pain=2.0)])
        body.insert_checkins(con, "a", SourceFile("early.checkin.json", "1", 10), [CheckIn(DAY, 100.0, pain=6.0)])
        found = told.season(con, "a", DAY, DAY).checkins
    assert [checkin.source for checkin in found] == ["early.checkin.json", "late.checkin.json"]
    assert found[0].order < found[1].order


BED = datetime(2026, 10, 6, 21, 30, tzinfo=UTC)
LATER = timedelta(hours=1)


def stored(con: duckdb.DuckDBPyConnection, table: str) -> int:
    [(count,)] = con.execute(f"SELECT count(*) FROM {table}").fetchall()
    return int(count)


def test_a_file_that_is_corrected_says_only_what_it_says_now(tmp_path: Path) -> None:
    """Another bedtime, another pulse: neither is a second night nor a second morning of that date."""
    with Store(tmp_path / "x.duckdb").writing() as con:
        for number, moved in enumerate((0, 1)):
            night = Night(DAY, BED + moved * LATER, BED + 8 * LATER, 412.0, "n.csv")
            body.insert_nights(con, "a", SourceFile("n.csv", f"{number}", number), [night])
            morning = Morning(DAY, 48.0 + moved, 60.0, "m.csv")
            body.insert_mornings(con, "a", SourceFile("m.csv", f"{number}", number), [morning])
        assert (stored(con, "night"), stored(con, "morning")) == (1, 1)
        assert told.season(con, "a", DAY, DAY).nights == [Night(DAY, BED + LATER, BED + 8 * LATER, 412.0, "n.csv")]


def test_what_is_no_longer_told_of_its_days_goes_and_what_lies_beyond_them_stays(tmp_path: Path) -> None:
    days = [DAY + timedelta(days=number) for number in range(4)]
    with Store(tmp_path / "x.duckdb").writing() as con:
        every = [Morning(day, 48.0, None, "m.csv") for day in days]
        body.insert_mornings(con, "a", SourceFile("m.csv", "1", 1), every)
        body.insert_mornings(con, "a", SourceFile("m.csv", "2", 2), [every[1], every[3]])
        assert [one.date for one in told.season(con, "a", days[0], days[3]).mornings] == [days[0], days[1], days[3]]


def test_of_files_that_say_alike_the_two_newest_are_kept(tmp_path: Path) -> None:
    with Store(tmp_path / "x.duckdb").writing() as con:
        for number in (2, 4, 1, 3):
            told = [Night(DAY, None, None, 412.0, f"{number}.csv")], [Morning(DAY, 48.0, None, f"{number}.csv")]
            body.insert_nights(con, "a", SourceFile(f"{number}.csv", f"{number}", number), told[0])
            body.insert_mornings(con, "a", SourceFile(f"{number}.csv", f"{number}", number), told[1])
        for table in ("night", "morning"):
            kept = con.execute(f"SELECT source FROM {table} ORDER BY source").fetchall()
            assert kept == [("3.csv",), ("4.csv",)]


def test_of_files_as_new_as_each_other_the_same_one_is_named_in_any_order(tmp_path: Path) -> None:
    """Nights of files with other bytes, mornings and check-ins of copies of one file."""
    for number, order in enumerate(permutations("abc")):
        with Store(tmp_path / f"{number}.duckdb").writing() as con:
            for name in order:
                body.insert_nights(con, "a", SourceFile(f"{name}.csv", name, 10), [Night(DAY, None, None, 412.0)])
                body.insert_mornings(con, "a", SourceFile(f"{name}.csv", "same", 10), [Morning(DAY, 48.0, None)])
                body.insert_checkins(
                    con, "a", SourceFile(f"{name}.checkin.json", "same", 10), [CheckIn(DAY, 1.0, soreness=2.0)]
                )
            season = told.season(con, "a", DAY, DAY)
            assert [night.source for night in season.nights] == ["c.csv"]
            assert [morning.source for morning in season.mornings] == ["c.csv"]
            assert [checkin.source for checkin in season.checkins] == ["c.checkin.json"]


def test_a_file_written_again_with_the_same_in_it_is_as_new_as_it_is(tmp_path: Path) -> None:
    """What an older file says otherwise does not stand against it."""
    with Store(tmp_path / "x.duckdb").writing() as con:
        for mtime_ns in (10, 30):
            again = [Morning(DAY, 48.0, None, "m.csv")]
            body.insert_mornings(con, "a", SourceFile("m.csv", f"{mtime_ns}", mtime_ns), again)
        body.insert_mornings(con, "a", SourceFile("o.csv", "20", 20), [Morning(DAY, 52.0, None, "o.csv")])
        assert [one.resting_hr for one in told.season(con, "a", DAY, DAY).mornings] == [48.0]


def test_a_hundred_and_more_facts_of_one_file_are_all_kept(tmp_path: Path) -> None:
    days = [DAY + timedelta(days=number) for number in range(201)]
    with Store(tmp_path / "x.duckdb").writing() as con:
        body.insert_mornings(con, "a", SourceFile("m.csv", "1", 1), [Morning(day, 48.0, None, "m.csv") for day in days])
        assert stored(con, "morning") == 201


def test_a_check_in_that_is_corrected_says_only_what_it_says_now(tmp_path: Path) -> None:
    """At the same moment; of another moment of that day it is another check-in."""
    with Store(tmp_path / "x.duckdb").writing() as con:
        for number, (order, pain) in enumerate(((100.0, 6.0), (100.0, 2.0), (200.0, 1.0))):
            file = SourceFile("a.checkin.json", f"{number}", number)
            body.insert_checkins(con, "a", file, [CheckIn(DAY, order, pain=pain)])
        assert [(one.order, one.pain) for one in told.season(con, "a", DAY, DAY).checkins] == [
            (100.0, 2.0),
            (200.0, 1.0),
        ]


@pytest.mark.parametrize(
    ("told", "stands"),
    [
        ([100.0, 101.0], [100.0, 101.0]),
        ([100.0, 100.0], [100.0, 100.001]),
        ([100.0, 200.0, 150.0], [100.0, 200.0, 200.001]),
        ([100.0, 100.0, 100.0], [100.0, 100.001, 100.002]),
    ],
)
def test_a_check_in_written_later_stands_a_moment_later(told: list[float], stands: list[float]) -> None:
    found: list[CheckIn] = []
    for order in told:
        body.add_checkin(found, CheckIn(DAY, order), "a.checkin.json")
    body.add_checkin(found, CheckIn(DAY + timedelta(days=1), 7.0), "b.checkin.json")
    assert [one.order for one in found] == [pytest.approx(order, abs=1e-6) for order in (*stands, 7.0)]
    assert {one.source for one in found} == {"a.checkin.json", "b.checkin.json"}


def test_of_a_check_in_that_files_tell_alike_each_teller_is_kept(tmp_path: Path) -> None:
    """Where one of them is corrected, the others still say it."""
    with Store(tmp_path / "x.duckdb").writing() as con:
        for number in range(3):
            file = SourceFile(f"{number}.checkin.json", f"{number}", number)
            body.insert_checkins(con, "a", file, [CheckIn(DAY, 100.0, pain=6.0)])
        assert stored(con, "checkin") == 3
        assert len(told.season(con, "a", DAY, DAY).checkins) == 1
