"""Stores that are opened by one instance of the engine: making an instance costs ten times what opening a file does.

Files, locks, transactions and what lies on the disk are the real thing; only the instance is not made anew each time,
and a store that begins without a journal begins as a copy of an empty one that has had all migrations.
What tests the store itself, or damages it, does without (`as_ever`).
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import cache
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

import duckdb

from monitor.store import connections, database
from monitor.store.database import CONFIG, Store

AS_EVER = Store._opened


class Engine:
    """One instance, and the files that it has open just now: by which name, by how many, and how."""

    def __init__(self) -> None:
        self._root: duckdb.DuckDBPyConnection | None = None
        self._files: dict[tuple[Path, bool], list[object]] = {}
        self._names = count()
        self._turn = threading.Lock()
        self._process = 0

    def attached(self, path: Path, read_only: bool) -> tuple[duckdb.DuckDBPyConnection, tuple[Path, bool]]:
        with self._turn:
            if self._root is None or self._process != os.getpid():
                self._root, self._files, self._process = (
                    duckdb.connect(config={**CONFIG, "threads": 1}),
                    {},
                    os.getpid(),
                )
            cursor, key, new = self._root.cursor(), (path, read_only), not path.exists()
            if new and not read_only and not path.with_suffix(".journal").exists():
                path.write_bytes(empty_store())
            try:
                if key not in self._files:
                    name = f"store_{next(self._names)}"
                    quoted = str(path).replace("'", "''")
                    cursor.execute(f"ATTACH '{quoted}' AS {name}{' (READ_ONLY)' if read_only else ''}")
                    self._files[key] = [name, 0]
                cursor.execute(f"USE {self._files[key][0]}")
            except BaseException:
                cursor.close()
                raise
            self._files[key][1] += 1
        if new:
            path.chmod(0o600)
        return cursor, key

    def detach(self, cursor: duckdb.DuckDBPyConnection, key: tuple[Path, bool]) -> None:
        with self._turn:
            with suppress(duckdb.Error):
                cursor.rollback()
            with suppress(duckdb.Error):
                cursor.execute("USE memory")
            cursor.close()
            used = self._files[key]
            used[1] -= 1
            if used[1] == 0:
                del self._files[key]
                assert self._root is not None
                try:
                    self._root.execute(f"DETACH {used[0]}")
                except duckdb.Error:  # it failed as a whole
                    self._root.close()
                    self._root = None


@cache
def empty_store() -> bytes:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "empty"
        with duckdb.connect(path, config=CONFIG) as connection:
            database.migrate(connection)
        return path.read_bytes()


ENGINE = Engine()


@contextmanager
def _opened(self: Store, *, read_only: bool) -> Iterator[duckdb.DuckDBPyConnection]:
    with self._translated():
        cursor, key = connections.asked(
            self.path, lambda: ENGINE.attached(self.path, read_only), database._is_locked, self._patience_seconds
        )
        try:
            yield cursor
        finally:
            ENGINE.detach(cursor, key)


def use() -> None:
    """From now on, in this process."""
    Store._opened = _opened


@contextmanager
def as_ever() -> Iterator[None]:
    with patch.object(Store, "_opened", AS_EVER):
        yield
