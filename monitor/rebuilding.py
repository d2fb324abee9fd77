"""A new store in place of one that is broken: facts come from the folders, the rest from the journal."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from monitor.home import Home
from monitor.store.database import Store, set_aside
from monitor.store.journal import Journal


def rebuild(home: Home, now: datetime) -> Path | None:
    """Set the store aside and begin a new one that knows the holds, the marks and the alerts already sent.

    Returns where the old store lies now, or None when there was none. The next look at the folders reads every file
    again; what was told is not told again.
    """
    aside = set_aside(home.store, now) if home.store.exists() else None
    with Store(home.store).writing() as con:
        Journal(home.journal).replay_into(con)
    return aside
