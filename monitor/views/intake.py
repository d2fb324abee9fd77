"""The ledger of files in the shape of `intake --json`."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import duckdb

from monitor.store import intake

LEDGER_COLUMNS = ("path", "athlete", "state", "reason", "sessions", "nights", "mornings", "checkins", "read_at", "sha256")


def intake_view(
    con: duckdb.DuckDBPyConnection, athletes: Collection[str] | None = None, *, replaced: bool = False
) -> list[dict[str, Any]]:
    """Every file as it lies there now, newest first, with what became of it; `replaced` adds what lay there before."""
    return [
        {**row, "read_at": row["read_at"].isoformat(timespec="seconds") if row["read_at"] else None}
        for row in intake.listing(con)
        if (athletes is None or row["athlete"] in athletes) and (row["current"] or replaced)
    ]
