"""The outbox in the shape of `outbox --json`."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import duckdb

from monitor.alerts.compose import message_of
from monitor.roster import Roster
from monitor.store import outbox

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
    return [outbox_row(row, roster) for row in outbox.every(con) if row.state != "sent"]


def outbox_row(row: outbox.OutboxRow, roster: Roster) -> dict[str, Any]:
    """With the title in which it was sent, or would be now."""
    return outbox.shown(row, row.title if row.state == "sent" else message_of(row, roster).title)
