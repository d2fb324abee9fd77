"""The ledger of files and the outbox, in the shape of `--json`."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import duckdb

from monitor.alerts.message import message_of
from monitor.roster import Roster
from monitor.store import intake, outbox

# The ledger of files in the shape of `intake --json`.

LEDGER_COLUMNS = (
    "path",
    "athlete",
    "state",
    "reason",
    "sessions",
    "nights",
    "mornings",
    "checkins",
    "read_at",
    "sha256",
)


def intake_view(
    con: duckdb.DuckDBPyConnection, athletes: Collection[str] | None = None, *, replaced: bool = False
) -> list[dict[str, Any]]:
    """Every file as it lies there now, newest first, with what became of it; `replaced` adds what lay there before."""
    return [
        {**row, "read_at": row["read_at"].isoformat(timespec="seconds") if row["read_at"] else None}
        for row in intake.listing(con)
        if (athletes is None or row["athlete"] in athletes) and (row["current"] or replaced)
    ]


# The outbox in the shape of `outbox --json`.

OUTBOX_COLUMNS = (
    "id", "athlete", "contact", "severity", "state", "reason", "tries", "last_error", "created_at", "sent_at", "title",
    "findings",
)  # fmt: skip


def outbox_view(
    con: duckdb.DuckDBPyConnection, roster: Roster, athletes: Collection[str] | None = None
) -> list[dict[str, Any]]:
    """Every alert, newest first, with its state and tries; about the athletes named, or about all."""
    return [outbox_row(row, roster) for row in outbox.every(con) if athletes is None or row.athlete in athletes]


def unsent_view(con: duckdb.DuckDBPyConnection, roster: Roster) -> list[dict[str, Any]]:
    """What is waiting, held or given up, newest first."""
    return [outbox_row(row, roster) for row in outbox.not_sent(con)]


def outbox_row(row: outbox.OutboxRow, roster: Roster) -> dict[str, Any]:
    """With the title in which it was sent, or would be now."""
    return outbox.shown(row, row.title if row.state == "sent" else message_of(row, roster).title)
