"""What the store tells of one athlete's nights, mornings and check-ins between two days, for tests of a single one."""

from __future__ import annotations

from datetime import UTC, date, datetime

import duckdb

from monitor.store.seasons import Season, Window, seasons

LONG_AGO, FAR_AHEAD = datetime(1980, 1, 1, tzinfo=UTC), datetime(2100, 1, 1, tzinfo=UTC)


def season(
    con: duckdb.DuckDBPyConnection, athlete: str, first: date = date.min, last: date = date.max,
    now: datetime = FAR_AHEAD,
) -> Season:  # fmt: skip
    return seasons(con, [Window(athlete, LONG_AGO, first, last)], now)[athlete]
