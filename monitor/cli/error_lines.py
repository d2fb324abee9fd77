"""When something goes wrong: one line on stderr, the place in the log, a traceback only when asked for."""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path

from monitor import words
from monitor.errors import FallowError, WrongUse
from monitor.home import Home, find_home


def told(error: FallowError) -> int:
    """Say it in one line; the exit status that goes with it."""
    _traced(error)
    _line(str(error))
    return 2 if isinstance(error, WrongUse) else 1


def unexpected(error: Exception, arguments: Sequence[str]) -> int:
    """One line for what nobody foresaw; the place in the program goes to the log, what it was about does not."""
    _traced(error)
    home = _home_of(arguments)
    where = (
        words.commands.WHERE_IS.format(log=home.log)
        if home and _logged(error, home)
        else words.commands.FALLOW_DEBUG_SHOWS
    )
    if isinstance(error, OSError) and error.strerror:
        name = f"{error.filename}: " if error.filename else ""
        _line(f"{name}{error.strerror}; {where}")
    else:
        _line(words.commands.ERROR_THAT_SHOULD_NOT_HAPPEN.format(kind=type(error).__name__, where=where))
    return 1


def _line(text: str) -> None:
    from monitor.cli.screen import plain

    print(f"fallow: {plain(text)}", file=sys.stderr)


def _traced(error: Exception) -> None:
    if os.environ.get("FALLOW_DEBUG"):
        traceback.print_exception(error)


def _home_of(arguments: Sequence[str]) -> Home | None:
    """The home that the command line names, as far as it can be told."""
    given = list(arguments)
    named = None
    for index, argument in enumerate(given):
        if argument == "--home" and index + 1 < len(given):
            named = given[index + 1]
        elif argument.startswith("--home="):
            named = argument.removeprefix("--home=")
    try:
        return find_home(Path(named) if named else None)
    except (OSError, RuntimeError):
        return None


def _logged(error: Exception, home: Home) -> bool:
    if not home.path.is_dir():
        return False
    from monitor import logs

    logs.open_log(home)
    logs.failure("unexpected", error)
    logs.close_log()
    return home.log.exists()
