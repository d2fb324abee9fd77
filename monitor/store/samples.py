"""Per-second facts: float columns in memory, scaled integers in the store."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import duckdb
import numpy as np
import numpy.typing as npt
import polars as pl

from monitor.intake.facts import Samples
from rules.facts import SAMPLE_COLUMNS

# column in memory -> (column in the store, steps per unit, integer type)
SCALES: dict[str, tuple[str, float, type[np.signedinteger[Any] | np.unsignedinteger[Any]]]] = {
    "t_s": ("t_ms", 1000, np.int32),
    "hr_bpm": ("hr_bpm", 1, np.uint8),
    "speed_mps": ("speed_mmps", 1000, np.uint16),
    "cadence_spm": ("cadence_dspm", 10, np.uint16),
    "distance_m": ("distance_cm", 100, np.int32),
    "altitude_m": ("altitude_dm", 10, np.int16),
    "lat_deg": ("lat_e7", 1e7, np.int32),
    "lon_deg": ("lon_e7", 1e7, np.int32),
    "power_w": ("power_w", 1, np.uint16),
    "temperature_c": ("temperature_c", 1, np.int8),
}


def append(con: duckdb.DuckDBPyConnection, recordings: Sequence[tuple[int, Samples]]) -> None:
    """Write the samples of several recordings in one statement."""
    filled = [(number, samples) for number, samples in recordings if samples and len(samples.get("t_s", ()))]
    if not filled:
        return
    lengths = [len(samples["t_s"]) for _, samples in filled]
    rows: dict[str, npt.NDArray[np.generic]] = {
        "recording": np.repeat(np.array([number for number, _ in filled], dtype=np.int32), lengths)
    }
    for column, (stored, scale, kind) in SCALES.items():
        parts = [
            np.asarray(samples.get(column, np.full(length, np.nan)), dtype=np.float64)
            for (_, samples), length in zip(filled, lengths, strict=True)
        ]
        rows[stored] = _scaled(np.concatenate(parts), scale, kind)
    con.execute("INSERT INTO sample SELECT * FROM rows")


def _scaled(
    values: npt.NDArray[np.float64], scale: float, kind: type[np.signedinteger[Any] | np.unsignedinteger[Any]]
) -> npt.NDArray[np.generic]:
    """Masked integers; what does not fit the type is missing rather than wrong."""
    scaled = np.round(values * scale)
    limits = np.iinfo(kind)
    bad = ~np.isfinite(scaled) | (scaled < limits.min) | (scaled > limits.max)
    return np.ma.masked_array(np.where(bad, 0, scaled).astype(kind), mask=bad)


def load(con: duckdb.DuckDBPyConnection, numbers: Sequence[int]) -> pl.DataFrame:
    """Samples of the named recordings in order of recording and time: `recording` and rules.facts.SAMPLE_COLUMNS."""
    columns = ", ".join(f"{stored} / {scale} AS {column}" for column, (stored, scale, _) in SCALES.items())
    places = ", ".join("?" for _ in numbers)
    query = f"SELECT recording, {columns} FROM sample WHERE recording IN ({places}) ORDER BY recording, t_ms"
    rows = pl.DataFrame(con.sql(query, params=list(numbers)))
    return rows.with_columns([pl.col(column).cast(pl.Float64) for column in SAMPLE_COLUMNS])
