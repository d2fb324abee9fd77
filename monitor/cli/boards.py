"""The board after a command that changed what it shows."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli import screen
from monitor.errors import FallowError

if TYPE_CHECKING:
    from monitor.home import Home
    from monitor.roster import Roster
    from rules.findings import Finding


def write_board(home: Home, roster: Roster, now: datetime) -> Path:
    """board.html as of a moment."""
    from monitor.board import write
    from monitor.store.database import Store
    from rules.limits import default_limits

    return write(home.made(), roster, Store(home.store), now, default_limits())


def refresh_board(
    home: Home,
    roster: Roster,
    now: datetime,
    *,
    there: bool = False,
    let_through: tuple[type[FallowError], ...] = (),
) -> None:
    """The same at the end of other work, which is done even if this fails; with `there` only where a board lies."""
    if there and not home.board.exists():
        return
    try:
        write_board(home, roster, now)
    except let_through:
        raise
    except (OSError, FallowError) as error:
        screen.warn(f"{home.board.name} was not written: {error}")


def open_finding(home: Home, roster: Roster, finding: Finding, now: datetime) -> Path:
    """The page of one finding, opened in the browser where there is one."""
    import webbrowser

    from monitor.board import write_finding
    from monitor.store.database import Store
    from rules.limits import default_limits

    path = write_finding(home, roster, Store(home.store), finding, now, default_limits())
    if not webbrowser.open(path.as_uri()):
        screen.warn("no browser could be opened; open the file yourself")
    return path
