"""The store kept open while a process is busy with it, for all its threads, and given up as soon as another asks.

The engine lets one process write into a file at a time, and opening and closing it costs more than most of what is done
with it. A process that is about to use the store again and again (`kept`) therefore leaves it open between two uses,
for a moment; its threads share one instance of the engine, of which each has a connection of its own, so that readers
and the writer do not wait for one another. Whoever finds the store held asks for it by a lock.
"""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from monitor import words
from monitor.errors import WorkFailed

if TYPE_CHECKING:
    import duckdb


# Who has the store's file in hand, and who asks for it: many may have it at once, unless one is alone to move it
# away. The database's own lock cannot tell: whoever has opened a file goes on writing into it after it was renamed,
# and its log, which goes by name, then lies beside the new store and mixes with that one's. So every opening holds a
# lock on a file that is never moved. The kernel lets go of it when a process ends, however it ends.

Got = TypeVar("Got")


class StoreHeld(WorkFailed):
    """Somebody else has the store in hand, for longer than one wanted to wait."""


def guard_of(store: Path) -> Path:
    """The file that carries the lock; empty, and never moved or replaced."""
    return store.with_name(f"{store.stem}.store.lock")


@contextmanager
def present(store: Path, patience_seconds: float) -> Iterator[None]:
    """Held while the store is open; waits a bounded time for whoever is alone with it."""
    try:
        handle = _opened(store)
    except OSError:  # a home that takes no new file: nothing can be moved in it either
        yield
        return
    with _locked(store, handle, patience_seconds, alone=False):
        yield


@contextmanager
def alone(store: Path, patience_seconds: float) -> Iterator[None]:
    """Held while the store is moved: nobody has it open, nor opens it. WorkFailed when somebody keeps it too long."""
    try:
        handle = _opened(store)
    except OSError as error:
        raise WorkFailed(words.doctor.GUARD_NOT_WRITTEN.format(name=guard_of(store).name, why=error.strerror)) from None
    with _locked(store, handle, patience_seconds, alone=True):
        yield


@contextmanager
def beginning(store: Path, patience_seconds: float) -> Iterator[None]:
    """Held while the engine makes a store that is not there, where a folder can be locked.

    It looks for the file before it locks it: who had looked before another began and closed the store, and went on
    after that, would begin it anew over what stands in it.
    """
    try:
        handle = os.open(store.parent, os.O_RDONLY)
    except OSError:
        yield
        return
    with _locked(store, handle, patience_seconds, alone=True, needed=False):
        yield


def held_message(store: Path) -> str:
    return words.doctor.STORE_HELD.format(name=store.name)


def _opened(store: Path) -> int:
    return os.open(guard_of(store), os.O_RDONLY | os.O_CREAT, 0o600)


@contextmanager
def _locked(store: Path, handle: int, patience_seconds: float, *, alone: bool, needed: bool = True) -> Iterator[None]:
    try:
        try:
            asked(store, lambda: _lock(handle, alone=alone), lambda e: isinstance(e, BlockingIOError), patience_seconds)
        except BlockingIOError:
            raise StoreHeld(held_message(store)) from None
        except WorkFailed:
            if needed:
                raise
        yield
    finally:
        os.close(handle)


def asked(
    store: Path, act: Callable[[], Got], is_held: Callable[[BaseException], bool], patience_seconds: float
) -> Got:
    """Do what needs the store; where somebody holds it, ask for it and try again for so long, then raise as it did."""
    try:
        return act()
    except Exception as error:
        if not is_held(error):
            raise
    import tenacity  # noqa: PLC0415 - a store is rarely held

    retrying = tenacity.Retrying(
        retry=tenacity.retry_if_exception(is_held),
        wait=tenacity.wait_random(0.005, 0.02),
        stop=tenacity.stop_after_delay(patience_seconds),
        reraise=True,
    )
    with _asking(store):
        got: Got = retrying(act)
    return got


def _wanted(store: Path) -> Path:
    """The file on which who waits for the store holds a lock."""
    return store.with_name(f"{store.stem}.store.wanted")


if sys.platform == "win32":
    CAN_ASK = False

    def _lock(handle: int, *, alone: bool) -> None:
        """Nothing to do: there an open file cannot be renamed at all, and the renaming is tried again."""

    def asked_for(store: Path) -> bool:
        """Nobody can ask, so nobody keeps it open either."""
        return False

    @contextmanager
    def _asking(store: Path) -> Iterator[None]:
        yield

else:
    import fcntl

    CAN_ASK = True

    def asked_for(store: Path) -> bool:
        """Whether any process waits for the store."""
        try:
            handle = os.open(_wanted(store), os.O_RDONLY)
        except OSError:
            return False
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            return isinstance(error, BlockingIOError)
        finally:
            os.close(handle)
        return False

    @contextmanager
    def _asking(store: Path) -> Iterator[None]:
        """While within, whoever keeps the store open gives it up; unheard where nothing can be written."""
        try:
            handle = os.open(_wanted(store), os.O_RDONLY | os.O_CREAT, 0o600)
        except OSError:
            yield
            return
        try:
            with suppress(OSError):
                fcntl.flock(handle, fcntl.LOCK_SH)
            yield
        finally:
            os.close(handle)

    def _lock(handle: int, *, alone: bool) -> None:
        try:
            fcntl.flock(handle, (fcntl.LOCK_EX if alone else fcntl.LOCK_SH) | fcntl.LOCK_NB)
        except BlockingIOError:
            raise
        except OSError as error:
            if alone:  # where there are no locks, reading and writing go on and only moving does not
                why = error.strerror
                raise WorkFailed(words.doctor.HOME_WITHOUT_LOCKS.format(why=why)) from None


LOOK_SECONDS = 0.02
"""How often it is seen whether anybody asks, while the store is kept."""
IDLE_SECONDS = 1.0
GIVE_WAY_SECONDS = 0.5
"""So long, at the most, whoever asked is given to take what was given up."""

_kept: dict[Path, SharedStore] = {}


@dataclass
class _OpenStore:
    """The file as it was opened, and what is let go of with it."""

    root: duckdb.DuckDBPyConnection
    identity: tuple[int, int] | None
    hold: ExitStack
    worn: bool = False  # the engine failed: what it keeps in memory is not to be trusted


class SharedStore:
    """One file's instance of the engine: opened by the first who needs it, closed when nobody has for a while."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._changed = threading.Condition()
        self._open: _OpenStore | None = None
        self._users = 0
        self._used_at = time.monotonic()
        self._watched = False
        self._gave_way = False
        self.ended = False

    def connection(self, opened: Callable[[ExitStack], duckdb.DuckDBPyConnection]) -> duckdb.DuckDBPyConnection:
        """A connection of one's own; `opened` opens the file where it is not; what goes with it is put on the stack."""
        with self._changed:
            if self._open and (self._open.worn or self._open.identity != _identity(self._path)):
                self._changed.wait_for(lambda: not self._users)
                self._close()
            if self._open is None:
                self._let_others_first()
                with ExitStack() as hold:
                    root = opened(hold)
                    self._open = _OpenStore(root, _identity(self._path), hold.pop_all())
            connection = self._open.root.cursor()
            self._users += 1
            return connection

    def done(self, connection: duckdb.DuckDBPyConnection, *, failed: bool) -> None:
        """The connection is not needed any more; `failed` where the engine raised on it."""
        import duckdb  # noqa: PLC0415 - a daemon without files goes without the database

        with suppress(duckdb.Error):
            connection.close()
        with self._changed:
            self._users -= 1
            if failed and self._open:
                self._open.worn = True
            self._used_at = time.monotonic()
            if self.ended or asked_for(self._path):
                self._give_up()
            elif not self._watched:
                self._watched = True
                threading.Thread(target=self._watch, name="fallow-store", daemon=True).start()
            self._changed.notify_all()

    @contextmanager
    def closed(self) -> Iterator[None]:
        """Closed as soon as nobody uses it, and nobody else opens it meanwhile."""
        with self._changed:
            self._changed.wait_for(lambda: not self._users)
            self._close()
            yield

    def _watch(self) -> None:
        pause = threading.Event()
        while True:
            pause.wait(LOOK_SECONDS)
            with self._changed:
                if time.monotonic() - self._used_at > IDLE_SECONDS or asked_for(self._path):
                    self._give_up()
                if self._open is None:
                    self._watched = False
                    return

    def _give_up(self) -> None:
        if not self._users:
            self._gave_way = self._open is not None
            self._close()

    def _let_others_first(self) -> None:
        end = time.monotonic() + GIVE_WAY_SECONDS
        while self._gave_way and asked_for(self._path) and time.monotonic() < end:
            time.sleep(LOOK_SECONDS / 2)
        self._gave_way = False

    def _close(self) -> None:
        """A file that is no longer at its path takes its log with it: the one that lies there is another store's."""
        gone, self._open = self._open, None
        if gone is None:
            return
        import duckdb  # noqa: PLC0415 - as above

        with suppress(duckdb.Error):
            if gone.identity != _identity(self._path):
                gone.root.execute("PRAGMA disable_checkpoint_on_shutdown")
        with suppress(duckdb.Error):
            gone.root.close()
        gone.hold.close()


@contextmanager
def kept(path: Path) -> Iterator[None]:
    """Within, this process keeps the store open between uses of it."""
    if not CAN_ASK or path in _kept:
        yield
        return
    _kept[path] = shared = SharedStore(path)
    try:
        yield
    finally:
        shared.ended = True
        with shared.closed():
            _kept.pop(path, None)


def shared_of(path: Path) -> SharedStore | None:
    """The instance that this process keeps of a file; None where it does not."""
    return _kept.get(path)


def _identity(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino
