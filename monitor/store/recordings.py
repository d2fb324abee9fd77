"""Recordings as files told them, and the sessions that they come to."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import duckdb

from monitor.store import encoding
from monitor.store.encoding import from_store, from_store_or_none, to_store
from monitor.values import Recording
from rules.facts import Digest, Session
from rules.session.deduplication import RecordingSpan

if TYPE_CHECKING:
    import polars as pl

DAY = timedelta(days=1)
SESSION_COLUMNS = (
    "key, started, ended, sport, sub_sport, timer_s, elapsed_s, distance_m, source, digest, version,"
    " utc_offset_s, pauses, lap_marks, barometer"
)
RECORDING = {
    "number": "INTEGER", "athlete": "VARCHAR", "sha256": "VARCHAR", "path": "VARCHAR", "part": "INTEGER",
    "started": "TIMESTAMP", "ended": "TIMESTAMP", "sport": "VARCHAR", "sub_sport": "VARCHAR", "timer_s": "DOUBLE",
    "elapsed_s": "DOUBLE", "distance_m": "DOUBLE", "pauses": "VARCHAR", "utc_offset_s": "INTEGER", "format": "VARCHAR",
    "quality": "DOUBLE", "digest": "VARCHAR", "digest_by": "VARCHAR", "lap_marks": "VARCHAR", "barometer": "BOOLEAN",
}  # fmt: skip
SESSION = {
    "athlete": "VARCHAR", "key": "VARCHAR", "started": "TIMESTAMP", "ended": "TIMESTAMP", "sport": "VARCHAR",
    "sub_sport": "VARCHAR", "timer_s": "DOUBLE", "elapsed_s": "DOUBLE", "distance_m": "DOUBLE", "source": "VARCHAR",
    "version": "VARCHAR", "utc_offset_s": "INTEGER", "pauses": "VARCHAR", "parts": "VARCHAR", "digest": "VARCHAR",
    "digest_by": "VARCHAR", "lap_marks": "VARCHAR", "barometer": "BOOLEAN",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class StoredRecording:
    """A recording as stored, without its samples."""

    span: RecordingSpan
    path: str
    sub_sport: str
    timer_s: float
    elapsed_s: float
    distance_m: float | None
    pauses: tuple[tuple[float, float], ...]
    utc_offset_s: int | None
    digest: Digest
    digest_by: str | None = None  # the code and the limits that made the digest
    lap_marks_s: tuple[float, ...] = ()
    barometer: bool | None = None

    @property
    def sport(self) -> str:
        return self.span.sport


@dataclass(frozen=True, slots=True)
class FileRecording:
    """A recording as one file tells it: `part` is its position within the file, `quality` how good it is."""

    sha256: str
    path: str
    part: int
    recording: Recording
    quality: float


def insert(con: duckdb.DuckDBPyConnection, athlete: str, told: Sequence[FileRecording]) -> None:
    """Store recordings and their samples, those of many files at once; what is stored already is left as it is."""
    if not told:
        return
    from monitor.store import encoding  # noqa: PLC0415 - brings polars, which most commands do without

    drawn = con.execute("SELECT nextval('recording_number') FROM range(?)", [len(told)]).fetchall()
    numbers = [int(number) for (number,) in drawn]
    rows = [_row(number, athlete, one) for number, one in zip(numbers, told, strict=True)]
    stored = con.execute(
        f"INSERT INTO recording ({', '.join(RECORDING)}) {encoding.unnested(RECORDING)}"
        " ON CONFLICT DO NOTHING RETURNING number",
        encoding.columns(rows),
    ).fetchall()
    new = {number for (number,) in stored}
    encoding.append(
        con, [(number, one.recording.samples) for number, one in zip(numbers, told, strict=True) if number in new]
    )


def _row(number: int, athlete: str, told: FileRecording) -> list[object]:
    recording = told.recording
    return [
        number, athlete, told.sha256, told.path, told.part, to_store(recording.start), to_store(recording.end),
        recording.sport, recording.sub_sport, recording.timer_s, recording.elapsed_s, recording.distance_m,
        json.dumps(recording.pauses), recording.utc_offset_s, recording.format, told.quality,
        encoding.to_text(recording.digest or Digest("unknown")), recording.digest_by or None,
        json.dumps(recording.lap_marks_s), recording.barometer,
    ]  # fmt: skip


KEPT_COLUMNS = (
    "number, sha256, part, started, ended, sport, format, quality, path, sub_sport, timer_s, elapsed_s, distance_m,"
    " pauses, utc_offset_s, digest, digest_by, lap_marks, barometer"
)


def around(con: duckdb.DuckDBPyConnection, athlete: str, start: datetime, end: datetime) -> list[StoredRecording]:
    """Recordings that touch the time from a day before `start` to a day after `end`."""
    rows = con.execute(
        f"SELECT {KEPT_COLUMNS} FROM recording WHERE athlete = ? AND ended >= ? AND started <= ?",
        [athlete, to_store(start - DAY), to_store(end + DAY)],
    ).fetchall()
    return [_kept(row) for row in rows]


def _kept(row: Sequence[Any]) -> StoredRecording:
    (number, sha256, part, started, ended, sport, format_, quality, path, sub_sport, timer_s, elapsed_s, distance_m,
     pauses, utc_offset_s, digest, digest_by, lap_marks, barometer) = row  # fmt: skip
    made = encoding.from_text(Digest, digest)
    return StoredRecording(
        RecordingSpan(
            number, from_store(started), from_store(ended), sport, quality, format_, sha256, part, made.sport
        ),
        path,
        sub_sport,
        timer_s,
        elapsed_s,
        distance_m,
        tuple((a, b) for a, b in json.loads(pauses)),
        utc_offset_s,
        made,
        digest_by,
        tuple(json.loads(lap_marks or "[]")),
        barometer,
    )


def digested_by_other_code(con: duckdb.DuckDBPyConnection, by: str) -> dict[str, int]:
    """Athlete -> how many recordings have a digest that other code or other limits made."""
    rows = con.execute(
        "SELECT athlete, count(*) FROM recording WHERE digest_by IS DISTINCT FROM ? GROUP BY athlete", [by]
    ).fetchall()
    return {str(athlete): int(count) for athlete, count in rows}


def to_digest(con: duckdb.DuckDBPyConnection, athlete: str, by: str, most: int) -> list[StoredRecording]:
    """Recordings of an athlete whose digest other code or other limits made, newest first."""
    rows = con.execute(
        f"SELECT {KEPT_COLUMNS} FROM recording WHERE athlete = ? AND digest_by IS DISTINCT FROM ?"
        " ORDER BY started DESC, number LIMIT ?",
        [athlete, by, most],
    ).fetchall()
    return [_kept(row) for row in rows]


def all_of(con: duckdb.DuckDBPyConnection, athlete: str) -> list[StoredRecording]:
    """Every recording of an athlete."""
    rows = con.execute(f"SELECT {KEPT_COLUMNS} FROM recording WHERE athlete = ? ORDER BY number", [athlete]).fetchall()
    return [_kept(row) for row in rows]


def set_digests(con: duckdb.DuckDBPyConnection, made: Sequence[tuple[StoredRecording, float, Digest]], by: str) -> None:
    """Other digests for recordings, with their quality."""
    if not made:
        return
    kinds = {"number": "INTEGER", "sha256": "VARCHAR", "quality": "DOUBLE", "digest": "VARCHAR"}
    rows = [[one.span.number, one.span.sha256, quality, encoding.to_text(digest)] for one, quality, digest in made]
    con.execute(
        f"UPDATE recording SET quality = new.quality, digest = new.digest, digest_by = $1"
        f" FROM ({encoding.unnested(kinds, first=2)}) AS new"
        " WHERE recording.number = new.number AND recording.sha256 = new.sha256",
        [by, *encoding.columns(rows)],
    )


def first_start(con: duckdb.DuckDBPyConnection, athlete: str) -> datetime | None:
    """When an athlete's earliest recording begins."""
    row = con.execute("SELECT min(started) FROM recording WHERE athlete = ?", [athlete]).fetchone()
    return from_store_or_none(row[0]) if row else None


def digested_by(con: duckdb.DuckDBPyConnection, athlete: str, keys: Sequence[str]) -> dict[str, str | None]:
    """Key of a session -> the code and the limits that made its digest."""
    return dict(
        con.execute(
            "SELECT key, digest_by FROM session WHERE athlete = ? AND list_contains(?, key)", [athlete, list(keys)]
        ).fetchall()
    )


def replace_sessions(
    con: duckdb.DuckDBPyConnection,
    athlete: str,
    old_keys: Sequence[str],
    sessions: Sequence[tuple[Session, Sequence[int], str | None]],
) -> None:
    """Put new sessions (with their recordings and by what they were digested) in the place of old ones."""
    if old_keys:
        con.execute("DELETE FROM session WHERE athlete = ? AND list_contains(?, key)", [athlete, list(old_keys)])
    rows: list[list[object]] = [
        [
            athlete, session.key, to_store(session.start), to_store(session.end), session.sport, session.sub_sport,
            session.timer_s, session.elapsed_s, session.distance_m, session.source, session.version,
            session.utc_offset_s, json.dumps(session.pauses), json.dumps(list(numbers)),
            encoding.to_text(session.digest), by, json.dumps(session.lap_marks_s), session.barometer,
        ]
        for session, numbers, by in sessions
    ]  # fmt: skip
    encoding.insert(con, "session", SESSION, rows, "INSERT OR REPLACE")


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


def session_of(row: Sequence[Any]) -> Session:
    """A session from a row of `SESSION_COLUMNS`."""
    (key, started, ended, sport, sub_sport, timer_s, elapsed_s, distance_m, source, digest, version, offset, pauses,
     lap_marks, barometer) = row  # fmt: skip
    assert isinstance(started, datetime)
    assert isinstance(ended, datetime)
    return Session(
        key=str(key),
        start=from_store(started),
        end=from_store(ended),
        sport=str(sport),
        sub_sport=str(sub_sport),
        timer_s=float(timer_s),
        elapsed_s=float(elapsed_s),
        distance_m=distance_m,
        source=str(source),
        digest=encoding.from_text(Digest, str(digest)),
        version=str(version),
        utc_offset_s=offset,
        pauses=() if pauses == "[]" else tuple((a, b) for a, b in json.loads(str(pauses))),
        lap_marks_s=() if lap_marks in (None, "[]") else tuple(json.loads(str(lap_marks))),
        barometer=barometer,
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


def samples_of_many(con: duckdb.DuckDBPyConnection, wanted: Sequence[tuple[str, str]]) -> list[pl.DataFrame]:
    """The same for many sessions (athlete, key) in one reading."""
    import polars as pl  # noqa: PLC0415 - most commands do without

    from monitor.store import encoding  # noqa: PLC0415 - brought only where it is needed

    rows = con.execute(
        "SELECT athlete, key, parts, started FROM session"
        " JOIN (SELECT unnest($athletes) AS athlete, unnest($keys) AS key) AS wanted USING (athlete, key)",
        {"athletes": [athlete for athlete, _ in wanted], "keys": [key for _, key in wanted]},
    ).fetchall()
    found = {(athlete, key): (json.loads(parts), started) for athlete, key, parts, started in rows}
    numbers = [number for parts, _ in found.values() for number in parts] or [-1]
    found_times = con.execute(
        "SELECT number, started, ended FROM recording WHERE list_contains($numbers, number)", {"numbers": numbers}
    ).fetchall()
    begins = {number: begin for number, begin, _ in found_times}
    ends = {number: end for number, _, end in found_times}
    table = encoding.load(con, numbers)
    by_number = {int(number): part for (number,), part in table.partition_by("recording", as_dict=True).items()}
    nothing = table.clear().drop("recording")

    def joined(parts: Sequence[int], started: datetime) -> pl.DataFrame:
        known = [number for number in parts if number in by_number and number in begins]
        since = own_since([(number, begins[number], ends[number]) for number in known])
        shifted = [
            by_number[number]
            .with_columns(pl.col("t_s") + (begins[number] - started).total_seconds())
            .filter(pl.col("t_s") >= (since[number] - started).total_seconds())
            for number in known
        ]
        return pl.concat(shifted).drop("recording").sort("t_s") if shifted else nothing

    return [joined(*found[one]) if one in found else nothing for one in wanted]


def samples_joined(
    con: duckdb.DuckDBPyConnection, parts: Sequence[tuple[int, datetime]], start: datetime
) -> pl.DataFrame:
    """Samples of recordings (number, start) on one clock that begins at `start`."""
    import polars as pl  # noqa: PLC0415 - most commands do without

    from monitor.store import encoding  # noqa: PLC0415 - brought only where it is needed

    ended = con.execute(
        "SELECT number, ended FROM recording WHERE list_contains(?::INTEGER[], number)",
        [[number for number, _ in parts]],
    ).fetchall()
    ends = {number: from_store(end) for number, end in ended}
    since = own_since([(number, begin, ends.get(number, begin)) for number, begin in parts])
    shifts = pl.DataFrame(
        {
            "recording": [number for number, _ in parts],
            "shift": [(begin - start).total_seconds() for _, begin in parts],
            "since": [(since[number] - start).total_seconds() for number, _ in parts],
        },
        schema={"recording": pl.Int32, "shift": pl.Float64, "since": pl.Float64},
    )
    table = encoding.load(con, [number for number, _ in parts] or [-1]).join(shifts, on="recording", how="left")
    shifted = table.with_columns(pl.col("t_s") + pl.col("shift")).filter(pl.col("t_s") >= pl.col("since"))
    return shifted.drop("recording", "shift", "since").sort("t_s")


def standing(con: duckdb.DuckDBPyConnection, athlete: str, sha256s: Iterable[str]) -> dict[str, int]:
    """sha256 -> how many recordings of a file stand for a session; files without one are left out."""
    rows = con.execute(
        "SELECT sha256, count(*) FROM recording WHERE athlete = $1 AND list_contains($2::VARCHAR[], sha256)"
        " AND number IN (SELECT unnest(parts::INTEGER[]) FROM session WHERE athlete = $1) GROUP BY sha256",
        [athlete, list(sha256s)],
    ).fetchall()
    return dict(rows)


def own_since(parts: Sequence[tuple[int, datetime, datetime]]) -> dict[int, datetime]:
    """Number -> from when a recording of a session (number, start, end) has time of its own: where the earlier end."""
    since: dict[int, datetime] = {}
    last: datetime | None = None
    for number, begin, end in sorted(parts, key=lambda part: (part[1], part[0])):
        since[number] = begin if last is None else max(begin, last)
        last = end if last is None else max(last, end)
    return since
