"""Stores that stay open, in memory, for tests of many short passes: opening a file costs more than such a pass does.

Everything above the opening is the real thing: turns, transactions, what is set aside and begun anew.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from unittest.mock import patch

import duckdb

from monitor.store import database
from monitor.store.database import CONFIG, Store
from monitor.store.journal import Journal

MIGRATE = database.migrate


class OpenStores:
    """While `in_place`, a file marks where a store lies; the store itself is in memory, and goes with its file."""

    def __init__(self) -> None:
        self._open: dict[int, duckdb.DuckDBPyConnection] = {}
        self._unused: list[duckdb.DuckDBPyConnection] = []
        self.on_opening: Callable[[], object] = lambda: None

    @contextmanager
    def in_place(self) -> Iterator[None]:
        stores = self

        @contextmanager
        def opened(self: Store, *, read_only: bool) -> Iterator[duckdb.DuckDBPyConnection]:
            stores.on_opening()
            cursor = stores._store_at(self.path).cursor()
            try:
                yield cursor
            except duckdb.Error as error:
                raise database.translated(self.path, error) from error
            finally:
                cursor.close()

        with (
            patch.object(Store, "_opened", opened),
            patch.object(Store, "_pending", lambda self, connection: []),
            patch.object(database, "migrate", lambda connection, journal: None),
        ):
            yield

    def forget(self, path: Path | None = None) -> None:
        """No store is there any more, or none is anywhere; what it lay in is used again."""
        for place in [path.stat().st_ino] if path else list(self._open):
            connection = self._open.pop(place)
            empty(connection)
            self._unused.append(connection)

    def _store_at(self, path: Path) -> duckdb.DuckDBPyConnection:
        if not path.exists():
            path.touch(0o600)
        place = path.stat().st_ino
        if place not in self._open:
            if self._unused:
                connection = self._unused.pop()
            else:
                connection = duckdb.connect(":memory:", config={**CONFIG, "threads": 1})
                MIGRATE(connection)
            connection.begin()
            Journal(path.with_suffix(".journal")).replay_into(connection)
            connection.commit()
            self._open[place] = connection
        return self._open[place]


def empty(connection: duckdb.DuckDBPyConnection) -> None:
    """No row is left but those of the migrations that it has had, and nothing is under way."""
    with suppress(duckdb.TransactionException):
        connection.rollback()
    filled = "SELECT table_name FROM duckdb_tables() WHERE estimated_size > 0 AND table_name <> 'migration'"
    for (table,) in connection.execute(filled).fetchall():
        connection.execute(f"DELETE FROM {table}")
    for (sequence,) in connection.execute("SELECT sequence_name FROM duckdb_sequences()").fetchall():
        connection.execute(f"CREATE OR REPLACE SEQUENCE {sequence}")  # rows are numbered from 1 again
