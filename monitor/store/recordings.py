"""Recordings as files told them, and the sessions that they are merged to."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import duckdb

from monitor.store import encoding
from monitor.store.encoding import from_store, from_store_or_none, to_store
from monitor.values import Recording
from rules.facts import SAMPLE_COLUMNS, Digest, Session
from rules.session.labels import RecordingSpan

if TYPE_CHECKING:
    from rules.session.timeline import Floats, Samples

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
    from monitor.store import samples  # noqa: PLC0415 - brings numpy, which most commands do without

    of_bytes, values = encoding.among("sha256", list({recorded.sha256 for recorded in told}))
    stored = con.execute(
        f"SELECT sha256, part FROM recording WHERE athlete = ? AND {of_bytes}", [athlete, *values]
    ).fetchall()
    fresh: dict[tuple[str, int], FileRecording] = {}
    for recorded in told:
        if (recorded.sha256, recorded.part) not in stored:
            fresh.setdefault((recorded.sha256, recorded.part), recorded)
    drawn = con.execute("SELECT nextval('recording_number') FROM range(?)", [len(fresh)]).fetchall()
    numbered = [(int(number), recorded) for (number,), recorded in zip(drawn, fresh.values(), strict=True)]
    encoding.insert(con, "recording", RECORDING, [_row(number, athlete, recorded) for number, recorded in numbered])
    samples.append(con, [(number, recorded.recording.samples) for number, recorded in numbered])


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
    """Recordings that touch the time from `start` to `end`."""
    rows = con.execute(
        f"SELECT {KEPT_COLUMNS} FROM recording WHERE athlete = ? AND ended >= ? AND started <= ? ORDER BY number",
        [athlete, to_store(start), to_store(end)],
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


def digested_by_other_code(
    con: duckdb.DuckDBPyConnection, by: str, athletes: Sequence[str] | None = None
) -> dict[str, int]:
    """Athlete (of these, or any) -> how many recordings have a digest that other code or other limits made."""
    named, values = ("true", []) if athletes is None else encoding.among("athlete", athletes)
    rows = con.execute(
        f"SELECT athlete, count(*) FROM recording WHERE digest_by IS DISTINCT FROM ? AND {named} GROUP BY athlete",
        [by, *values],
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
    rows = [
        [measured.span.number, measured.span.sha256, quality, encoding.to_text(digest)]
        for measured, quality, digest in made
    ]
    con.execute(
        f"UPDATE recording SET quality = new.quality, digest = new.digest, digest_by = $1"
        f" FROM ({encoding.unnested(kinds, first=2)}) AS new"
        " WHERE recording.number = new.number AND recording.sha256 = new.sha256",
        [by, *encoding.columns(rows)],
    )


def first_start(con: duckdb.DuckDBPyConnection, athlete: str) -> datetime | None:
    """When an athlete's earliest recording begins."""
    [(first,)] = con.execute("SELECT min(started) FROM recording WHERE athlete = ?", [athlete]).fetchall()
    return from_store_or_none(first)


def replace_sessions(
    con: duckdb.DuckDBPyConnection,
    athlete: str,
    old_keys: Sequence[str],
    sessions: Sequence[tuple[Session, Sequence[int], str | None]],
) -> None:
    """Put new sessions (with their recordings and by what they were digested) in the place of old ones."""
    if gone := list(set(old_keys) - {session.key for session, _, _ in sessions}):
        con.execute("DELETE FROM session WHERE athlete = ? AND list_contains(?, key)", [athlete, gone])
    rows: list[list[object]] = [
        [
            athlete, session.key, to_store(session.start), to_store(session.end), session.sport, session.sub_sport,
            session.timer_s, session.elapsed_s, session.distance_m, session.source, session.version,
            session.utc_offset_s, json.dumps(session.pauses), json.dumps(list(numbers)),
            encoding.to_text(session.digest), by, json.dumps(session.lap_marks_s), session.barometer,
        ]
        for session, numbers, by in sessions
    ]  # fmt: skip
    encoding.replace(con, "session", SESSION, rows, key=2)


def sessions(
    con: duckdb.DuckDBPyConnection, athlete: str, start: datetime | None = None, end: datetime | None = None
) -> list[Session]:
    """Sessions that begin from `start` up to `end`, by start."""
    rows = con.execute(
        f"SELECT {SESSION_COLUMNS} FROM session"
        " WHERE athlete = ? AND started >= ? AND started <= ? ORDER BY started, key",
        [athlete, to_store(start) if start else datetime.min, to_store(end) if end else datetime.max],  # noqa: DTZ901 - stored without a zone
    ).fetchall()
    return [session_of(row) for row in rows]


@dataclass(frozen=True, slots=True)
class StoredSession:
    """When a session was, which recordings stand for it, and the code and the limits that made its digest."""

    key: str
    start: datetime
    end: datetime
    version: str
    digest_by: str | None


def stored_sessions(
    con: duckdb.DuckDBPyConnection, athlete: str, start: datetime, end: datetime
) -> list[StoredSession]:
    """Sessions that touch the time from `start` to `end`, without what they were like."""
    rows = con.execute(
        "SELECT key, started, ended, version, digest_by FROM session WHERE athlete = ? AND ended >= ? AND started <= ?"
        " ORDER BY started, key",
        [athlete, to_store(start), to_store(end)],
    ).fetchall()
    return [StoredSession(key, from_store(begun), from_store(over), *told) for key, begun, over, *told in rows]


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


def samples_of(con: duckdb.DuckDBPyConnection, athlete: str, key: str) -> Samples:
    """Samples of one session, `t_s` counted from its start; empty when nothing was recorded by the second."""
    return samples_of_many(con, [(athlete, key)])[0]


def samples_of_many(con: duckdb.DuckDBPyConnection, wanted: Sequence[tuple[str, str]]) -> list[Samples]:
    """The same for many sessions (athlete, key) in one reading."""
    rows = con.execute(
        "SELECT athlete, key, parts, started FROM session"
        " JOIN (SELECT unnest($athletes) AS athlete, unnest($keys) AS key) AS wanted USING (athlete, key)",
        {"athletes": [athlete for athlete, _ in wanted], "keys": [key for _, key in wanted]},
    ).fetchall()
    found = {(athlete, key): (json.loads(parts), from_store(started)) for athlete, key, parts, started in rows}
    tables, times = _recorded(con, [number for parts, _ in found.values() for number in parts])
    nothing: tuple[list[int], datetime] = ([], datetime.min.replace(tzinfo=UTC))
    return [_joined(*found.get(key, nothing), tables, times) for key in wanted]


def samples_joined(con: duckdb.DuckDBPyConnection, parts: Sequence[int], start: datetime) -> Samples:
    """Samples of recordings by their numbers, on one clock that begins at `start`."""
    return _joined(parts, start, *_recorded(con, parts))


Times = dict[int, tuple[datetime, datetime]]


def _recorded(con: duckdb.DuckDBPyConnection, numbers: Sequence[int]) -> tuple[dict[int, dict[str, Floats]], Times]:
    """Samples, begin and end by the number of the recording."""
    from monitor.store import samples  # noqa: PLC0415 - brings numpy, which most commands do without

    rows = con.execute(
        "SELECT number, started, ended FROM recording WHERE list_contains(?::INTEGER[], number)", [list(numbers)]
    ).fetchall()
    times = {number: (from_store(begin), from_store(end)) for number, begin, end in rows}
    return samples.load_each(con, numbers), times


def _joined(parts: Sequence[int], start: datetime, tables: Mapping[int, Mapping[str, Floats]], times: Times) -> Samples:
    """The parts on one clock, in the order of time; each only from where it has time of its own."""
    import numpy as np  # noqa: PLC0415 - most commands do without

    known = [number for number in parts if number in times]
    since = own_since([(number, *times[number]) for number in known])
    pieces = []
    for number in known:
        clock = tables[number]["t_s"] + (times[number][0] - start).total_seconds()
        own = clock >= (since[number] - start).total_seconds()
        pieces.append({column: values[own] for column, values in {**tables[number], "t_s": clock}.items()})
    if not pieces:
        return {column: np.zeros(0) for column in SAMPLE_COLUMNS}
    whole = {column: np.concatenate([piece[column] for piece in pieces]) for column in pieces[0]}
    order = np.argsort(whole["t_s"], kind="stable")
    return {column: values[order] for column, values in whole.items()}


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
