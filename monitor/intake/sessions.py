"""Stored recordings -> sessions and their digests: what is one session, what changed, what is to be measured anew."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Protocol

import duckdb

from monitor import fingerprints, logs, words
from monitor.reasons import SAME_BYTES, code_of, stored
from monitor.roster import RosterAthlete
from monitor.store import findings, intake, recordings, samples
from monitor.store.database import Store
from monitor.store.intake import LedgerRow
from monitor.store.recordings import StoredRecording, StoredSession
from rules.facts import Digest, Session
from rules.limits import Limits
from rules.session.labels import Span, Truth, deduplicate, overlap, quality, stretches

if TYPE_CHECKING:
    from rules.session.timeline import Samples


# The digest of a recording or a session, measured from its samples.


class DigestSource(Protocol):
    """What a digest needs beside the samples: a recording just read, one as stored, or a session."""

    @property
    def sport(self) -> str: ...
    @property
    def sub_sport(self) -> str: ...
    @property
    def timer_s(self) -> float: ...
    @property
    def elapsed_s(self) -> float: ...
    @property
    def pauses(self) -> tuple[tuple[float, float], ...]: ...
    @property
    def barometer(self) -> bool | None: ...


def make_digest(one: DigestSource, samples: Samples, limits: Limits) -> Digest:
    """The digest of one recording or session; `samples` as the store keeps them."""
    from rules.session.digest import digest  # noqa: PLC0415 - brings much that nights and check-ins do without

    return digest(
        one.sport, one.sub_sport, one.timer_s, one.elapsed_s, one.pauses, samples, limits, barometer=one.barometer
    )


# Stored recordings -> sessions: decide which recordings are one session, store what changed.

DAY = timedelta(days=1)
AROUND = 4 * DAY
"""So far around is looked at first, and further where something goes on there."""


@dataclass(frozen=True, slots=True, order=True)
class Other:
    """The file whose recording stands for a session, and whether it says the very same, as a packed copy does."""

    path: str
    alike: bool


@dataclass(slots=True)
class SessionChange:
    """What settling changed: days touched, sessions that are new, and per file how many recordings stand."""

    new: int = 0
    touched: list[datetime] = field(default_factory=list)
    standing: dict[str, int] = field(default_factory=dict)  # sha256 -> recordings of it that stand for a session
    told_by: dict[str, Other] = field(default_factory=dict)  # sha256 -> what stands for the same session instead


def merge_recordings(
    con: duckdb.DuckDBPyConnection,
    athlete: str,
    spans: Sequence[tuple[datetime, datetime]],
    limits: Limits,
    files_present: Mapping[str, str] | None = None,
) -> SessionChange:
    """Determine the sessions around the given times again and store what differs.

    `files_present` is path -> bytes of what has just been read and does not stand in the ledger yet.
    """
    change = SessionChange()
    for span in stretches(spans, 2 * AROUND):
        around, (first, last) = _whole_around(con, athlete, span, limits)
        kept = {
            recording.span.number: recording
            for recording in without_corrected(con, athlete, around, limits, files_present)
        }
        truths = [
            truth
            for truth in deduplicate([recording.span for recording in kept.values()], limits)
            if truth.parts[0].start <= last and first <= max(part.end for part in truth.parts)
        ]
        known = recordings.stored_sessions(con, athlete, first, last)
        settled = _replace(con, athlete, truths, known, kept, change, limits)
        _tell(kept, truths, change, [span, *settled])
    return change


def _whole_around(
    con: duckdb.DuckDBPyConnection, athlete: str, span: Span, limits: Limits
) -> tuple[list[StoredRecording], Span]:
    """Recordings around a time, and from when to when they are all that there are: a day more, and whole stretches."""
    gap = timedelta(seconds=limits.one_truth.join_gap_seconds)
    near = first, last = span[0] - DAY, span[1] + DAY
    while True:
        around = recordings.around(con, athlete, first - AROUND, last + AROUND)
        together = stretches([near, *((one.span.start, one.span.end) for one in around)], gap)
        whole = next((begun, over) for begun, over in together if begun <= near[0] <= over)
        if first - AROUND < whole[0] - gap and whole[1] + gap < last + AROUND:
            return around, whole
        first, last = whole


def without_corrected(
    con: duckdb.DuckDBPyConnection,
    athlete: str,
    kept: Sequence[StoredRecording],
    limits: Limits,
    files_present: Mapping[str, str] | None = None,
) -> list[StoredRecording]:
    """Recordings without those that were replaced when their file was read again, as in a store made anew.

    What a file told of another session, before something else was written to its place, stays.
    """
    told = {(recording.path, recording.span.sha256) for recording in kept}
    if len(told) == len({path for path, _ in told}):  # no path has held two files
        return list(kept)
    at = intake.files_present(
        con, athlete, [recording.path for recording in kept], [recording.span.sha256 for recording in kept]
    ) | dict(files_present or {})
    there = set(at.values())
    share = limits.one_truth.overlap_share
    newer: dict[str, list[StoredRecording]] = {}
    for recording in kept:
        if at.get(recording.path) == recording.span.sha256:
            newer.setdefault(recording.path, []).append(recording)
    return [
        recording
        for recording in kept
        if recording.span.sha256 in there
        or not any(overlap(recording.span, new.span) >= share for new in newer.get(recording.path, ()))
    ]


def _replace(
    con: duckdb.DuckDBPyConnection,
    athlete: str,
    truths: Sequence[Truth],
    known: Sequence[StoredSession],
    kept: dict[int, StoredRecording],
    change: SessionChange,
    limits: Limits,
) -> list[Span]:
    """Store the sessions that differ from those known; the times of those that are new and of those that are gone."""
    before = {session.key: session for session in known}
    after = {truth.key: truth for truth in truths}
    stale = [
        key
        for key, old in before.items()
        if key not in after
        or version(after[key]) != old.version
        or old.digest_by != _digested_by(after[key], kept, limits)
    ]
    fresh = [truth for key, truth in after.items() if key not in before or key in stale]
    made = [
        (
            session_of(truth, kept, limits, lambda parts, start: recordings.samples_joined(con, parts, start)),
            [span.number for span in truth.parts],
            _digested_by(truth, kept, limits),
        )
        for truth in fresh
    ]
    recordings.replace_sessions(con, athlete, stale, made)
    gone = [before[key] for key in stale]
    for session, _, _ in made:
        change.touched.append(session.start)
        if not any(old.start < session.end and session.start < old.end for old in gone):
            change.new += 1
    change.touched.extend(session.start for session in gone)
    return [*((session.start, session.end) for session, _, _ in made), *((old.start, old.end) for old in gone)]


def _digested_by(truth: Truth, kept: Mapping[int, StoredRecording], limits: Limits) -> str | None:
    """By what the session's digest is made: that of its only recording, or one of its own where it has several."""
    return kept[truth.parts[0].number].digest_by if len(truth.parts) == 1 else fingerprints.of_digests(limits)


def version(truth: Truth) -> str:
    """Names the recordings that stand for a session; another version asks for another verdict."""
    return "+".join(version_of(span.sha256, span.part) for span in truth.parts)


def version_of(sha256: str, part: int) -> str:
    """The version of a session that one recording stands for."""
    return f"{sha256[:16]}.{part}"


JoinedSamples = Callable[[Sequence[int], datetime], "Samples"]
"""Samples of recordings by their numbers, on one clock that begins at a moment."""


def session_of(truth: Truth, kept: Mapping[int, StoredRecording], limits: Limits, joined: JoinedSamples) -> Session:
    """One session from the recordings that stand for it; `joined` is asked for the samples of several."""
    parts = [kept[span.number] for span in truth.parts]
    first = parts[0]
    start, end = first.span.start, max(part.span.end for part in parts)
    since = recordings.own_since([(part.span.number, part.span.start, part.span.end) for part in parts])
    pauses: list[tuple[float, float]] = []
    marks: list[float] = []
    for index, part in enumerate(parts):
        shift, own = ((moment - start).total_seconds() for moment in (part.span.start, since[part.span.number]))
        if index and shift > (stop := (parts[index - 1].span.end - start).total_seconds()):
            pauses.append((stop, shift))
        pauses.extend((max(a + shift, own), b + shift) for a, b in part.pauses if b + shift > own)
        marks.extend(mark + shift for mark in part.lap_marks_s if mark + shift > own)
    shares = [_own_share(part, since[part.span.number]) for part in parts]
    distances = [part.distance_m * own for part, own in zip(parts, shares, strict=True) if part.distance_m is not None]
    session = Session(
        key=truth.key,
        start=start,
        end=end,
        sport=first.span.sport,
        sub_sport=first.sub_sport,
        timer_s=sum(part.timer_s * own for part, own in zip(parts, shares, strict=True)),
        elapsed_s=(end - start).total_seconds(),
        distance_m=sum(distances) if distances else None,
        source=max(parts, key=lambda part: part.span.quality).path,
        digest=first.digest,
        version=version(truth),
        utc_offset_s=first.utc_offset_s,
        pauses=tuple(pauses),
        lap_marks_s=tuple(marks),
        barometer=first.barometer,
    )
    if len(parts) == 1:
        return session
    samples = joined([part.span.number for part in parts], start)
    return replace(session, digest=_digest_or(first.digest, session, samples, limits))


def _own_share(part: StoredRecording, since: datetime) -> float:
    """Share of a recording's time that no earlier one of the session tells of."""
    return max((part.span.end - since).total_seconds(), 0.0) / part.span.seconds if part.span.seconds else 1.0


def alike(one: StoredRecording, other: StoredRecording) -> bool:
    """Whether two recordings were measured to be the same from beginning to end."""
    same = (one.span.start, one.span.end, one.span.format, one.span.sport) == (
        other.span.start, other.span.end, other.span.format, other.span.sport
    )  # fmt: skip
    return same and (one.distance_m, one.timer_s, one.digest) == (other.distance_m, other.timer_s, other.digest)


def _tell(
    kept: dict[int, StoredRecording],
    truths: Sequence[Truth],
    change: SessionChange,
    settled: Sequence[Span],
) -> None:
    """Per file: how many of its recordings stand, and for one that does not, the path of one that does.

    Only of those that share some of the time in which anything was settled: of others it is as it was.
    """
    standing = {span.number for truth in truths for span in truth.parts}
    concerned = {
        number
        for number, recording in kept.items()
        if any(recording.span.start <= end and start <= recording.span.end for start, end in settled)
    }
    for number in standing & concerned:
        sha256 = kept[number].span.sha256
        change.standing[sha256] = change.standing.get(sha256, 0) + 1
    for number in concerned - standing:
        recording = kept[number]
        better = [
            Other(kept[number].path, alike(kept[number], recording))
            for number in standing
            if kept[number].span.start < recording.span.end and recording.span.start < kept[number].span.end
        ]
        if better:
            change.told_by[recording.span.sha256] = min(better)


def noted(row: LedgerRow, standing: int, told_by: Other | None) -> LedgerRow:
    """A row of the ledger after settling: a file whose every recording is told better by another is a duplicate.

    `row` says "read" and how many recordings there are, `standing` how many of them stand.
    """
    if row.state == "read" and row.sessions and not standing and not (row.nights or row.mornings or row.checkins):
        reason = words.files.SAME_SESSION
        if told_by is not None:
            told = words.files.SAME_RECORDING if told_by.alike else words.files.SAME_SESSION_TOLD_BETTER
            reason = told.format(path=told_by.path)
        row = replace(row, state="duplicate", reason=stored(reason), arrived_at=None)
    return replace(row, sessions=standing if row.state == "read" else 0)


def recount(con: duckdb.DuckDBPyConnection, athlete: str, change: SessionChange, but: Collection[str] = ()) -> None:
    """Say in the ledger of all files concerned what they are now, also of those that were read before.

    `but` are bytes that nobody had told before and that stand there by now.
    """
    concerned = {*change.standing, *change.told_by} - set(but)
    if not concerned:
        return
    standing = recordings.standing(con, athlete, concerned)
    for row in intake.of_recordings(con, athlete, concerned):
        stands, told_by = standing.get(row.sha256, 0), change.told_by.get(row.sha256)
        if code_of(row.reason) == SAME_BYTES or not (stands or told_by):
            continue
        better_told = row.state == "duplicate"
        now = noted(replace(row, state="read", reason="" if better_told else row.reason, sessions=1), stands, told_by)
        if replace(now, arrived_at=row.arrived_at) != row:
            intake.record(con, replace(now, arrived_at=row.arrived_at))


# Digests made anew from the stored samples, after the code or the limits that made them have changed.


def waiting(con: duckdb.DuckDBPyConnection, limits: Limits) -> dict[str, int]:
    """Athlete -> how many recordings have a digest that other code or other limits made."""
    return recordings.digested_by_other_code(con, fingerprints.of_digests(limits))


def redigest(store: Store, athlete: RosterAthlete, limits: Limits, most: int) -> int:
    """Make some of an athlete's digests anew, the newest recordings first; how many. The last asks for a judgement.

    Nothing is held open while they are made. Each part is stored by itself, so that a stop between two loses nothing.
    """
    by = fingerprints.of_digests(limits)
    with store.reading() as con:
        kept = recordings.to_digest(con, athlete.id, by, most)
        tables = samples.load_each(con, [recording.span.number for recording in kept])
    if not kept:
        return 0
    made = [(recording, *_made(recording, tables[recording.span.number], limits)) for recording in kept]
    with store.writing() as con:
        recordings.set_digests(con, made, by)
        recount(
            con,
            athlete.id,
            merge_recordings(
                con, athlete.id, [(recording.span.start, recording.span.end) for recording in kept], limits
            ),
        )
        first = recordings.first_start(con, athlete.id)
        if first is not None and athlete.id not in recordings.digested_by_other_code(con, by):
            findings.mark_to_judge(con, athlete.id, athlete.athlete.local_date(first))
    return len(kept)


def _made(one: StoredRecording, table: Samples, limits: Limits) -> tuple[float, Digest]:
    """Quality and digest; those that it had where the rules break down on its samples."""
    made = _digest_or(one.digest, one, table, limits)
    return one.span.quality if made is one.digest else quality(made, one.timer_s, limits), made


def _digest_or(before: Digest, one: DigestSource, samples: Samples, limits: Limits) -> Digest:
    try:
        return make_digest(one, samples, limits)
    except Exception as error:  # noqa: BLE001 - one recording must never keep the others from being measured
        logs.failure("digest_failed", error)
        return before
