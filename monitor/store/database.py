"""The DuckDB file: opened for one batch, migrated, closed again, so that other processes get their turn."""

from __future__ import annotations

import os
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from itertools import chain, count
from pathlib import Path

import duckdb
import tenacity

from monitor.errors import WorkFailed
from monitor.store import presence

PATIENCE_SECONDS = 30.0
RENAME_SECONDS = 2.0
"""Some systems refuse to rename a file that anybody has open."""
CONFIG: dict[str, str | bool | int | float | list[str]] = {
    "memory_limit": "256MB",
    "threads": 2,
    "autoinstall_known_extensions": False,  # nothing is ever fetched
    "autoload_known_extensions": False,
}


# Connections of one process to one file must be of one kind, and their writes conflict: so one at a time.
_turns: dict[Path, threading.RLock] = {}
_alone: set[Path] = set()
"""Files with which the thread that has their turn is alone."""


def _turn(path: Path) -> threading.RLock:
    """The lock of one file; the same for threads that ask for it at once."""
    return _turns.setdefault(path, threading.RLock())


class StoreBroken(WorkFailed):
    """The store's file is damaged; it is set aside and rebuilt from the folders."""


class StoreFull(WorkFailed):
    """The disk takes no more; what was under way is as if it had never begun, and is done again when there is space."""


class Store:
    """One store file. Every use opens it, and waits a bounded time for whoever holds it."""

    def __init__(self, path: Path, patience_seconds: float = PATIENCE_SECONDS) -> None:
        self.path = path
        self._patience_seconds = patience_seconds

    @contextmanager
    def reading(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """A read-only connection. Makes or migrates the store first where that is needed."""
        with self._present(), self._reading() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """A connection inside one transaction: committed at the end, rolled back when anything raises."""
        with self._present(), self._writing() as connection:
            yield connection

    @contextmanager
    def alone(self) -> Iterator[None]:
        """Nobody else has the file open meanwhile, in this process or another; WorkFailed when somebody keeps it."""
        with _turn(self.path), presence.alone(self.path, self._patience_seconds):
            _alone.add(self.path)
            try:
                yield
            finally:
                _alone.discard(self.path)

    @contextmanager
    def _present(self) -> Iterator[None]:
        with _turn(self.path):
            if self.path in _alone:
                yield
                return
            with presence.present(self.path, self._patience_seconds):
                yield

    @contextmanager
    def _reading(self) -> Iterator[duckdb.DuckDBPyConnection]:
        connection = self._open(read_only=True) if self.path.exists() else None
        if connection is None or pending(connection):
            if connection is not None:
                connection.close()
            with self._writing():
                pass
            connection = self._open(read_only=True)
        try:
            yield connection
        except duckdb.Error as error:
            raise _translated(self.path, error) from error
        finally:
            connection.close()

    @contextmanager
    def _writing(self) -> Iterator[duckdb.DuckDBPyConnection]:
        connection = self._open(read_only=False)
        try:
            migrate(connection, self.path.with_suffix(".journal"))
            connection.begin()
            try:
                yield connection
            except BaseException:
                connection.rollback()
                raise
            connection.commit()
        except duckdb.Error as error:
            raise _translated(self.path, error) from error
        finally:
            connection.close()

    def _open(self, *, read_only: bool) -> duckdb.DuckDBPyConnection:
        retrying = tenacity.Retrying(
            retry=tenacity.retry_if_exception(_is_locked),
            wait=tenacity.wait_random(0.01, 0.04),
            stop=tenacity.stop_after_delay(self._patience_seconds),
            reraise=True,
        )
        try:
            connection: duckdb.DuckDBPyConnection = retrying(self._connect, read_only)
        except duckdb.Error as error:
            raise _translated(self.path, error) from error
        return connection

    def _connect(self, read_only: bool) -> duckdb.DuckDBPyConnection:
        new = not self.path.exists()
        connection = duckdb.connect(str(self.path), read_only=read_only, config=CONFIG)
        if new:
            os.chmod(self.path, 0o600)  # noqa: PTH101 - as short as it gets
        return connection


def _is_locked(error: BaseException) -> bool:
    said = str(error).lower()
    return isinstance(error, duckdb.IOException) and ("lock" in said or "used by another process" in said)


def _translated(path: Path, error: duckdb.Error) -> WorkFailed:
    text = str(error).splitlines()[0]
    if _is_locked(error):
        return WorkFailed(presence.held_message(path))
    if re.search(r"no space|disk full|could not write", text, re.IGNORECASE):
        return StoreFull(f"{path.name}: the disk is full; free some space, nothing was lost")
    if isinstance(
        error, duckdb.IOException | duckdb.FatalException | duckdb.SerializationException | duckdb.InternalException
    ):
        return StoreBroken(f"{path.name}: the store cannot be opened: {text}")
    return WorkFailed(f"{path.name}: {text}")


def pending(connection: duckdb.DuckDBPyConnection) -> list[Traversable]:
    """Migrations that the open store has not had, in their order."""
    known = connection.execute("SELECT 1 FROM duckdb_tables() WHERE table_name = 'migration'").fetchall()
    done = {name for (name,) in connection.execute("SELECT name FROM migration").fetchall()} if known else set()
    return [file for file in _migrations() if file.name not in done]


@cache
def _migrations() -> tuple[Traversable, ...]:
    folder = resources.files("monitor.store").joinpath("migrations")
    return tuple(sorted((file for file in folder.iterdir() if file.name.endswith(".sql")), key=lambda file: file.name))


def migrate(connection: duckdb.DuckDBPyConnection, journal: Path | None = None) -> None:
    """Bring the schema to the newest version; each numbered SQL file runs once, in its own transaction.

    A store that is begun anew is made whole in one transaction, with what the journal beside it tells: whoever opens it
    first, and whenever its maker is killed, no store is ever there that does not know what was sent.
    """
    files = pending(connection)
    if len(files) == len(_migrations()):
        connection.begin()
        for file in files:
            _run(connection, file)
        if journal is not None:
            from monitor.store.journal import Journal  # noqa: PLC0415 - needed once in the life of a store

            Journal(journal).replay_into(connection)
        connection.commit()
        return
    for file in files:
        connection.begin()
        _run(connection, file)
        connection.commit()


def _run(connection: duckdb.DuckDBPyConnection, file: Traversable) -> None:
    connection.execute("CREATE TABLE IF NOT EXISTS migration (name VARCHAR NOT NULL)")
    connection.execute(file.read_text("utf-8"))
    connection.execute("INSERT INTO migration VALUES (?)", [file.name])


def set_aside(path: Path, now: datetime) -> Path | None:
    """Move a store out of the way, with the time in its name and with all that lies beside it; nothing is deleted.

    Only for who is `alone` with it. None when there is no store.
    """
    if not path.exists():
        return None
    stamp = now.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    endings = chain([""], (f"-{number}" for number in count(2)))
    names = (path.with_name(f"{path.stem}.broken-{stamp}{ending}{path.suffix}") for ending in endings)
    aside = next(one for one in names if not one.exists())
    beside = [one for one in path.parent.iterdir() if one.name.startswith(path.name + ".")]
    _rename(path, aside)  # first: what lay beside a store that is gone is not taken for the next one's
    for one in beside:  # its log, and what an interrupted writing of it to the file leaves
        _rename(one, aside.with_name(aside.name + one.name.removeprefix(path.name)))
    return aside


@tenacity.retry(
    retry=tenacity.retry_if_exception_type(PermissionError),
    wait=tenacity.wait_random(0.01, 0.04),
    stop=tenacity.stop_after_delay(RENAME_SECONDS),
    reraise=True,
)
def _rename(path: Path, to: Path) -> None:
    path.rename(to)
