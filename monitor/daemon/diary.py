"""What the daemon writes of itself while it runs, whenever that changes."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime

from monitor.daemon.eyes import Eyes
from monitor.daemon.reload import RosterFile
from monitor.daemon.state import DaemonState, write_state
from monitor.home import Home


class Diary:
    def __init__(
        self,
        home: Home,
        eyes: Eyes,
        roster_file: RosterFile,
        now: Callable[[], datetime],
        monotonic: Callable[[], float],
    ) -> None:
        self._home = home
        self._eyes = eyes
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
            folders=self._eyes.folders,
            missing=self._eyes.missing(self._monotonic()),
            polled=self._eyes.polled,
            held=self._eyes.held,
            roster_error=self._roster_file.error,
            trouble=", ".join(troubles) or None,
        )
        if self._state != self._written:
            write_state(self._home, self._state)
            self._written = self._state
