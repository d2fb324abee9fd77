"""The daemon's lock, which says that it runs, and its state file, for `status` and `doctor`."""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from monitor import words
from monitor.errors import WorkFailed
from monitor.home import Home, replace_file
from monitor.reasons import stored

if TYPE_CHECKING:  # `status` reads the state and does without what a daemon needs
    from monitor.daemon.folder_monitor import FolderMonitor
    from monitor.daemon.roster_reload import RosterFile

# One daemon for each home: a lock that the kernel releases when the process ends, however it ends.

PATIENCE_SECONDS = 0.5
"""`status` takes the lock for a moment to see whether a daemon holds it; wait longer than that."""


class HomeLock:
    """Held from `take` to `release`, or to the end of the process."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor: int | None = descriptor
        if hasattr(os, "register_at_fork"):
            os.register_at_fork(
                after_in_child=self._close
            )  # or a worker would keep the lock after the daemon was killed

    @classmethod
    def take(cls, home: Home, sleep: Callable[[float], None] = time.sleep) -> HomeLock:
        """The lock of this home; WorkFailed when another daemon holds it."""
        import tenacity  # noqa: PLC0415 - as above

        try:
            descriptor = os.open(home.lock, os.O_RDWR | os.O_CREAT, 0o600)
        except OSError as error:
            raise WorkFailed(words.doctor.LOCK_NOT_WRITTEN.format(lock=home.lock, why=error.strerror)) from None
        retrying = tenacity.Retrying(
            retry=tenacity.retry_if_result(lambda locked: not locked),
            wait=tenacity.wait_fixed(0.05),
            stop=tenacity.stop_after_delay(PATIENCE_SECONDS),
            retry_error_callback=lambda state: False,
            sleep=sleep,
        )
        if not retrying(_lock, descriptor, shared=False):
            os.close(descriptor)
            raise WorkFailed(words.doctor.WATCH_RUNS_ALREADY.format(path=home.path))
        return cls(descriptor)

    def release(self) -> None:
        self._close()

    def _close(self) -> None:
        if self._descriptor is not None:
            with suppress(OSError):
                os.close(self._descriptor)
            self._descriptor = None


def is_held(path: Path) -> bool:
    """Whether a daemon holds the lock. Tested on the lock itself, since process ids are reused."""
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


# What a running daemon says of itself, in a file that `status` and `doctor` read.
@dataclass(frozen=True, slots=True)
class DaemonState:
    """`running` is told by the lock; the rest is what the daemon, or the last one, wrote. Times are real, UTC."""

    pid: int
    started_at: datetime
    ready_at: datetime | None = None
    last_pass_at: datetime | None = None
    folders: int = 0
    missing: dict[str, str] = field(
        default_factory=dict
    )  # athlete -> why it cannot be looked into, as `reasons.stored`
    polled: dict[str, str] = field(default_factory=dict)  # athlete -> why it is polled, likewise
    roster_error: str | None = None  # what is wrong with an edit, while the last good roster is in use; likewise
    trouble: str | None = None  # what keeps failing; likewise
    held: dict[str, tuple[int, int]] = field(default_factory=dict)  # athlete -> device, inode of the folder with files
    running: bool = False


def read_state(home: Home) -> DaemonState | None:
    """What is known of this home's daemon; None when none ever ran here."""
    running = is_held(home.lock)
    try:
        said = json.loads(home.state.read_text("utf-8"))
        state = _from_json(said)
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return DaemonState(0, datetime.fromtimestamp(0, UTC), running=True) if running else None
    return replace(state, running=running)


def write_state(home: Home, state: DaemonState) -> None:
    """Replace the file in one step; OSError when it cannot be written."""
    said = {name: getattr(state, name) for name in DaemonState.__slots__ if name != "running"}
    text = json.dumps(said, indent=1, default=datetime.isoformat) + "\n"
    replace_file(home.state, text.encode("utf-8", "backslashreplace"))


def _from_json(said: dict[str, Any]) -> DaemonState:
    return DaemonState(
        pid=int(said["pid"]),
        started_at=datetime.fromisoformat(said["started_at"]),
        ready_at=_moment(said.get("ready_at")),
        last_pass_at=_moment(said.get("last_pass_at")),
        folders=int(said.get("folders", 0)),
        missing=dict(said.get("missing", {})),
        polled=dict(said.get("polled", {})),
        held={athlete: (int(device), int(inode)) for athlete, (device, inode) in said.get("held", {}).items()},
        roster_error=said.get("roster_error"),
        trouble=said.get("trouble"),
    )


def _moment(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)


class StateWriter:
    def __init__(
        self,
        home: Home,
        folder_watch: FolderMonitor,
        roster_file: RosterFile,
        now: Callable[[], datetime],
        monotonic: Callable[[], float],
    ) -> None:
        self._home = home
        self._folder_watch = folder_watch
        self._roster_file = roster_file
        self._now = now
        self._monotonic = monotonic
        self._state = DaemonState(os.getpid(), now())
        self._written: DaemonState | None = None

    def ready(self) -> None:
        self._state = replace(self._state, ready_at=self._now())

    def looked(self) -> None:
        """A pass, or a full look at the folders, was made."""
        self._state = replace(self._state, last_pass_at=self._now())

    def keep(self, troubles: Sequence[str]) -> None:
        """Write the state if it has changed or the last write failed; OSError when it cannot be written."""
        self._state = replace(
            self._state,
            folders=self._folder_watch.folders,
            missing={athlete: stored(why) for athlete, why in self._folder_watch.missing(self._monotonic()).items()},
            polled={athlete: stored(why) for athlete, why in self._folder_watch.polled.items()},
            held=self._folder_watch.held,
            roster_error=stored(bad) if (bad := self._roster_file.error) else None,
            trouble=stored(*troubles) or None,
        )
        if self._state != self._written:
            write_state(self._home, self._state)
            self._written = self._state
