"""Things that are never opened: they stand in the ledger with the reason, once."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import datetime

import duckdb

from monitor.folders.seen import Refused
from monitor.intake.keeping import Tally
from monitor.store import intake
from monitor.store.intake import LedgerRow


def unheard(
    refused: Mapping[str, Iterable[Refused]], known: Mapping[str, Collection[str]], now: datetime
) -> list[LedgerRow]:
    """Rows for what no ledger knows yet; athlete id -> things, and athlete id -> paths that are known."""
    return [
        LedgerRow(athlete_id, thing.relative, "", -1, 0, thing.state, thing.reason, read_at=now)
        for athlete_id, things in refused.items()
        for thing in things
        if thing.relative not in known[athlete_id]
    ]


def record(con: duckdb.DuckDBPyConnection, rows: Iterable[LedgerRow], tally: Tally) -> None:
    for row in rows:
        intake.record(con, row)
        tally.files_new += 1
        setattr(tally, row.state, getattr(tally, row.state) + 1)
