"""Samples of stores that were begun before steps were kept come out as they were."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import duckdb
import numpy as np

from monitor.store import samples
from monitor.store.database import Store

BEFORE = ("0001_facts.sql", "0002_alerts.sql")


def test_samples_stored_as_totals_are_turned_into_steps_and_read_as_before(tmp_path: Path) -> None:
    path = tmp_path / "fallow.duckdb"
    with duckdb.connect(str(path)) as con:
        con.execute("CREATE TABLE migration (name VARCHAR NOT NULL)")
        for name in BEFORE:
            con.execute(resources.files("monitor.store").joinpath("migrations", name).read_text("utf-8"))
            con.execute("INSERT INTO migration VALUES (?)", [name])
        for recording in (1, 2):
            con.execute(
                "INSERT INTO sample (recording, t_ms, hr_bpm, distance_cm) VALUES"
                " ($n, 0, 100, $n * 500), ($n, 1000, NULL, NULL), ($n, 3000, 101, 900), ($n, 3000, 102, 800)",
                {"n": recording},
            )
            con.execute(
                "INSERT INTO recording VALUES ($n, 'runa', 'aa', 'a.fit', $n, '2026-10-04', '2026-10-04', 'run', '',"
                " 3, 3, 9, '[]', NULL, 'fit', 1, '{}')",
                {"n": recording},
            )
    with Store(path).reading() as con:
        read = samples.load_each(con, [1, 2])
    assert list(read) == [1, 2]
    for number, first in ((1, 5), (2, 10)):
        np.testing.assert_array_equal(read[number]["t_s"], [0, 1, 3, 3])
        np.testing.assert_array_equal(read[number]["hr_bpm"], [100, np.nan, 101, 102])
        np.testing.assert_array_equal(read[number]["distance_m"], [first, np.nan, 9, 8])


def test_distances_that_begin_late_fall_and_stop_return_as_they_went_in(tmp_path: Path) -> None:
    distance = np.array([np.nan, 12.5, np.nan, 11.0, 4000.25, np.nan])
    clock = np.arange(6.0)
    with Store(tmp_path / "x.duckdb").writing() as con:
        samples.append(con, [(3, {"t_s": clock + 7, "distance_m": distance}), (4, {"t_s": clock})])
        samples.append(con, [(5, {"t_s": clock, "distance_m": distance})])
        read = samples.load_each(con, [5, 3, 6])
    assert list(read) == [5, 3, 6]
    for number, begins in ((3, 7), (5, 0)):
        np.testing.assert_array_equal(read[number]["t_s"], clock + begins)
        np.testing.assert_array_equal(read[number]["distance_m"], distance)
    assert len(read[6]["t_s"]) == 0


def test_recordings_without_a_sample_are_empty_also_where_no_other_is_asked_for(tmp_path: Path) -> None:
    with Store(tmp_path / "x.duckdb").writing() as con:
        for numbers in ([6], [], [7, 6]):
            read = samples.load_each(con, numbers)
            assert list(read) == numbers
            assert all(len(table["t_s"]) == 0 for table in read.values())
