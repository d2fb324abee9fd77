"""The facts of an athlete are the same, asked for alone or among others, and so is when they last came."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import duckdb
import pytest

from monitor.store import body, decisions, findings, intake, recordings
from monitor.store.body import SourceFile
from monitor.store.database import Store
from monitor.store.intake import LedgerRow
from monitor.store.seasons import LONGEST, Season, Window, seasons
from rules.facts import CheckIn, Digest, Hold, Morning, Night, Session

NOW = datetime(2026, 10, 20, 9, tzinfo=UTC)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def session(start: datetime, length: timedelta = HOUR) -> Session:
    return Session(start.isoformat(), start, start + length, "running", "", 60.0, 60.0, None, "s", Digest("run"), "v")


@pytest.fixture
def con(tmp_path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    with Store(tmp_path / "fallow.duckdb").writing() as opened:
        yield opened


def live(con: duckdb.DuckDBPyConnection, athlete: str, first: datetime) -> None:
    """A session, a night, a morning and a check-in a day, told by two files, from `first` to some days past NOW."""
    days = [first + DAY * number for number in range((NOW - first).days + 4)]
    recordings.replace_sessions(con, athlete, [], [(session(day), [number], "now") for number, day in enumerate(days)])
    for mtime_ns, minutes in ((10, 400.0), (20, 410.0)):
        told = SourceFile(f"{mtime_ns}.csv", str(mtime_ns), mtime_ns)
        known = [day.date() for day in (days if mtime_ns == 10 else days[::2])]
        body.insert_nights(con, athlete, told, [Night(day, first, None, minutes) for day in known])
        body.insert_mornings(con, athlete, told, [Morning(day, minutes / 8, None) for day in known])
        body.insert_checkins(con, athlete, told, [CheckIn(day, order=1.0, pain=4) for day in known])
    intake.record(con, LedgerRow(athlete, "a.fit", "aa", 1, 1, "read", read_at=NOW - HOUR, arrived_at=NOW - HOUR))
    decisions.first_time(con, f"{intake.WATCHED}:{athlete}", first)
    decisions.first_time(con, f"{intake.ARRIVED}:{athlete}:x", NOW - 2 * HOUR)
    findings.add_hold(con, athlete, Hold("hold", NOW.date(), NOW, 2, "rest", "ida"))


def test_the_facts_of_one_are_those_of_one_among_others(con: duckdb.DuckDBPyConnection) -> None:
    for number, athlete in enumerate(("a", "a1", "b")):
        live(con, athlete, NOW - DAY * (20 + number))
    starts = {"a": NOW - 9 * DAY, "a1": NOW - 3 * DAY, "b": NOW - 400 * DAY, "nobody": NOW - DAY}
    windows = [Window(athlete, start, start.date(), date(2026, 10, 21)) for athlete, start in starts.items()]
    together = seasons(con, windows, NOW)
    alone = {window.athlete: seasons(con, [window], NOW)[window.athlete] for window in windows}
    assert together == alone
    assert together["nobody"] == Season()
    one = together["a"]
    assert [len(facts) for facts in (one.sessions, one.nights, one.mornings, one.checkins)] == [11, 11, 11, 11]
    assert {night.total_sleep_min for night in one.nights} == {400.0, 410.0}
    assert one.nights[0] == Night(date(2026, 10, 11), NOW - 20 * DAY, None, 400.0, "10.csv")
    assert one.checkins[1].source == "20.csv"
    assert (one.last_arrival, one.watched_since, one.clock_set_back) == (NOW - HOUR, NOW - 20 * DAY, False)


def test_the_later_of_two_arrivals_counts_whichever_store_it_came_to(con: duckdb.DuckDBPyConnection) -> None:
    decisions.first_time(con, f"{intake.ARRIVED}:a:x", NOW)
    decisions.first_time(con, f"{intake.ARRIVED}:a:y", NOW - DAY)
    for name, at in (("a", NOW - HOUR), ("a1", NOW + HOUR)):
        intake.record(con, LedgerRow(name, "a.fit", "aa", 1, 1, "read", read_at=at, arrived_at=at))
    for looks in (
        intake.looks(con),
        intake.looks(con, ["a", "a1"]),
        intake.looks(con, ["a"]) | intake.looks(con, ["a1"]),
    ):
        assert {athlete: look.last_arrival for athlete, look in looks.items()} == {"a": NOW, "a1": NOW + HOUR}
    window = Window("a1", NOW, NOW.date(), NOW.date())
    assert seasons(con, [window], NOW)["a1"].clock_set_back
    assert not seasons(con, [window], NOW + HOUR)["a1"].clock_set_back


@pytest.mark.parametrize("start", [-9, -1, 0, 1, 3])
@pytest.mark.parametrize("last", [-4, -1, 0, 1])
def test_when_facts_last_came_hangs_on_no_window(con: duckdb.DuckDBPyConnection, start: int, last: int) -> None:
    begins = NOW + DAY * start
    window = Window("a", begins, begins.date(), (NOW + DAY * last).date())
    assert seasons(con, [window], NOW)["a"].last_fact_at is None
    tellings = (
        lambda: body.insert_nights(con, "a", SourceFile("o", "o", 1), [Night(begins.date())]),
        lambda: body.insert_nights(
            con, "a", SourceFile("n", "n", 1), [Night(date(2026, 10, 11)), Night(date(2062, 1, 1))]
        ),
        lambda: recordings.replace_sessions(con, "a", [], [(session(begins - HOUR, LONGEST / 2), [1], None)]),
        lambda: body.insert_mornings(con, "a", SourceFile("m", "m", 1), [Morning(date(2026, 10, 19), 50.0)]),
        lambda: body.insert_checkins(con, "a", SourceFile("c", "c", 1), [CheckIn(NOW.date(), order=1.0)]),
        lambda: recordings.replace_sessions(con, "a", [], [(session(NOW - HOUR), [2], None)]),
    )
    for tell in tellings:
        tell()
        known = body.last_facts_at(con, ["a"], NOW).get("a")
        assert seasons(con, [window], NOW)["a"].last_fact_at == known
    assert known == NOW


def test_sessions_are_told_up_to_a_day_from_now_and_from_the_beginning_of_the_window(
    con: duckdb.DuckDBPyConnection,
) -> None:
    second = timedelta(seconds=1)
    starts = [NOW - DAY - second, NOW - DAY, NOW + DAY, NOW + DAY + second]
    told = [(session(start), [number], None) for number, start in enumerate(starts)]
    recordings.replace_sessions(con, "a", [], told)
    for windows in ([Window("a", NOW - DAY)], [Window("a", NOW - DAY), Window("b", NOW)]):
        assert [one.start for one in seasons(con, windows, NOW)["a"].sessions] == starts[1:3]
    assert seasons(con, [], NOW) == {}
