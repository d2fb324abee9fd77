"""Channels that failed as a whole: how often since they last took a message, and until when they are left alone."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import duckdb

from monitor.store.times import from_store, to_store

Line = tuple[str, int]
"""Contact and position of the channel."""


@dataclass(frozen=True, slots=True)
class ChannelPause:
    """`until_wall` is real time; `asked` when the service itself named it."""

    failures: int
    until_wall: datetime
    asked: bool = False


def load(con: duckdb.DuckDBPyConnection) -> dict[Line, ChannelPause]:
    found = con.execute("SELECT contact, channel, failures, until_wall, asked FROM channel_pause").fetchall()
    return {
        (contact, channel): ChannelPause(failures, from_store(until), asked)
        for contact, channel, failures, until, asked in found
    }


def put(con: duckdb.DuckDBPyConnection, line: Line, pause: ChannelPause) -> None:
    end(con, line)
    con.execute(
        "INSERT INTO channel_pause VALUES (?, ?, ?, ?, ?)",
        [*line, pause.failures, to_store(pause.until_wall), pause.asked],
    )


def end(con: duckdb.DuckDBPyConnection, line: Line) -> None:
    """It answers again."""
    con.execute("DELETE FROM channel_pause WHERE contact = ? AND channel = ?", list(line))


def end_all(con: duckdb.DuckDBPyConnection) -> None:
    con.execute("DELETE FROM channel_pause")
