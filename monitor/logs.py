"""The log: one line an event, `key=value`, rotated, readable by its owner only.

What may stand in it is decided here and not where it is written: numbers, ids and words of the program. Free text,
names, paths, health values, addresses and the messages of exceptions, which may quote any of them, never reach it.
"""

from __future__ import annotations

import logging
import logging.handlers
import os
import re
import time
import traceback
from io import TextIOWrapper
from pathlib import Path
from typing import IO

from monitor.home import Home

MAX_BYTES = 1_000_000
KEPT = 3
_log = logging.getLogger("fallow")
_SAFE = re.compile(r"[A-Za-z0-9_.:+-]{1,64}")
_TALKATIVE = ("watchdog", "urllib3", "requests", "asyncio", "uvicorn", "python_multipart", "multipart")
"""Apprise is not among them: why a message was not taken is read from what it logs, and nothing else hears it."""

Field = bool | int | float | str | None


class _PrivateFile(logging.handlers.RotatingFileHandler):
    """Every file is made 0600, and a full disk costs the line and nothing else."""

    def _open(self) -> IO[str]:  # type: ignore[override]  # text, as the handler writes it
        descriptor = os.open(self.baseFilename, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
        return TextIOWrapper(os.fdopen(descriptor, "ab"), "utf-8", errors="backslashreplace", write_through=True)

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: N802 - the library's name
        """The program goes on without this line."""


def open_log(home: Home, *, level: int = logging.INFO, path: Path | None = None) -> None:
    """Log to the home folder. Libraries say nothing: what they log may hold paths and addresses.

    `path`: the log of a process of its own, for two that write one file would lose lines when it is turned.
    """
    close_log()
    handler = _PrivateFile(path or home.log, maxBytes=MAX_BYTES, backupCount=KEPT, delay=True)
    formatter = logging.Formatter("%(asctime)s.%(msecs)03dZ %(levelname)s %(message)s", "%Y-%m-%dT%H:%M:%S")
    formatter.converter = time.gmtime
    handler.setFormatter(formatter)
    _log.addHandler(handler)
    _log.setLevel(level)
    _log.propagate = False
    for name in _TALKATIVE:
        logging.getLogger(name).setLevel(logging.CRITICAL)
    if not logging.getLogger().handlers:
        logging.getLogger().addHandler(logging.NullHandler())  # else warnings of libraries go to the terminal


def close_log() -> None:
    for handler in list(_log.handlers):
        _log.removeHandler(handler)
        handler.close()


def event(name: str, /, *, level: int = logging.INFO, **fields: Field) -> None:
    """One line: the event and its fields, in the order given."""
    if _log.handlers:
        _log.log(level, "%s", " ".join([name, *(f"{key}={_shown(value)}" for key, value in fields.items())]))


def failure(name: str, error: BaseException, /, **fields: Field) -> None:
    """One line on an exception: its kind and where it was raised, never what it says."""
    event(name, level=logging.ERROR, error=type(error).__name__, at=_place(error), **fields)


def _shown(value: Field) -> str:
    if isinstance(value, float):
        return f"{value:.3f}"
    text = "-" if value is None else str(value)
    return text if _SAFE.fullmatch(text) else "?"


def _place(error: BaseException) -> str:
    """`module:line` of the innermost frame of this program, else of the innermost frame."""
    frames = [(frame.f_globals.get("__name__", "?"), line) for frame, line in traceback.walk_tb(error.__traceback__)]
    own = [place for place in frames if place[0].split(".")[0] in ("monitor", "rules")]
    module, line = (own or frames or [("?", 0)])[-1]
    return f"{module}:{line}"
