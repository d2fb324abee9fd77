"""What the daemon writes of itself while it runs, whenever that changes."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any

from monitor.daemon import lock
from monitor.daemon.folder_monitor import FolderMonitor
from monitor.daemon.roster_reload import RosterFile
from monitor.home import Home, replace_file

# What a running daemon says of itself, in a file that `status` and `doctor` read.


@dataclass(frozen=True, slots=True)
class DaemonState:
    """`running` is told by the lock; the rest is what the daemon, or the last one, wrote. Times are real, UTC."""

    pid: int
    started_at: datetime
    ready_at: datetime | None = None
    last_pass_at: datetime | None = None
    folders: int = 0
    missing: dict[str, str] = field(default_factory=dict)  # athlete -> why the folder cannot be looked into
    polled: dict[str, str] = field(default_factory=dict)  # athlete -> why it is looked through and not listened to
    roster_error: str | None = None  # the line on a bad edit, while the last good roster is in use
    trouble: str | None = None  # what keeps failing, in words of the program
    held: dict[str, tuple[int, int]] = field(default_factory=dict)  # athlete -> device, inode of the folder with files
    running: bool = False


def read_state(home: Home) -> DaemonState | None:
    """What is known of this home's daemon; None when none ever ran here."""
    running = lock.held(home.lock)
    try:
        said = json.loads(home.state.read_text("utf-8"))
        state = _from_json(said)
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return DaemonState(0, datetime.fromtimestamp(0, UTC), running=True) if running else None
    return replace(state, running=running)


def write_state(home: Home, state: DaemonState) -> None:
    """Replace the file whole; OSError when the disk does not take it."""
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
        """Write it if it has changed, or could not be written the last time; OSError when the disk does not take it."""
        self._state = replace(
            self._state,
            folders=self._folder_watch.folders,
            missing=self._folder_watch.missing(self._monotonic()),
            polled=self._folder_watch.polled,
            held=self._folder_watch.held,
            roster_error=self._roster_file.error,
            trouble=", ".join(troubles) or None,
        )
        if self._state != self._written:
            write_state(self._home, self._state)
            self._written = self._state
