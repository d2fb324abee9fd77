"""Many rows in one statement: a statement a row costs DuckDB a thousand times what the row does."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import duckdb

Kinds = Mapping[str, str]
"""column -> its type, in the order of a row."""


def insert(con: duckdb.DuckDBPyConnection, table: str, kinds: Kinds, rows: Sequence[Sequence[object]]) -> None:
    """Append rows to a table."""
    if rows:
        con.execute(f"INSERT INTO {table} ({', '.join(kinds)}) {unnested(kinds)}", columns(rows))


def unnested(kinds: Kinds, first: int | None = None) -> str:
    """A query that gives `columns(rows)`, its parameters, back as rows; with `first` they are numbered from it."""
    places = ("?" if first is None else f"${first + index}" for index in range(len(kinds)))
    parts = (
        f"unnest({place}::{kind}[]) AS {column}" for place, (column, kind) in zip(places, kinds.items(), strict=True)
    )
    return "SELECT " + ", ".join(parts)


def columns(rows: Sequence[Sequence[object]]) -> list[list[object]]:
    return [list(column) for column in zip(*rows, strict=True)]
