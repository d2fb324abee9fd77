"""One daemon a home: a lock that the kernel lets go of when its process ends, however it ends."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import tenacity

from monitor import words
from monitor.errors import WorkFailed
from monitor.home import Home

PATIENCE_SECONDS = 0.5
"""Longer than any `status` holds the lock to see whether somebody else does."""


class HomeLock:
    """Held from `take` to `release`, or to the end of the process."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor: int | None = descriptor
        if hasattr(os, "register_at_fork"):
            os.register_at_fork(after_in_child=self._close)  # a worker must not keep it when the daemon is killed

    @classmethod
    def take(cls, home: Home, sleep: Callable[[float], None] = time.sleep) -> HomeLock:
        """The lock of this home; WorkFailed when another daemon holds it."""
        try:
            descriptor = os.open(home.lock, os.O_RDWR | os.O_CREAT, 0o600)
        except OSError as error:
            raise WorkFailed(words.doctor.CANNOT_BE_WRITTEN.format(lock=home.lock, why=error.strerror)) from None
        retrying = tenacity.Retrying(
            retry=tenacity.retry_if_result(lambda locked: not locked),
            wait=tenacity.wait_fixed(0.05),
            stop=tenacity.stop_after_delay(PATIENCE_SECONDS),
            retry_error_callback=lambda state: False,
            sleep=sleep,
        )
        if not retrying(_lock, descriptor, shared=False):
            os.close(descriptor)
            raise WorkFailed(words.doctor.ANOTHER_WATCH.format(path=home.path))
        return cls(descriptor)

    def release(self) -> None:
        self._close()

    def _close(self) -> None:
        if self._descriptor is not None:
            with suppress(OSError):
                os.close(self._descriptor)
            self._descriptor = None


def held(path: Path) -> bool:
    """Whether a daemon holds the lock: asked of the lock itself, since process numbers are used again."""
    try:
        descriptor = os.open(path, os.O_RDWR)
    except OSError:
        return False
    try:
        return not _lock(descriptor, shared=True)
    finally:
        os.close(descriptor)


if sys.platform == "win32":
    import msvcrt

    def _lock(descriptor: int, *, shared: bool) -> bool:
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
            if shared:
                msvcrt.locking(descriptor, msvcrt.LK_UNLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _lock(descriptor: int, *, shared: bool) -> bool:
        try:
            fcntl.flock(descriptor, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError as error:
            raise WorkFailed(words.doctor.HOME_WITHOUT_LOCKS.format(why=error.strerror)) from None
        return True
