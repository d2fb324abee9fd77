"""Nights, mornings and check-ins: all are kept, the newest telling of a day stands, in any order of arrival."""

from __future__ import annotations

from datetime import date
from itertools import permutations
from pathlib import Path

from monitor.store import body
from monitor.store.body import SourceFile
from monitor.store.database import Store
from rules.facts import CheckIn, Morning, Night

DAY = date(2026, 10, 7)


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
            assert body.mornings(con, "a", DAY, DAY) == [Morning(DAY, 52.0, 71.5, "new.csv")]


def test_a_value_that_is_corrected_and_corrected_back_stands_in_any_order(tmp_path: Path) -> None:
    tellings = [(10, 48.0), (20, 50.0), (30, 48.0)]
    for number, order in enumerate(permutations(tellings)):
        with Store(tmp_path / f"{number}.duckdb").writing() as con:
            for mtime_ns, resting_hr in order:
                morning = Morning(DAY, resting_hr, None, f"{mtime_ns}.csv")
                body.insert_mornings(con, "a", SourceFile(morning.source or "", str(mtime_ns), mtime_ns), [morning])
            assert [morning.resting_hr for morning in body.mornings(con, "a", DAY, DAY)] == [48.0]


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
        assert body.nights(con, "a", DAY, DAY) == [Night(DAY, None, None, 412.0, "n.csv")]


def test_of_two_checkins_without_a_time_the_one_written_later_is_last(tmp_path: Path) -> None:
    with Store(tmp_path / "x.duckdb").writing() as con:
        body.insert_checkins(con, "a", SourceFile("late.checkin.json", "2", 20), [CheckIn(DAY, 100.0, pain=2.0)])
        body.insert_checkins(con, "a", SourceFile("early.checkin.json", "1", 10), [CheckIn(DAY, 100.0, pain=6.0)])
        found = body.checkins(con, "a", DAY, DAY)
    assert [checkin.source for checkin in found] == ["early.checkin.json", "late.checkin.json"]
    assert found[0].order < found[1].order
