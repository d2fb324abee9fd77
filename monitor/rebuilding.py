"""A new store in place of one that is broken: facts come from the folders, the rest from the journal."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import duckdb
import tenacity

from monitor import words
from monitor.alerts import delivery, leases
from monitor.errors import WorkFailed
from monitor.home import Home
from monitor.store import intake
from monitor.store.database import PATIENCE_SECONDS, Store, StoreBroken, StoreFailed, identity_of, set_aside
from monitor.store.journal import Journal


def rebuild(
    home: Home,
    now: datetime,
    *,
    broken: int | None = None,
    patience_seconds: float = PATIENCE_SECONDS,
    sleep: Callable[[float], None] = time.sleep,
) -> Path | None:
    """Set the store aside and begin a new one that knows the holds, the marks and the alerts already sent.

    Returns where the old store lies now, or None when there was none. The next look at the folders reads every file
    again; what was told is not told again. WorkFailed when somebody keeps the store, is sending for longer than
    `patience_seconds`, when a newer program wrote the store, or when the journal cannot learn what was sent; the store
    then stays as it is. `broken` is the identity of a store that was found damaged: where another lies there by now,
    nothing is done.
    """
    store = Store(home.store, patience_seconds)
    retrying = tenacity.Retrying(
        retry=tenacity.retry_if_exception_type(_Sending),
        wait=tenacity.wait_fixed(0.1),
        stop=tenacity.stop_after_delay(patience_seconds),
        sleep=sleep,
        reraise=True,
    )
    aside: Path | None = retrying(_set_aside, store, Journal(home.journal), now, broken)
    with store.writing():
        pass
    return aside


class _Sending(WorkFailed):
    """A message is on its way, and whether it arrives will be written into the store that is there."""


def _set_aside(store: Store, journal: Journal, now: datetime, broken: int | None) -> Path | None:
    with store.alone():
        if broken is not None and identity_of(store.path) != broken:
            return None
        if store.path.exists():
            _settle_up(store, journal, now)
        return set_aside(store.path, now)


def _settle_up(store: Store, journal: Journal, now: datetime) -> None:
    """See that the journal knows what was sent, and when files last came.

    A store that the engine cannot read has nothing to say.
    """
    try:
        with store.writing() as con:
            if leases.in_hand(con, datetime.now(UTC)):
                raise _Sending(f"{store.path.name}: {words.doctor.BEING_SENT}")
            intake.note_arrivals(con)
            delivery.pay_journal(con, journal, now)
    except StoreBroken:
        return
    except StoreFailed as error:
        if isinstance(error.__cause__, duckdb.IOException | duckdb.OutOfMemoryException):
            raise  # of the system, not of the store: it would be set aside unread
