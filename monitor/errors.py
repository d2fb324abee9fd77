"""Errors a user can cause, each one clear line.

FallowError                caught by cli/main.py, printed as one line
├── WrongUse               exit 2: wrong arguments, unknown id, wrong roster
│   └── RosterError        also caught by the running daemon, which keeps the last good roster
├── WorkFailed             exit 1: the work could not be done (store busy, disk full)
└── Unreadable             caught by intake: one file that cannot be read, with the reason
"""

from __future__ import annotations

from monitor import words
from monitor.reasons import Reason


class FallowError(Exception):
    """A line for the user: what, where, what to do."""

    @property
    def reason(self) -> str:
        """What it says, with code and values where it was raised with them."""
        return str(self.args[0]) if type(self.args[0]) is not Reason else self.args[0]


class WrongUse(FallowError):  # noqa: N818 - reads as what it says
    """The command or the roster is wrong; exit status 2."""


class RosterError(WrongUse):
    """roster.toml is wrong: file, key, value and what is allowed.

    `elsewhere` is what may be said outside of the terminal of whoever edits it (state, log, messages): no value.
    """

    def __init__(self, line: str, elsewhere: str = "") -> None:
        super().__init__(line)
        self.elsewhere = elsewhere or words.doctor.SEE_DOCTOR


class WorkFailed(FallowError):  # noqa: N818 - people read what it says as a sentence, no name of a class
    """The work failed though it was asked for rightly; exit status 1."""


class Unreadable(FallowError):  # noqa: N818 - people read what it says as a sentence, no name of a class
    """One file that cannot be read; the reason stands in the ledger."""
