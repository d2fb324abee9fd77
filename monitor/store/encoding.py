"""Values to and from the store: moments in UTC, JSON text, many rows in one statement."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any, TypeVar

import duckdb
from pydantic import TypeAdapter

# Values to and from the store: moments in UTC, facts and findings as JSON text, many rows in one statement.


# Aware moments to and from the store, which keeps UTC without a zone.
def to_store(moment: datetime) -> datetime:
    """Naive UTC."""
    return moment.astimezone(UTC).replace(tzinfo=None)


def to_store_or_none(moment: datetime | None) -> datetime | None:
    return None if moment is None else to_store(moment)


def from_store(moment: datetime) -> datetime:
    """Aware, UTC."""
    return moment.replace(tzinfo=UTC)


def from_store_or_none(moment: datetime | None) -> datetime | None:
    return None if moment is None else from_store(moment)


# Facts and findings to and from the JSON text that the store keeps.

Fact = TypeVar("Fact")


_adapters: dict[Any, TypeAdapter[Any]] = {}  # one for each of a handful of types


def _adapter(kind: Any) -> TypeAdapter[Any]:
    if kind not in _adapters:
        _adapters[kind] = TypeAdapter(kind)
    return _adapters[kind]


def to_text(fact: object, kind: Any = None) -> str:
    """JSON of a frozen dataclass (or of `kind`, where the type says more than the value's class)."""
    return _adapter(kind or type(fact)).dump_json(fact).decode()


def from_text(kind: type[Fact], text: str) -> Fact:
    fact: Fact = _adapter(kind).validate_json(text)
    return fact


# Many rows in one statement: a statement a row costs DuckDB a thousand times what the row does.

Kinds = Mapping[str, str]
"""column -> its type, in the order of a row."""


def insert(con: duckdb.DuckDBPyConnection, table: str, kinds: Kinds, rows: Sequence[Sequence[object]]) -> None:
    """Append rows to a table."""
    if len(rows) == 1:
        con.execute(f"INSERT INTO {table} ({', '.join(kinds)}) VALUES ({placeholders(rows[0])})", rows[0])
    elif rows:
        con.execute(f"INSERT INTO {table} ({', '.join(kinds)}) {unnested(kinds)}", columns(rows))


def replace(
    con: duckdb.DuckDBPyConnection, table: str, kinds: Kinds, rows: Sequence[Sequence[object]], key: int
) -> None:
    """Put rows in the place of those with the same key, their first columns; of rows with one key the last stays.

    In two statements, which are planned in a third of the time of one with a conflict clause.
    """
    if not rows:
        return
    later = {tuple(row[:key]): row for row in rows}
    names = list(kinds)[:key]
    if len(later) == 1:
        con.execute(f"DELETE FROM {table} WHERE {' AND '.join(f'{name} = ?' for name in names)}", list(rows[0][:key]))
    else:
        same = " AND ".join(f"{table}.{name} = old.{name}" for name in names)
        old = unnested({name: kinds[name] for name in names})
        con.execute(f"DELETE FROM {table} USING ({old}) AS old WHERE {same}", columns(list(later)))
    insert(con, table, kinds, list(later.values()))


def among(column: str, values: Collection[str]) -> tuple[str, list[object]]:
    """The condition that a column has one of these texts, and its parameter. For one text blocks without it are passed
    over unread.
    """
    if len(values) == 1:
        return f"{column} = ?", list(values)
    return f"list_contains(?::VARCHAR[], {column})", [list(values)]


def placeholders(values: Sequence[object]) -> str:
    """A placeholder for each."""
    return ", ".join("?" for _ in values)


def unnested(kinds: Kinds, first: int | None = None) -> str:
    """A query that gives `columns(rows)`, its parameters, back as rows; with `first` they are numbered from it."""
    places = ("?" if first is None else f"${first + index}" for index in range(len(kinds)))
    parts = (
        f"unnest({place}::{kind}[]) AS {column}" for place, (column, kind) in zip(places, kinds.items(), strict=True)
    )
    return "SELECT " + ", ".join(parts)


def columns(rows: Sequence[Sequence[object]]) -> list[list[object]]:
    return [list(column) for column in zip(*rows, strict=True)]
