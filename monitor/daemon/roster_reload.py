"""Takes up edits of the roster while the daemon runs, once they are complete and valid; others change nothing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from monitor.errors import RosterError
from monitor.roster.types import Roster

LOOK_SECONDS = 5.0
SETTLE_SECONDS = 1.0
TRIES = 2
"""How often a settled file must be wrong before it counts as a bad edit: editors save in several steps."""

Signature = tuple[int, int, int] | None


class RosterFile:
    """Looked at by name and time every few seconds, read only after a change that has settled."""

    def __init__(self, roster: Roster, load: Callable[[Path], Roster]) -> None:
        self.good = roster
        self.error: str | None = None  # without a value of the roster: it goes into the state
        self._last_line: str | None = None
        self._load = load
        self._path = roster.path
        self._handled = self._seen = _signature(self._path)
        self._seen_at = 0.0
        self._tries = 0

    def ask(self) -> None:
        """Read it again even if nothing seems changed (SIGHUP)."""
        self._handled = (-1, -1, -1)
        self._seen_at -= SETTLE_SECONDS

    def next_due(self, now: float) -> float:
        """When to look again: soon while an edit is settling."""
        return now + (LOOK_SECONDS if self._seen == self._handled else SETTLE_SECONDS)

    def look(self, now: float) -> Roster | RosterError | None:
        """A new good roster to use, or the error of an edit that has just turned out bad; None when nothing is new."""
        signature = _signature(self._path)
        if signature != self._seen:
            self._seen, self._seen_at, self._tries = signature, now, 0
            return None
        if signature == self._handled or now - self._seen_at < SETTLE_SECONDS:
            return None
        try:
            roster = self._load(self._path)
        except RosterError as error:
            return self._bad(error, signature, now)
        if _signature(self._path) != signature:  # saved again while it was read
            return None
        self._handled, self.error, self._last_line = signature, None, None
        if roster.fingerprint == self.good.fingerprint:
            return None
        self.good = roster
        return roster

    def _bad(self, error: RosterError, signature: Signature, now: float) -> RosterError | None:
        self._tries += 1
        if self._tries < TRIES:
            self._seen_at = now
            return None
        self._handled = signature
        told, self._last_line, self.error = self._last_line, str(error), error.elsewhere
        return error if self._last_line != told else None


def _signature(path: Path) -> Signature:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


def load_roster(path: Path) -> Roster:
    """Read and check a roster as the daemon needs it: with its secrets in place and every channel understood."""
    from monitor.alerts.channels import check_roster  # noqa: PLC0415 - loads the sending library
    from monitor.roster.read import read_roster  # noqa: PLC0415 - loads the validation

    roster = read_roster(path, resolve=True)
    check_roster(roster)
    return roster
