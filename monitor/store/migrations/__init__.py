"""Migrations of the store: numbered SQL files beside this one, each run once, in its own transaction."""

from __future__ import annotations

import importlib.metadata
from collections.abc import Collection, Mapping
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path

import duckdb

from monitor import words

OF_ROWS = "-- Of stores with rows only."
"""In a migration the line below which it only changes rows, of which a store that is begun anew has none."""


@cache
def version() -> str:
    try:
        return importlib.metadata.version("fallow")
    except importlib.metadata.PackageNotFoundError:
        return words.doctor.UNINSTALLED_COPY


@cache
def _migrations() -> tuple[Traversable, ...]:
    folder = resources.files("monitor.store").joinpath("migrations")
    return tuple(sorted((file for file in folder.iterdir() if file.name.endswith(".sql")), key=lambda file: file.name))


def migrate(connection: duckdb.DuckDBPyConnection, journal: Path | None = None) -> None:
    """Bring the schema to the newest version; each numbered SQL file runs once, in its own transaction.

    A store that is begun anew is made whole in one transaction, with what the journal beside it tells: whoever opens it
    first, and whenever its maker is killed, no store is ever there that does not know what was sent.
    """
    files = pending(had(connection))
    if len(files) == len(_migrations()):
        connection.begin()
        for file in files:
            _run(connection, file, new=True)
        if journal is not None:
            from monitor.store.journal import Journal  # noqa: PLC0415 - needed once in the life of a store

            Journal(journal).replay_into(connection)
        connection.commit()
        return
    for file in files:
        connection.begin()
        _run(connection, file)
        connection.commit()


def _run(connection: duckdb.DuckDBPyConnection, file: Traversable, *, new: bool = False) -> None:
    """One migration; of a store without a row no more than what makes its tables."""
    text = file.read_text("utf-8")
    connection.execute("CREATE TABLE IF NOT EXISTS migration (name VARCHAR NOT NULL)")
    connection.execute("ALTER TABLE migration ADD COLUMN IF NOT EXISTS version VARCHAR")
    connection.execute(text.partition(OF_ROWS)[0] if new else text)
    connection.execute("INSERT INTO migration (name, version) VALUES (?, ?)", [file.name, version()])


def pending(had: Collection[str]) -> list[Traversable]:
    """Migrations that a store has not had, in their order."""
    return [file for file in _migrations() if file.name not in had]


def newer_than_this(had: Mapping[str, str | None]) -> str | None:
    """What a store has had that this program does not know, with the version that did it."""
    known = {file.name for file in _migrations()}
    unknown = {name: version for name, version in had.items() if name not in known}
    if not unknown:
        return None
    name = max(unknown)
    return f"{unknown[name]}, {name}" if unknown[name] else name


def had(connection: duckdb.DuckDBPyConnection) -> dict[str, str | None]:
    """Name of a migration that the store has had -> the version of the program that made it, where that is known.

    Only what has no table at all is new; nothing is made in anything else that does not say.
    """
    try:
        rows = connection.execute("SELECT * FROM migration").fetchall()
    except duckdb.CatalogException:
        if connection.execute("SELECT table_name FROM duckdb_tables() LIMIT 1").fetchone():
            raise
        return {}
    return {str(row[0]): row[1] if len(row) > 1 else None for row in rows}
