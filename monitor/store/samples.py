"""Per-second facts: float columns in memory, scaled integers in the store, of time and distance the steps."""

from __future__ import annotations

from collections.abc import Sequence

import duckdb
import numpy as np
import numpy.typing as npt
import polars as pl

from monitor.intake.facts import Samples
from monitor.store.sample_steps import SCALES, scaled
from rules.facts import SAMPLE_COLUMNS

Table = pl.DataFrame
IN_STEPS = ("t_s", "distance_m")


def append(con: duckdb.DuckDBPyConnection, recordings: Sequence[tuple[int, Samples]]) -> None:
    """Write the samples of several recordings in one statement."""
    filled = [(number, samples) for number, samples in recordings if samples and len(samples.get("t_s", ()))]
    if not filled:
        return
    lengths = [len(samples["t_s"]) for _, samples in filled]
    rows: dict[str, npt.NDArray[np.generic]] = {
        "recording": np.repeat(np.array([number for number, _ in filled], dtype=np.int32), lengths)
    }
    for column, (stored, _, _) in SCALES.items():
        parts = [
            np.asarray(samples.get(column, np.full(length, np.nan)), dtype=np.float64)
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
    first = np.diff(recording[known], prepend=-1) != 0
    steps = np.zeros(len(totals), dtype=np.int64)
    steps[known] = np.where(first, values, np.diff(values, prepend=0))
    return np.ma.masked_array(steps, mask=mask)


def load(con: duckdb.DuckDBPyConnection, numbers: Sequence[int]) -> pl.DataFrame:
    """Samples of the named recordings in order of recording and time: `recording` and rules.facts.SAMPLE_COLUMNS."""
    columns = ", ".join(stored for stored, _, _ in SCALES.values())
    places = ", ".join("?" for _ in numbers)
    query = f"SELECT recording, {columns} FROM sample WHERE recording IN ({places}) ORDER BY recording, rowid"
    rows = pl.DataFrame(con.sql(query, params=list(numbers)))
    return rows.select("recording", *(_unscaled(column) for column in SAMPLE_COLUMNS))


def load_each(con: duckdb.DuckDBPyConnection, numbers: Sequence[int]) -> dict[int, Table]:
    """Number of a recording -> its samples, on its own clock; empty where nothing was recorded by the second."""
    table = load(con, numbers or [-1])
    found = {
        int(number): part.drop("recording") for (number,), part in table.partition_by("recording", as_dict=True).items()
    }
    nothing = table.clear().drop("recording")
    return {number: found.get(number, nothing) for number in numbers}


def _unscaled(column: str) -> pl.Expr:
    stored, scale, _ = SCALES[column]
    value = pl.col(stored).cast(pl.Int64)
    if column in IN_STEPS:
        value = value.cum_sum().over("recording")  # null where the value is, without losing count
    return (value / scale).alias(column)
