"""Values to and from the store: moments in UTC, JSON text, many rows in one statement."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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


def insert(
    con: duckdb.DuckDBPyConnection, table: str, kinds: Kinds, rows: Sequence[Sequence[object]], verb: str = "INSERT"
) -> None:
    """Append rows to a table; with `INSERT OR REPLACE` in the place of those with the same key."""
    if rows:
        con.execute(f"{verb} INTO {table} ({', '.join(kinds)}) {unnested(kinds)}", columns(rows))


def unnested(kinds: Kinds, first: int | None = None) -> str:
    """A query that gives `columns(rows)`, its parameters, back as rows; with `first` they are numbered from it."""
    places = ("?" if first is None else f"${first + index}" for index in range(len(kinds)))
    parts = (
        f"unnest({place}::{kind}[]) AS {column}" for place, (column, kind) in zip(places, kinds.items(), strict=True)
    )
    return "SELECT " + ", ".join(parts)


def columns(rows: Sequence[Sequence[object]]) -> list[list[object]]:
    return [list(column) for column in zip(*rows, strict=True)]
