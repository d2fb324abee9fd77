"""The DuckDB file: opened for one batch, migrated, closed again, so that other processes get their turn."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, nullcontext, suppress
from datetime import UTC, datetime
from importlib.resources.abc import Traversable
from itertools import chain, count
from pathlib import Path

import duckdb

from monitor import words
from monitor.errors import WorkFailed
from monitor.store import connections, migrations
from monitor.store.connections import SharedStore, StoreHeld, shared_of
from monitor.store.migrations import migrate

PATIENCE_SECONDS = 30.0
AT_ONCE_SECONDS = 0.5
COPIED_BYTES = 500_000_000
RENAME_SECONDS = 2.0
"""Some systems refuse to rename a file that anybody has open."""
CONFIG: dict[str, str | bool | int | float | list[str]] = {
    "memory_limit": "256MB",
    "threads": 1,  # two share a question of a millisecond for longer, and the one that waits hears no Ctrl-C
    "default_block_size": "32768",  # of a new store: at the usual 256 kB a small one is mostly empty blocks
    "autoinstall_known_extensions": False,  # nothing is ever fetched
    "autoload_known_extensions": False,
}
INTERRUPTED = "Query interrupted"
"""All that the engine says of a Ctrl-C which came while it was at work: a RuntimeError with these words."""


# Connections of one process to one file must be of one kind, and their writes conflict: so one at a time. Of a file
# that this process keeps open (`shared`), only who writes waits for a turn.
_turns: dict[Path, threading.RLock] = {}
_alone: set[Path] = set()
"""Files with which the thread that has their turn is alone."""


def _turn(path: Path) -> threading.RLock:
    """The lock of one file; the same for threads that ask for it at once."""
    return _turns.setdefault(path, threading.RLock())


class StoreFailed(WorkFailed):
    """The store could not be used, for a reason that is not its file's; it stays where it is and is tried again."""


class StoreBroken(WorkFailed):
    """The engine calls the store's file damaged; it is set aside and rebuilt from the folders.

    `identity` tells the file from one that was put in its place since.
    """

    def __init__(self, said: str, identity: int | None = None) -> None:
        super().__init__(said)
        self.identity = identity


class StoreNewer(WorkFailed):
    """A newer program wrote the store; this one does not touch it."""


class StoreFull(WorkFailed):
    """The disk takes no more; what was under way is as if it had never begun, and is done again when there is space."""


class Store:
    """One store file. Every use opens it, unless this process keeps it open; it waits a bounded time for its holder."""

    def __init__(self, path: Path, patience_seconds: float = PATIENCE_SECONDS) -> None:
        self.path = path
        self._patience_seconds = patience_seconds

    @contextmanager
    def reading(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """A read-only connection. Makes or migrates the store first where that is needed."""
        shared = self._shared()
        with self._connected(shared, read_only=True) if shared else self._reading() as connection:
            yield connection

    @contextmanager
    def reading_at_once(self) -> Iterator[tuple[duckdb.DuckDBPyConnection, bool]]:
        """The same, and whether it is the store itself: of one that is held for long, a copy as it stood last.

        StoreHeld where no copy can be had either, since the file was being written just then.
        """
        with ExitStack() as stack:
            itself = True
            try:
                connection = stack.enter_context(Store(self.path, AT_ONCE_SECONDS).reading())
            except StoreHeld as held:
                itself = False
                try:
                    connection = stack.enter_context(self._copied(stack, held).reading())
                except (StoreBroken, StoreFailed):
                    raise held from None
            yield connection, itself

    def _copied(self, stack: ExitStack, held: StoreHeld) -> Store:
        """The files as they lie there: what was committed stands in them; the engine notices what is half written."""
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix=".fallow-", dir=self.path.parent)))
        copy = folder / self.path.name
        try:
            if self.path.stat().st_size > COPIED_BYTES:
                raise held
            # No thread of this process has it open meanwhile: closing a file lets go of the engine's lock on it.
            with _turn(self.path):
                for ending in ("", ".wal"):
                    source = self.path.with_name(self.path.name + ending)
                    if source.exists():
                        shutil.copyfile(source, copy.with_name(copy.name + ending))
        except OSError:
            raise held from None
        return Store(copy, AT_ONCE_SECONDS)

    @contextmanager
    def writing(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """A connection inside one transaction: committed at the end, rolled back when anything raises."""
        shared = self._shared()
        with self._connected(shared, read_only=False) if shared else self._writing() as connection:
            yield connection

    @contextmanager
    def alone(self) -> Iterator[None]:
        """Nobody else has the file open meanwhile, in this process or another; WorkFailed when somebody keeps it."""
        shared = shared_of(self.path)
        with ExitStack() as stack:
            stack.enter_context(_turn(self.path))
            if shared is not None:
                stack.enter_context(shared.closed())
            stack.enter_context(connections.alone(self.path, self._patience_seconds))
            _alone.add(self.path)
            try:
                yield
            finally:
                _alone.discard(self.path)

    def _shared(self) -> SharedStore | None:
        return None if self.path in _alone else shared_of(self.path)

    @contextmanager
    def _connected(self, shared: SharedStore, *, read_only: bool) -> Iterator[duckdb.DuckDBPyConnection]:
        """A connection to the instance that this process keeps open, in a transaction of its own."""
        with nullcontext() if read_only else _turn(self.path):
            connection, failed = shared.connection(self._opened_to_keep), True
            try:
                with self._translated():
                    connection.execute("BEGIN TRANSACTION READ ONLY" if read_only else "BEGIN TRANSACTION")
                    with _ended(connection):
                        yield connection
                failed = False
            except (StoreFailed, StoreBroken, StoreFull):
                raise
            except BaseException:
                failed = False  # of whoever used it, not of the engine
                raise
            finally:
                shared.done(connection, failed=failed)

    def _opened_to_keep(self, hold: ExitStack) -> duckdb.DuckDBPyConnection:
        hold.enter_context(connections.present(self.path, self._patience_seconds))
        with self._translated():
            connection = self._open(read_only=False)
            hold.callback(connection.close)
            self._migrated(connection)
        return connection

    @contextmanager
    def _present(self) -> Iterator[None]:
        with _turn(self.path):
            if self.path in _alone:
                yield
                return
            with connections.present(self.path, self._patience_seconds):
                yield

    @contextmanager
    def _reading(self) -> Iterator[duckdb.DuckDBPyConnection]:
        with self._present():
            if self.path.exists():
                with self._opened(read_only=True) as connection:
                    if not self._pending(connection):
                        yield connection
                        return
            with self._opened(read_only=False) as connection:
                self._migrated(connection)
            with self._opened(read_only=True) as connection:
                yield connection

    @contextmanager
    def _writing(self) -> Iterator[duckdb.DuckDBPyConnection]:
        with self._present(), self._opened(read_only=False) as connection:
            self._migrated(connection)
            connection.begin()
            with _ended(connection):
                yield connection

    def _pending(self, connection: duckdb.DuckDBPyConnection) -> list[Traversable]:
        had = migrations.had(connection)
        if newer := migrations.newer_than_this(had):
            raise StoreNewer(
                words.doctor.NEWER_FALLOW.format(name=self.path.name, newer=newer, version=migrations.version())
            )
        return migrations.pending(had)

    def _migrated(self, connection: duckdb.DuckDBPyConnection) -> None:
        if self._pending(connection):
            migrate(connection, self.path.with_suffix(".journal"))

    @contextmanager
    def _opened(self, *, read_only: bool) -> Iterator[duckdb.DuckDBPyConnection]:
        with self._translated():
            connection = self._open(read_only=read_only)
            try:
                yield connection
            finally:
                with suppress(duckdb.Error):
                    connection.close()

    @contextmanager
    def _translated(self) -> Iterator[None]:
        """Whatever the engine says against the store becomes an error of ours."""
        try:
            yield
        except duckdb.Error as error:
            raise translated(self.path, error) from error
        except RuntimeError as error:
            if str(error) != INTERRUPTED:
                raise
            raise KeyboardInterrupt from error

    def _open(self, *, read_only: bool) -> duckdb.DuckDBPyConnection:
        return connections.asked(self.path, lambda: self._connect(read_only), _is_locked, self._patience_seconds)

    def _connect(self, read_only: bool) -> duckdb.DuckDBPyConnection:
        new = not self.path.exists()
        with connections.beginning(self.path, self._patience_seconds) if new else nullcontext():
            connection = duckdb.connect(str(self.path), read_only=read_only, config=CONFIG)
        if new:
            os.chmod(self.path, 0o600)  # noqa: PTH101 - as short as it gets
        connection.execute("SET enable_progress_bar = false")  # the engine draws one into what `python -c` prints
        return connection


@contextmanager
def _ended(connection: duckdb.DuckDBPyConnection) -> Iterator[None]:
    """The end of a transaction: kept, or rolled back when anything raises."""
    try:
        yield
    except BaseException:
        with suppress(duckdb.Error):  # a store that broke meanwhile; what was under way is gone either way
            connection.rollback()
        raise
    connection.commit()


LOCKED = re.compile(r"could not set lock|conflicting lock|used by another process", re.IGNORECASE)
FULL = re.compile(r"no space|disk full|could not write", re.IGNORECASE)
DAMAGED = re.compile(
    r"corrupt|checksum|not a valid duckdb database|could not read enough bytes|failed to deserialize", re.IGNORECASE
)
"""What the engine says of a file whose bytes are not what it wrote: changed, cut off, or never a store."""
LOG_DAMAGED = re.compile(r"replaying WAL", re.IGNORECASE)
OTHER_TROUBLE = re.compile(
    r"too many open files|permission denied|input/output error|out of memory|cannot open file|stale file", re.IGNORECASE
)
"""What the system says when it gives no file, or no memory: the store has no part in it."""
NEWER_ENGINE = re.compile(r"read a database file with version number", re.IGNORECASE)


def _is_locked(error: BaseException) -> bool:
    return isinstance(error, duckdb.IOException) and LOCKED.search(str(error)) is not None


def is_damage(error: BaseException) -> bool:
    """Whether the engine says that the store's own bytes are damaged. Nothing else makes a store a broken one."""
    said = str(error)
    if not isinstance(error, duckdb.Error) or OTHER_TROUBLE.search(said) or FULL.search(said):
        return False
    return DAMAGED.search(said) is not None or LOG_DAMAGED.search(said) is not None


def translated(path: Path, error: duckdb.Error) -> WorkFailed:
    """What the engine said, as an error of ours."""
    text = str(error).splitlines()[0] if str(error) else type(error).__name__
    if _is_locked(error):
        return StoreHeld(connections.held_message(path))
    if FULL.search(text):
        return StoreFull(words.doctor.DISK_IS_FULL.format(name=path.name))
    if NEWER_ENGINE.search(text):
        return StoreNewer(words.doctor.NEWER_DATABASE.format(name=path.name))
    if is_damage(error):
        said = words.doctor.STORE_DAMAGED.format(name=path.name, broken_do=words.doctor.SET_ASIDE_BY)
        return StoreBroken(said, identity_of(path))
    if isinstance(error, duckdb.IOException | duckdb.OutOfMemoryException):
        return StoreFailed(f"{path.name}: {text}")
    return StoreFailed(
        words.doctor.DATABASE_FAILED.format(name=path.name, kind=type(error).__name__)
    )  # its text may hold what it is about


def identity_of(path: Path) -> int | None:
    """What changes when another store is put in the place of one."""
    try:
        return path.stat().st_ino
    except OSError:
        return None


def set_aside(path: Path, now: datetime) -> Path | None:
    """Move a store out of the way, with the time in its name and with all that lies beside it; nothing is deleted.

    Only for who is `alone` with it. None when there is no store.
    """
    if not path.exists():
        return None
    stamp = now.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    endings = chain([""], (f"-{number}" for number in count(2)))
    names = (path.with_name(f"{path.stem}.broken-{stamp}{ending}{path.suffix}") for ending in endings)
    aside = next(name for name in names if not name.exists())
    beside = [file for file in path.parent.iterdir() if file.name.startswith(path.name + ".")]
    _rename(path, aside)  # first: what lay beside a store that is gone is not taken for the next one's
    for file in beside:  # its log, and what an interrupted writing of it to the file leaves
        _rename(file, aside.with_name(aside.name + file.name.removeprefix(path.name)))
    return aside


def _rename(path: Path, to: Path) -> None:
    import tenacity  # noqa: PLC0415 - a store is rarely moved

    retrying = tenacity.Retrying(
        retry=tenacity.retry_if_exception_type(PermissionError),
        wait=tenacity.wait_random(0.01, 0.04),
        stop=tenacity.stop_after_delay(RENAME_SECONDS),
        reraise=True,
    )
    retrying(path.rename, to)
