"""Files that one look brought, read and stored: what is new, what is known already, what cannot be read.

A slow file holds only itself: where no result comes for a moment, what there is is stored.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import date, datetime, timedelta
from pathlib import Path

import duckdb

from monitor import words
from monitor.intake import sessions
from monitor.intake.plausible import without_days_ahead
from monitor.intake.workers import FilesReading, ReadJob, ReadResult, Workers
from monitor.reasons import SAME_BYTES, code_of, stored
from monitor.roster import RosterAthlete
from monitor.store import body, findings, intake, recordings
from monitor.store.intake import LedgerRow
from monitor.values import FileFacts, Refused, Seen
from rules.limits import Limits, default_limits
from rules.session.labels import quality

BATCH_FILES = 100
BATCH_SAMPLES = 400_000
SLOW_SECONDS = 0.3
"""After so long without another file read, those read so far are stored, judged and reported."""
LEAVE_SECONDS = 2.0
"""After so long the daemon no longer waits for files that are still being read, and takes other files."""
LOOK_IN_SECONDS = 0.02
FIRST_LOOK_SECONDS = 5.0
"""A first import is judged as a whole, but waits no longer than this for a slow file."""
TRACKS_AT_ONCE = 16
"""For so many files at most the cleaned samples are kept in memory for the verdict: about a MB each."""
Item = tuple[str, Seen]


@dataclass(frozen=True, slots=True)
class Due:
    """What is held is to be stored now; judged as well, but for athletes whose first look is still under way."""

    judge: bool = True
    but: frozenset[str] = frozenset()
    more: bool = False  # to come in this look


@dataclass(slots=True)
class FileBatch:
    """Files that are not read yet, results that are not stored yet, and the athletes who are imported first."""

    jobs: dict[tuple[Path, str], Item]
    first: set[str]
    reading: FilesReading
    held: dict[str, list[ReadFile]] = field(default_factory=lambda: defaultdict(list))
    samples: int = 0
    failures: int = 0  # to store what is held, in a row

    @classmethod
    def begin(
        cls, items: Iterable[Item], athletes: Sequence[RosterAthlete], first: set[str], workers: Workers
    ) -> FileBatch:
        """Have files read, small ones first; those of athletes off the roster wait."""
        by_id = {athlete.id: athlete for athlete in athletes}
        jobs = {
            (by_id[athlete_id].folder, seen.relative): (athlete_id, seen)
            for athlete_id, seen in sorted(items, key=lambda item: item[1].size)
            if athlete_id in by_id
        }
        few = len(jobs) <= TRACKS_AT_ONCE
        asked = [
            ReadJob(by_id[athlete_id].folder, seen.relative, by_id[athlete_id].options, few, seen.size)
            for athlete_id, seen in jobs.values()
        ]
        return cls(jobs, first & {athlete_id for athlete_id, _ in jobs.values()}, workers.reading(asked))

    @property
    def items(self) -> list[Item]:
        """What is not stored yet."""
        held = ((athlete_id, file.seen) for athlete_id, files in self.held.items() for file in files)
        return [*self.jobs.values(), *held]

    def due(self, patient: bool, done: Callable[[int], object]) -> Iterator[Due]:
        """Yield whenever held results are to be stored, until all are read; the daemon does not wait for slow files."""
        waited = 0.0
        while not self.reading.over:
            result = self.reading.next(SLOW_SECONDS)
            if result is None:
                waited += SLOW_SECONDS
            else:
                self._hold(*result)
                waited = 0.0
                done(1)
            if self.reading.over:
                break
            if waited >= self._leave_after(waited) and patient:
                break
            if self._full or (waited and self.held):
                yield Due(bool(waited), frozenset(self._unfinished(waited)), more=True)
        yield Due()

    def look_in(self) -> bool:
        """Take results that have come meanwhile of files that were slow; whether any are held."""
        while not self._full and (result := self.reading.next(LOOK_IN_SECONDS)) is not None:
            self._hold(*result)
        return bool(self.held)

    def stored(self) -> None:
        """The held results are stored."""
        self.held.clear()
        self.samples = self.failures = 0

    def _hold(self, job: ReadJob, result: ReadResult) -> None:
        athlete_id, seen = self.jobs.pop((job.root, job.relative))
        self.held[athlete_id].append(ReadFile(seen, result.sha256, result.facts, result.reason))
        recordings = result.facts.recordings if result.facts else ()
        self.samples += sum(len(recording.samples.get("t_s", ())) for recording in recordings)

    @property
    def _full(self) -> bool:
        return sum(map(len, self.held.values())) >= BATCH_FILES or self.samples >= BATCH_SAMPLES

    def _unfinished(self, waited: float) -> set[str]:
        """Athletes whose first import is still being read, apart from slow files: judged once it is complete."""
        return (
            {athlete_id for athlete_id, _ in self.jobs.values()} & self.first if waited < FIRST_LOOK_SECONDS else set()
        )

    def _leave_after(self, waited: float) -> float:
        """After how many seconds without a result the rest counts as slow."""
        return FIRST_LOOK_SECONDS if self._unfinished(waited) else LEAVE_SECONDS


# Facts of read files into the store: what is new, what is known already, what cannot be read.
@dataclass(frozen=True, slots=True)
class ReadFile:
    """One file after its read: the facts, or why there are none."""

    seen: Seen
    sha256: str
    facts: FileFacts | None
    reason: str | None
    again_on: date | None = None


@dataclass(slots=True)
class Tally:
    """Counts of one pass, in the words of `scan --json`."""

    files_new: int = 0
    read: int = 0
    duplicate: int = 0
    unreadable: int = 0
    ignored: int = 0
    waiting: int = 0
    sessions: int = 0
    nights: int = 0
    mornings: int = 0
    checkins: int = 0
    touched: date | None = None  # earliest day with something new
    unreadable_paths: list[str] = field(default_factory=list)

    def touch(self, day: date) -> None:
        self.touched = day if self.touched is None else min(self.touched, day)

    def add(self, part: Tally) -> None:
        """The counts of one batch to those of the pass."""
        for name, value in asdict(part).items():
            if isinstance(value, int):
                setattr(self, name, getattr(self, name) + value)
        self.unreadable_paths.extend(part.unreadable_paths)


@dataclass(frozen=True, slots=True)
class PassMoment:
    """When a pass happens: `now` as judged, `wall` by the real clock, and whether a young unreadable file may wait."""

    now: datetime
    wall: datetime
    patient: bool
    first_import: bool


YOUNG = timedelta(minutes=10)


def keep(
    con: duckdb.DuckDBPyConnection,
    athlete: RosterAthlete,
    files: Sequence[ReadFile],
    moment: PassMoment,
    limits: Limits,
) -> Tally:
    """Store what is new in the files and note each in the ledger, inside the caller's transaction."""
    tally = Tally()
    known, again = intake.known_before(
        con,
        athlete.id,
        {file.seen.relative for file in files},
        {file.sha256 for file in files if file.facts is not None},
        athlete.options.fingerprint,
    )
    rows: list[LedgerRow] = []
    told: list[recordings.FileRecording] = []
    spans: list[tuple[datetime, datetime]] = []
    today = athlete.athlete.local_date(max(moment.now, moment.wall))
    for whole in sorted(files, key=lambda file: (file.seen.mtime_ns, file.seen.relative)):
        file, path = _up_to_date(whole, today), whole.seen.relative
        before = again.get(path)
        if before and file.facts is None and before.sha256 == file.sha256 and before.state != "unreadable":
            intake.record(
                con, replace(before, read_under=athlete.options.fingerprint)
            )  # its facts of the earlier read stay
            continue
        if before:
            _forget(con, athlete.id, before, tally)
        if file.facts is None:
            if before or not intake.decided(con, athlete.id, file.seen):  # else another pass has recorded it meanwhile
                rows.append(_unread(athlete, file, moment))
            continue
        if before and before.sha256 == file.sha256 in known:
            intake.record(con, _read_again(con, athlete, file, file.facts, moment, before, tally))
            continue
        if file.sha256 in known:
            _tell_body(con, athlete.id, file, file.facts, tally)  # its values may be the newest again
            if known[file.sha256] == path and intake.touch(con, athlete.id, file.sha256, file.seen, file.again_on):
                continue
            spans.extend((recording.start, recording.end) for recording in file.facts.recordings)
            other = known[file.sha256] if known[file.sha256] != path else words.files.HAD_BEFORE
            rows.append(_row(athlete, file, moment, "duplicate", words.files.SAME_BYTES.format(path=other)))
            continue
        known[file.sha256] = path
        rows.append(_insert(con, athlete, file, file.facts, moment, tally))
        told.extend(_told(file, file.facts))
        spans.extend((recording.start, recording.end) for recording in file.facts.recordings)
    recordings.insert(con, athlete.id, told)
    files_present = {file.seen.relative: file.sha256 for file in files if file.facts is not None}
    change = sessions.merge_recordings(con, athlete.id, spans, limits, files_present)
    tally.sessions += change.new
    for start in change.touched:
        tally.touch(athlete.athlete.local_date(start))
    noted = [sessions.noted(row, change.standing.get(row.sha256, 0), change.told_by.get(row.sha256)) for row in rows]
    intake.record(con, *noted)
    sessions.recount(con, athlete.id, change, but={recorded.sha256 for recorded in told})
    for row in noted:
        if not _said_before(row, again.get(row.path)):
            _count(row, tally)
    if tally.touched is not None:
        findings.mark_to_judge(con, athlete.id, tally.touched)
    return tally


def _up_to_date(file: ReadFile, today: date) -> ReadFile:
    if file.facts is None:
        return file
    facts, again_on = without_days_ahead(file.facts, today)
    return replace(file, facts=facts, again_on=again_on)


def _forget(con: duckdb.DuckDBPyConnection, athlete: str, before: LedgerRow, tally: Tally) -> None:
    for day in body.forget(con, athlete, before.sha256):
        tally.touch(day)


def _read_again(
    con: duckdb.DuckDBPyConnection, athlete: RosterAthlete, file: ReadFile, facts: FileFacts, moment: PassMoment,
    before: LedgerRow, tally: Tally,
) -> LedgerRow:  # fmt: skip
    """Store the facts of known bytes that were read with other options; their recordings stay as they are."""
    row = _insert(con, athlete, file, facts, moment, tally)
    if code_of(before.reason) == SAME_BYTES:
        return replace(before, size=row.size, mtime_ns=row.mtime_ns, read_under=row.read_under)
    state, reason = (before.state, before.reason) if facts.recordings else (row.state, row.reason)
    return replace(row, state=state, reason=reason, sessions=before.sessions, arrived_at=before.arrived_at)


def _said_before(row: LedgerRow, before: LedgerRow | None) -> bool:
    """Whether a file that was read again still cannot be read, for the same reason."""
    return before is not None and (before.state, before.reason) == (row.state, row.reason) == ("unreadable", row.reason)


def _unread(athlete: RosterAthlete, file: ReadFile, moment: PassMoment) -> LedgerRow:
    age = moment.wall.timestamp() - file.seen.mtime_ns / 1e9
    reason = file.reason or words.files.CANNOT_BE_READ
    if moment.patient and age < YOUNG.total_seconds():
        return _row(athlete, file, moment, "waiting", words.files.YOUNG_FILE_WAITS.format(reason=reason))
    return _row(athlete, file, moment, "unreadable", reason)


def _row(athlete: RosterAthlete, file: ReadFile, moment: PassMoment, state: str, *reasons: str) -> LedgerRow:
    facts = file.facts
    hangs_on_options = facts is None or file.again_on or facts.nights or facts.mornings or facts.checkins
    arrived = moment.now if state == "read" and not moment.first_import else None
    seen = file.seen
    return LedgerRow(
        athlete.id,
        seen.relative,
        file.sha256,
        seen.size,
        seen.mtime_ns,
        state,
        stored(*reasons),
        read_at=moment.now,
        arrived_at=arrived,
        read_under=athlete.options.fingerprint if hangs_on_options else None,
        again_on=file.again_on,
    )


def _told(file: ReadFile, facts: FileFacts) -> list[recordings.FileRecording]:
    return [
        recordings.FileRecording(
            file.sha256,
            file.seen.relative,
            part,
            recording,
            quality(recording.digest, recording.timer_s, default_limits()) if recording.digest else 0.0,
        )
        for part, recording in enumerate(facts.recordings)
    ]


def _insert(
    con: duckdb.DuckDBPyConnection,
    athlete: RosterAthlete,
    file: ReadFile,
    facts: FileFacts,
    moment: PassMoment,
    tally: Tally,
) -> LedgerRow:
    """Store what one file says of the body; its sessions are counted once all files of the batch are there."""
    fresh_nights, fresh_mornings, fresh_checkins = _tell_body(con, athlete.id, file, facts, tally)
    row = _row(athlete, file, moment, "read", *facts.remarks)
    told = len(facts.recordings) + len(facts.nights) + len(facts.mornings) + len(facts.checkins)
    if not told and not row.reason:
        row = replace(row, reason=stored(words.files.NOTHING_JUDGED))
    if told and not facts.recordings and not (fresh_nights or fresh_mornings or fresh_checkins):
        row = replace(row, state="duplicate", reason=stored(words.files.NOTHING_NEW), arrived_at=None)
    return replace(
        row,
        sessions=len(facts.recordings),
        nights=fresh_nights,
        mornings=fresh_mornings,
        checkins=fresh_checkins,
    )


def _tell_body(
    con: duckdb.DuckDBPyConnection, athlete: str, file: ReadFile, facts: FileFacts, tally: Tally
) -> tuple[int, int, int]:
    """Store what a file says of nights, mornings and check-ins, as of its own time; how many of each are new."""
    days = [fact.date for kind in (facts.nights, facts.mornings, facts.checkins) for fact in kind]
    if not days:
        return 0, 0, 0
    source = body.SourceFile(file.seen.relative, file.sha256, file.seen.mtime_ns, min(days), max(days))
    fresh = (
        body.insert_nights(con, athlete, source, facts.nights),
        body.insert_mornings(con, athlete, source, facts.mornings),
        body.insert_checkins(con, athlete, source, facts.checkins),
    )
    for days in fresh:
        for day in days:
            tally.touch(day)
    nights_told, mornings_told, checkins_told = map(len, fresh)
    return nights_told, mornings_told, checkins_told


def _count(row: LedgerRow, tally: Tally) -> None:
    tally.files_new += 1
    setattr(tally, row.state, getattr(tally, row.state) + 1)
    tally.nights += row.nights
    tally.mornings += row.mornings
    tally.checkins += row.checkins
    if row.state == "unreadable":
        tally.unreadable_paths.append(row.path)


def not_in_ledger(
    refused: Mapping[str, Iterable[Refused]], known: Mapping[str, Collection[str]], now: datetime
) -> list[LedgerRow]:
    """Rows for what no ledger knows yet; athlete id -> things, and athlete id -> paths that are known."""
    return [
        LedgerRow(athlete_id, thing.relative, "", -1, 0, thing.state, stored(thing.reason), read_at=now)
        for athlete_id, things in refused.items()
        for thing in things
        if thing.relative not in known[athlete_id]
    ]


def record(con: duckdb.DuckDBPyConnection, rows: Iterable[LedgerRow], tally: Tally) -> None:
    for row in rows:
        intake.record(con, row)
        tally.files_new += 1
        setattr(tally, row.state, getattr(tally, row.state) + 1)
