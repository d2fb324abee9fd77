"""Recordings as files told them, and the sessions that they come to."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import duckdb

from monitor.intake.facts import Recording
from monitor.store import codec
from monitor.store.times import from_store, to_store
from rules.facts import Digest, Session
from rules.session.one_truth import Span

if TYPE_CHECKING:
    import polars as pl

DAY = timedelta(days=1)
SESSION_COLUMNS = (
    "key, started, ended, sport, sub_sport, timer_s, elapsed_s, distance_m, source, digest, version,"
    " utc_offset_s, pauses"
)


@dataclass(frozen=True, slots=True)
class Kept:
    """A recording as stored, without its samples."""

    span: Span
    path: str
    sub_sport: str
    timer_s: float
    elapsed_s: float
    distance_m: float | None
    pauses: tuple[tuple[float, float], ...]
    utc_offset_s: int | None
    digest: Digest


def insert(
    con: duckdb.DuckDBPyConnection,
    athlete: str,
    sha256: str,
    path: str,
    recordings: Sequence[tuple[Recording, float]],
) -> None:
    """Store the recordings of one file, each with its quality, and their samples."""
    from monitor.store import samples  # noqa: PLC0415 - brings polars, which most commands do without

    numbered = []
    for part, (recording, quality) in enumerate(recordings):
        row = con.execute("SELECT nextval('recording_number')").fetchone()
        number = int(row[0]) if row else 0
        numbered.append((number, recording.samples))
        con.execute(
            "INSERT INTO recording VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [
                number,
                athlete,
                sha256,
                path,
                part,
                to_store(recording.start),
                to_store(recording.end),
                recording.sport,
                recording.sub_sport,
                recording.timer_s,
                recording.elapsed_s,
                recording.distance_m,
                json.dumps(recording.pauses),
                recording.utc_offset_s,
                recording.format,
                quality,
                codec.to_text(recording.digest or Digest("unknown")),
            ],
        )
    samples.append(con, numbered)


def around(con: duckdb.DuckDBPyConnection, athlete: str, start: datetime, end: datetime) -> list[Kept]:
    """Recordings that touch the time from a day before `start` to a day after `end`."""
    rows = con.execute(
        "SELECT number, sha256, part, started, ended, sport, format, quality, path, sub_sport, timer_s, elapsed_s,"
        " distance_m, pauses, utc_offset_s, digest FROM recording WHERE athlete = ? AND ended >= ? AND started <= ?",
        [athlete, to_store(start - DAY), to_store(end + DAY)],
    ).fetchall()
    return [
        Kept(
            Span(number, from_store(started), from_store(ended), sport, quality, format_, sha256, part),
            path,
            sub_sport,
            timer_s,
            elapsed_s,
            distance_m,
            tuple((a, b) for a, b in json.loads(pauses)),
            utc_offset_s,
            codec.from_text(Digest, digest),
        )
        for number, sha256, part, started, ended, sport, format_, quality, path, sub_sport, timer_s, elapsed_s,
        distance_m, pauses, utc_offset_s, digest in rows
    ]  # fmt: skip


def replace_sessions(
    con: duckdb.DuckDBPyConnection,
    athlete: str,
    old_keys: Sequence[str],
    sessions: Sequence[tuple[Session, Sequence[int]]],
) -> None:
    """Put new sessions in the place of old ones."""
    for key in old_keys:
        con.execute("DELETE FROM session WHERE athlete = ? AND key = ?", [athlete, key])
    for session, numbers in sessions:
        con.execute(
            "INSERT INTO session VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [
                athlete,
                session.key,
                to_store(session.start),
                to_store(session.end),
                session.sport,
                session.sub_sport,
                session.timer_s,
                session.elapsed_s,
                session.distance_m,
                session.source,
                session.version,
                session.utc_offset_s,
                json.dumps(session.pauses),
                json.dumps(list(numbers)),
                codec.to_text(session.digest),
            ],
        )


def sessions(
    con: duckdb.DuckDBPyConnection, athlete: str, start: datetime | None = None, end: datetime | None = None
) -> list[Session]:
    """Sessions that begin from `start` up to `end`, by start."""
    rows = con.execute(
        f"SELECT {SESSION_COLUMNS} FROM session"
        " WHERE athlete = ? AND started >= ? AND started <= ? ORDER BY started, key",
        [athlete, to_store(start) if start else datetime.min, to_store(end) if end else datetime.max],  # noqa: DTZ901
    ).fetchall()
    return [session_of(row) for row in rows]


def session_of(row: tuple[object, ...]) -> Session:
    """A session from a row of `SESSION_COLUMNS`."""
    key, started, ended, sport, sub_sport, timer_s, elapsed_s, distance_m, source, digest, version, offset, pauses = row
    assert isinstance(started, datetime)
    assert isinstance(ended, datetime)
    return Session(
        key=str(key),
        start=from_store(started),
        end=from_store(ended),
        sport=str(sport),
        sub_sport=str(sub_sport),
        timer_s=float(timer_s),  # type: ignore[arg-type]
        elapsed_s=float(elapsed_s),  # type: ignore[arg-type]
        distance_m=distance_m,  # type: ignore[arg-type]
        source=str(source),
        digest=codec.from_text(Digest, str(digest)),
        version=str(version),
        utc_offset_s=offset,  # type: ignore[arg-type]
        pauses=() if pauses == "[]" else tuple((a, b) for a, b in json.loads(str(pauses))),
    )


def session_keys(con: duckdb.DuckDBPyConnection, athlete: str, start: datetime, end: datetime) -> list[str]:
    """Keys of the sessions that touch the time from `start` to `end`."""
    rows = con.execute(
        "SELECT key FROM session WHERE athlete = ? AND ended >= ? AND started <= ?",
        [athlete, to_store(start), to_store(end)],
    ).fetchall()
    return [key for (key,) in rows]


def samples_of(con: duckdb.DuckDBPyConnection, athlete: str, key: str) -> pl.DataFrame:
    """Samples of one session, `t_s` counted from its start; empty when nothing was recorded by the second."""
    row = con.execute("SELECT parts, started FROM session WHERE athlete = ? AND key = ?", [athlete, key]).fetchone()
    numbers = json.loads(row[0]) if row else [-1]
    places = ", ".join("?" for _ in numbers)
    begins = con.execute(f"SELECT number, started FROM recording WHERE number IN ({places})", numbers).fetchall()
    parts = [(number, from_store(started)) for number, started in begins]
    return samples_joined(con, parts, from_store(row[1]) if row else datetime.min.replace(tzinfo=UTC))


def samples_joined(
    con: duckdb.DuckDBPyConnection, parts: Sequence[tuple[int, datetime]], start: datetime
) -> pl.DataFrame:
    """Samples of recordings (number, start) on one clock that begins at `start`."""
    import polars as pl  # noqa: PLC0415 - most commands do without

    from monitor.store import samples  # noqa: PLC0415

    shifts = pl.DataFrame(
        {
            "recording": [number for number, _ in parts],
            "shift": [(begin - start).total_seconds() for _, begin in parts],
        },
        schema={"recording": pl.Int32, "shift": pl.Float64},
    )
    table = samples.load(con, [number for number, _ in parts] or [-1]).join(shifts, on="recording", how="left")
    return table.with_columns(pl.col("t_s") + pl.col("shift")).drop("recording", "shift").sort("t_s")
