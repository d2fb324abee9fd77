"""Pressed laps and the barometer of a recording, in stores of now and in those that were begun before them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from importlib import resources
from pathlib import Path

import duckdb
import numpy as np
import pytest

from monitor.intake import sessions
from monitor.store import recordings
from monitor.store.database import Store
from monitor.store.recordings import FileRecording
from monitor.values import Recording
from rules.limits import default_limits

START = datetime(2026, 10, 9, 16, tzinfo=UTC)
HOUR = timedelta(hours=1)
RUN = Recording(
    START, START + HOUR, "running", "generic", 3600.0, 3600.0, 10_000.0, {"t_s": np.arange(3600.0)},
    lap_marks_s=(600.0, 780.5), barometer=False,
)  # fmt: skip
AFTER = replace(RUN, start=RUN.end + HOUR / 60, end=RUN.end + 61 * HOUR / 60, lap_marks_s=(60.0,), barometer=None)


def settled(path: Path, *told: Recording) -> list[tuple[tuple[float, ...], bool | None]]:
    limits = default_limits()
    with Store(path).writing() as con:
        recordings.insert(
            con, "runa", [FileRecording(f"{part:064d}", "a.fit", 0, one, 1.0) for part, one in enumerate(told)]
        )
        sessions.merge_recordings(con, "runa", [(START, START + 3 * HOUR)], limits)
        return [(one.lap_marks_s, one.barometer) for one in recordings.sessions(con, "runa")]


@pytest.mark.parametrize("told", [RUN, replace(RUN, lap_marks_s=(), barometer=None)], ids=["known", "unknown"])
def test_marks_and_barometer_come_back_with_the_session(tmp_path: Path, told: Recording) -> None:
    assert settled(tmp_path / "x.duckdb", told) == [(told.lap_marks_s, told.barometer)]


def test_a_session_of_two_recordings_has_the_marks_of_both_on_one_clock(tmp_path: Path) -> None:
    assert settled(tmp_path / "x.duckdb", RUN, AFTER) == [((600.0, 780.5, 3720.0), False)]


def test_a_store_begun_before_laps_were_kept_opens_and_tells_of_none(tmp_path: Path) -> None:
    path = tmp_path / "x.duckdb"
    folder = resources.files("monitor.store").joinpath("migrations")
    before = sorted(one.name for one in folder.iterdir() if one.name < "0008" and one.name.endswith(".sql"))
    with duckdb.connect(str(path)) as con:
        con.execute("CREATE TABLE migration (name VARCHAR NOT NULL)")
        for name in before:
            con.execute(folder.joinpath(name).read_text("utf-8"))
            con.execute("INSERT INTO migration VALUES (?)", [name])
        con.execute(
            "INSERT INTO session (athlete, key, started, ended, sport, sub_sport, timer_s, elapsed_s, source, version,"
            " pauses, parts, digest) VALUES ('runa', 'k', '2026-10-01', '2026-10-01', 'running', 'generic', 1, 1,"
            """ 'a.fit', 'v', '[]', '[]', '{"sport": "running"}')"""
        )
    assert settled(path, RUN) == [((), None), (RUN.lap_marks_s, False)]


def test_samples_of_two_recordings_of_a_session_lie_on_one_clock(tmp_path: Path) -> None:
    """The second begins where it does, and what both recorded is told once."""
    again = replace(RUN, start=RUN.end - HOUR / 60, end=RUN.end + HOUR / 2, samples={"t_s": np.arange(1860.0)})
    with Store(tmp_path / "x.duckdb").writing() as con:
        told = [FileRecording(f"{part:064d}", "a.fit", 0, one, 1.0) for part, one in enumerate((RUN, again))]
        recordings.insert(con, "runa", told)
        numbers = [one.span.number for one in recordings.all_of(con, "runa")]
        for order in (numbers, numbers[::-1]):
            joined = recordings.samples_joined(con, order, START)["t_s"]
            assert joined.tolist() == list(range(3600)) + list(range(3600, 5400))


def test_time_is_each_recordings_own_from_where_the_earlier_ended() -> None:
    told = [(3, START + 2 * HOUR, START + 3 * HOUR), (1, START, START + 4 * HOUR), (2, START + HOUR, START + 5 * HOUR)]
    assert recordings.own_since(told) == {1: START, 2: START + 4 * HOUR, 3: START + 5 * HOUR}
