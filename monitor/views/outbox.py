"""The outbox in the shape of `outbox --json`."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import duckdb

from monitor.store import outbox

COLUMNS = (
    "id", "athlete", "contact", "severity", "state", "reason", "tries", "last_error", "created_at", "sent_at", "title",
    "findings",
)  # fmt: skip


def outbox_view(con: duckdb.DuckDBPyConnection, athletes: Collection[str] | None = None) -> list[dict[str, Any]]:
    """Every alert, newest first, with its state and tries; about the athletes named, or about all."""
    return [row for row in outbox.listing(con) if athletes is None or row["athlete"] in athletes]


def unsent_view(con: duckdb.DuckDBPyConnection) -> list[dict[str, Any]]:
    """What is waiting, held or given up, newest first."""
    return [row for row in outbox.listing(con) if row["state"] != "sent"]
