"""A date in the future is left out and said, and never passes for the newest word of an athlete."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from monitor.folders.listing import look
from monitor.intake.plausible import without_days_ahead
from monitor.intake.storing import PassMoment, ReadFile, keep
from monitor.roster import RosterAthlete, read_roster
from monitor.store import body, intake
from monitor.store.database import Store
from monitor.values import FileFacts, Recording
from rules.facts import CheckIn, Morning, Night
from rules.limits import default_limits
from tests.homes import fallow, make_home, put
from tests.monitor.store.told import season

TODAY = date(2026, 10, 13)
NOON = datetime(2026, 10, 13, 12, tzinfo=UTC)


@pytest.mark.parametrize(("days", "kept"), [(0, True), (1, True), (2, False), (13000, False)])
def test_up_to_a_day_ahead_is_believed(days: int, kept: bool) -> None:
    day = TODAY + timedelta(days=days)
    told = FileFacts("x", nights=(Night(day),), mornings=(Morning(day, 50.0),), checkins=(CheckIn(day, 1.0),))
    facts, again_on = without_days_ahead(told, TODAY)
    assert (facts == told) is kept
    assert again_on == (None if kept else day)
    if not kept:
        assert (facts.nights, facts.mornings, facts.checkins) == ((), (), ())
        assert facts.remarks == (f"3 entries dated {day}, in the future: left out; correct the date",)


@pytest.mark.parametrize(("days", "told"), [(0, False), (1, False), (2, True)])
def test_a_session_of_a_day_that_has_not_come_is_kept_and_said(days: int, told: bool) -> None:
    start = NOON + timedelta(days=days)
    recording = Recording(start, start, "running", "generic", 1.0, 1.0, None, {"t_s": np.arange(2.0)})
    facts, again_on = without_days_ahead(FileFacts("x", recordings=(recording,)), TODAY)
    assert (len(facts.recordings), again_on) == (1, None)
    assert bool(facts.remarks) is told
    assert not told or str(start.date()) in facts.remarks[0]


def test_of_several_days_ahead_the_first_and_the_last_are_said() -> None:
    days = [TODAY + timedelta(days=days) for days in (4, 1, 2, 0, 3)]
    facts, again_on = without_days_ahead(FileFacts("x", mornings=tuple(Morning(day, 50.0) for day in days)), TODAY)
    assert [one.date for one in facts.mornings] == [days[1], days[3]]
    assert facts.remarks[0].startswith("3 entries dated 2026-10-15 to 2026-10-17,")
    assert again_on == date(2026, 10, 15)


def test_one_mistyped_year_does_not_hide_a_silence(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    put(home / "exports/runa/nights.csv", b"date,total_sleep_min\n2026-10-05,430\n2062-10-06,431\n")
    fallow("scan", "--as-of", "2026-10-05T12:00", home=home)
    (row,) = fallow("intake", "--json", home=home).json()
    assert row["nights"] == 1
    assert "1 entry dated 2062-10-06, in the future: left out" in row["reason"]
    fallow("scan", "--as-of", "2026-10-12T12:00", home=home)
    assert [one["rule"] for one in fallow("findings", "--json", home=home).json()] == ["gone_quiet"]


def test_a_date_in_the_future_that_an_older_program_stored_is_not_the_last_word(tmp_path: Path) -> None:
    store = Store(tmp_path / "fallow.duckdb")
    with store.writing() as con:
        nights = [Night(date(2026, 10, 5), source="a"), Night(date(2062, 10, 5), source="a")]
        body.insert_nights(con, "runa", body.SourceFile("x", "x", 1), nights)
        assert body.last_facts_at(con, ["runa"], NOON)["runa"] == datetime(2026, 10, 5, 12, tzinfo=UTC)


def athlete_of(home: Path) -> RosterAthlete:
    athlete = read_roster(home / "roster.toml").athlete("runa")
    assert athlete is not None
    return athlete


def test_what_a_clock_set_back_called_the_future_is_read_again_when_it_is_right(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={"nights.csv": b"date,total_sleep_min\n2026-10-10,430\n2026-10-11,431\n"})
    (seen,) = look(home / "exports/runa").files
    athlete = athlete_of(home)
    nights = (Night(date(2026, 10, 10)), Night(date(2026, 10, 11)))
    told = ReadFile(seen, "bytes", FileFacts("csv", nights=nights), None)
    store = Store(home / "fallow.duckdb")
    wrong = datetime(2020, 1, 1, tzinfo=UTC)
    with store.writing() as con:
        keep(con, athlete, [told], PassMoment(wrong, wrong, False, False), default_limits())
        assert season(con, "runa", date.min, date.max).nights == []
        assert intake.known(con, "runa", athlete.options.fingerprint) == {}, "by the right clock its days are here"
        keep(con, athlete, [told], PassMoment(NOON, NOON, False, False), default_limits())
        assert [one.date for one in season(con, "runa", date.min, date.max).nights] == [one.date for one in nights]
        assert intake.known(con, "runa", athlete.options.fingerprint)
