"""Samples go in as scaled integers and come out as they were, to the device's resolution."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.store import samples
from monitor.store.database import Store

STEP = {
    "t_s": 1e-3,
    "hr_bpm": 1,
    "speed_mps": 1e-3,
    "cadence_spm": 0.1,
    "distance_m": 0.01,
    "altitude_m": 0.1,
    "lat_deg": 1e-7,
    "lon_deg": 1e-7,
    "power_w": 1,
    "temperature_c": 1,
}
RANGE = {
    "t_s": (0, 200_000),
    "hr_bpm": (0, 255),
    "speed_mps": (0, 65),
    "cadence_spm": (0, 255),
    "distance_m": (0, 1_000_000),
    "altitude_m": (-400, 3200),
    "lat_deg": (-90, 90),
    "lon_deg": (-180, 180),
    "power_w": (0, 2000),
    "temperature_c": (-40, 60),
}


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Store:
    return Store(tmp_path_factory.mktemp("store") / "fallow.duckdb")


@settings(max_examples=25, deadline=None)
@given(st.integers(1, 60), st.randoms(use_true_random=False))
def test_samples_return_as_they_went_in(store: Store, length: int, random: object) -> None:
    rng = np.random.default_rng(random.getrandbits(32))
    table = {}
    for column, (low, high) in RANGE.items():
        values = rng.uniform(low, high, length)
        if column == "t_s":
            values = np.sort(values)
        else:
            values[rng.random(length) < 0.3] = np.nan
        table[column] = values
    with store.writing() as con:
        con.execute("DELETE FROM sample")
        samples.append(con, [(7, table), (8, {"t_s": np.array([0.0, 1.0])})])
        read, other = samples.load_each(con, [7, 8]).values()
    for column, values in table.items():
        got = read[column]
        assert np.array_equal(np.isnan(got), np.isnan(values))
        assert np.nanmax(np.abs(got - values), initial=0) <= STEP[column] / 2 + 1e-9
    assert len(other["t_s"]) == 2
    assert np.isnan(other["hr_bpm"]).all()


def test_samples_come_back_to_the_last_bit_as_what_was_just_read_is_measured(store: Store) -> None:
    rng = np.random.default_rng(3)
    table = {column: rng.uniform(low, high, 500) for column, (low, high) in RANGE.items()}
    with store.writing() as con:
        con.execute("DELETE FROM sample")
        samples.append(con, [(7, table)])
        read = samples.load_each(con, [7])[7]
    for column, values in samples.as_stored(table).items():
        assert np.array_equal(values, read[column], equal_nan=True), column


def test_a_value_that_no_device_means_is_missing_rather_than_wrong(tmp_path: Path) -> None:
    with Store(tmp_path / "x.duckdb").writing() as con:
        samples.append(con, [(1, {"t_s": np.array([0.0]), "hr_bpm": np.array([999.0]), "speed_mps": np.array([-1.0])})])
        read = samples.load_each(con, [1])[1]
    assert np.isnan(read["hr_bpm"]).tolist() == [True]
    assert np.isnan(read["speed_mps"]).tolist() == [True]


@pytest.mark.parametrize(
    ("column", "value", "kept"),
    [
        ("t_s", 1.2344, 1.234), ("hr_bpm", 120.4, 120), ("speed_mps", 3.1234, 3.123), ("cadence_spm", 165.44, 165.4),
        ("distance_m", 1000.004, 1000.0), ("distance_m", 1000.006, 1000.01), ("altitude_m", -12.34, -12.3),
        ("lat_deg", 59.91387651, 59.9138765), ("lon_deg", -179.99999996, -180.0), ("power_w", 250.4, 250),
        ("temperature_c", -12.4, -12),
    ],
)  # fmt: skip
def test_each_column_is_kept_in_the_steps_of_its_devices(column: str, value: float, kept: float) -> None:
    found = samples.as_stored({"t_s": np.array([0.0]), column: np.array([value])})
    assert found[column].tolist() == [kept]


@pytest.mark.parametrize(
    ("column", "least", "most", "step"),
    [
        ("hr_bpm", 0, 255, 1), ("speed_mps", 0, 65.535, 0.001), ("cadence_spm", 0, 6553.5, 0.1),
        ("altitude_m", -3276.8, 3276.7, 0.1), ("power_w", 0, 65535, 1), ("temperature_c", -128, 127, 1),
    ],
)  # fmt: skip
def test_what_does_not_fit_a_column_is_missing(column: str, least: float, most: float, step: float) -> None:
    values = np.array([least - step, least, most, most + step, np.inf])
    found = samples.as_stored({"t_s": np.arange(5.0), column: values})[column]
    assert np.isfinite(found).tolist() == [False, True, True, False, False]


def test_what_rounds_to_nothing_is_no_negative_nothing() -> None:
    found = samples.as_stored({"t_s": np.array([0.0]), "altitude_m": np.array([-0.04])})["altitude_m"]
    assert found.tolist() == [0.0]
    assert not np.signbit(found).any()


def test_a_recording_without_a_clock_has_no_samples(store: Store) -> None:
    with store.writing() as con:
        con.execute("DELETE FROM sample")
        samples.append(con, [(7, {"hr_bpm": np.array([120.0])}), (8, {}), (9, {"t_s": np.zeros(0)})])
        assert con.execute("SELECT count(*) FROM sample").fetchall() == [(0,)]
