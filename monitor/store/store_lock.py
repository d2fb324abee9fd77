"""Who has the store's file in hand, and who asks for it: many may have it at once, unless one is alone to move it away.

The database's own lock cannot tell: whoever has opened a file goes on writing into it after it was renamed, and its
log, which goes by name, then lies beside the new store and mixes with that one's. So every opening holds a lock on a
file that is never moved. The kernel lets go of it when a process ends, however it ends.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TypeVar

import tenacity

from monitor import words
from monitor.errors import WorkFailed

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
        raise WorkFailed(
            words.store.GUARD_CANNOT_BE_WRITTEN.format(name=guard_of(store).name, why=error.strerror)
        ) from None
    with _locked(store, handle, patience_seconds, alone=True):
        yield


def held_message(store: Path) -> str:
    return words.store.ANOTHER_PROCESS_HOLDS_STORE.format(name=store.name)


def _opened(store: Path) -> int:
    return os.open(guard_of(store), os.O_RDONLY | os.O_CREAT, 0o600)


@contextmanager
def _locked(store: Path, handle: int, patience_seconds: float, *, alone: bool) -> Iterator[None]:
    try:
        try:
            asked(store, lambda: _lock(handle, alone=alone), lambda e: isinstance(e, BlockingIOError), patience_seconds)
        except BlockingIOError:
            raise StoreHeld(held_message(store)) from None
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
                raise WorkFailed(words.store.HOME_WITHOUT_LOCKS.format(why=why)) from None
