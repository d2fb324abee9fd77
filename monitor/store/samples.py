"""Per-second facts: float columns in memory, scaled integers in the store, of time and distance the steps."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from rules.facts import SAMPLE_COLUMNS

if TYPE_CHECKING:  # the processes that decode round samples as they are stored, and need no database for it
    import duckdb

    from monitor.values import Samples

# How per-second facts lie in the store: whole numbers in the device's own steps.
# column in memory -> (column in the store, steps per unit, integer type)
SCALES: dict[str, tuple[str, float, type[np.signedinteger[Any] | np.unsignedinteger[Any]]]] = {
    "t_s": ("t_step_ms", 1000, np.int32),
    "hr_bpm": ("hr_bpm", 1, np.uint8),
    "speed_mps": ("speed_mmps", 1000, np.uint16),
    "cadence_spm": ("cadence_dspm", 10, np.uint16),
    "distance_m": ("distance_step_cm", 100, np.int32),
    "altitude_m": ("altitude_dm", 10, np.int16),
    "lat_deg": ("lat_e7", 1e7, np.int32),
    "lon_deg": ("lon_e7", 1e7, np.int32),
    "power_w": ("power_w", 1, np.uint16),
    "temperature_c": ("temperature_c", 1, np.int8),
}


def scaled(column: str, values: npt.NDArray[np.float64]) -> npt.NDArray[np.generic]:
    """Masked integers; what does not fit the type is missing rather than wrong."""
    steps, fits = _steps_of(column, values)
    whole = np.zeros(len(values), SCALES[column][2])
    whole[fits] = steps[fits]
    return np.ma.masked_array(whole, mask=~fits)


def _steps_of(column: str, values: npt.NDArray[np.float64]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.bool_]]:
    """Whole steps, and where they are known and fit the type."""
    _, scale, kind = SCALES[column]
    steps = np.round(values * scale)
    limits = np.iinfo(kind)
    return steps, (steps >= limits.min) & (steps <= limits.max)


def as_stored(samples: Samples) -> Samples:
    """Samples as they come back from the store, so that what is measured now and what is measured then is the same."""
    length = len(samples.get("t_s", ()))
    return {
        column: _back(column, samples[column]) if column in samples else np.full(length, np.nan) for column in SCALES
    }


def _back(column: str, values: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    steps, fits = _steps_of(column, np.asarray(values, dtype=np.float64))
    return np.where(fits, (steps + 0.0) / SCALES[column][1], np.nan)  # no whole number is a negative zero


IN_STEPS = ("t_s", "distance_m")


def append(con: duckdb.DuckDBPyConnection, recordings: Sequence[tuple[int, Samples]]) -> None:
    """Write the samples of several recordings in one statement."""
    filled = [(number, samples) for number, samples in recordings if len(samples.get("t_s", ()))]
    if not filled:
        return
    lengths = [len(samples["t_s"]) for _, samples in filled]
    rows: dict[str, npt.NDArray[np.generic]] = {
        "recording": np.repeat(np.array([number for number, _ in filled], dtype=np.int32), lengths)
    }
    for column, (stored, _, _) in SCALES.items():
        parts = [
            np.asarray(samples[column], dtype=np.float64) if column in samples else np.full(length, np.nan)
            for (_, samples), length in zip(filled, lengths, strict=True)
        ]
        rows[stored] = scaled(column, np.concatenate(parts))
        if column in IN_STEPS:
            rows[stored] = _steps(rows[stored], rows["recording"])
    con.execute("INSERT INTO sample SELECT * FROM rows")


def _steps(totals: npt.NDArray[np.generic], recording: npt.NDArray[np.generic]) -> npt.NDArray[np.generic]:
    """Each known value as the step from the one known before it in its recording, the first from nothing."""
    mask = np.ma.getmaskarray(totals)
    known = np.flatnonzero(~mask)
    values = np.ma.getdata(totals)[known].astype(np.int64)
    first = np.diff(recording[known], prepend=np.nan) != 0
    steps = np.zeros(len(totals), dtype=np.int64)
    steps[known] = values - np.where(first, 0, np.roll(values, 1))
    return np.ma.masked_array(steps, mask=mask)


def load_each(con: duckdb.DuckDBPyConnection, numbers: Sequence[int]) -> dict[int, dict[str, npt.NDArray[np.float64]]]:
    """Number of a recording -> its samples (rules.facts.SAMPLE_COLUMNS) in the order of time, on its own clock.

    Empty where nothing was recorded by the second; NaN where a value is missing.
    """
    columns = ", ".join(stored for stored, _, _ in SCALES.values())
    places = ", ".join("?" for _ in numbers) or "NULL"
    query = f"SELECT recording, {columns} FROM sample WHERE recording IN ({places}) ORDER BY recording, rowid"
    rows = con.execute(query, list(numbers)).fetchnumpy()
    recording = rows["recording"]
    begins = np.flatnonzero(np.diff(recording, prepend=np.nan))
    table = {column: _unscaled(column, rows[SCALES[column][0]], begins) for column in SAMPLE_COLUMNS}
    found = {
        int(recording[begin]): {column: values[begin:end] for column, values in table.items()}
        for begin, end in zip(begins, np.append(begins, len(recording))[1:], strict=True)
    }
    return {number: found.get(number) or {column: np.zeros(0) for column in table} for number in numbers}


def _unscaled(column: str, stored: npt.NDArray[np.generic], begins: npt.NDArray[np.int64]) -> npt.NDArray[np.float64]:
    """Values of recordings that begin at those rows."""
    missing = np.ma.getmaskarray(stored)
    whole = np.where(missing, 0, np.ma.getdata(stored)).astype(np.int64)
    if column in IN_STEPS:
        totals = np.cumsum(whole)
        before = (totals - whole)[begins]
        whole = totals - np.repeat(before, np.diff(begins, append=len(whole)))
    return np.where(missing, np.nan, whole / SCALES[column][1])
