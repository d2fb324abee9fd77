"""Values that travel between the rooms: what a folder shows, what one file says, what a judgement changes."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING, Literal

from rules.facts import CheckIn, Digest, Morning, Night
from rules.findings import Finding
from rules.words import rendered, said

# The endings of the files that the program takes up; light enough for whoever only looks at names.
ACTIVITY_ENDINGS = (".fit", ".tcx", ".gpx")
ENDINGS = (
    *ACTIVITY_ENDINGS,
    *(ending + ".gz" for ending in ACTIVITY_ENDINGS),
    ".zip",
    ".csv",
    ".json",
    ".checkin.json",
    ".txt",
    ".rr",
)
"""Endings that the program takes up, in lower case; every other file in a folder is none of its business."""

Units = Literal["metric", "imperial"]
ClockFace = Literal["24h", "12h"]


# What a look at a watched folder shows.

PART_PATIENCE_SECONDS = 600.0
"""A partial sibling untouched for so long is a download given up, and no reason to wait."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One regular file as it lay there at one moment."""

    relative: str  # path relative to the athlete's folder, "/" between parts, as text (monitor.values)
    size: int
    mtime_ns: int
    device: int
    inode: int
    part_mtime_ns: int | None = None  # of a partial sibling (`run.fit.part`), which says that a download is under way

    @property
    def stamp(self) -> tuple[int, int]:
        """Size and time: what tells a file from itself after a change, without reading it."""
        return self.size, self.mtime_ns

    def is_under_way(self, wall: float | None) -> bool:
        """Whether a partial sibling says that this file is still being fetched; `wall` is now, in seconds."""
        if self.part_mtime_ns is None:
            return False
        return wall is None or wall - self.part_mtime_ns / 1e9 < PART_PATIENCE_SECONDS


@dataclass(frozen=True, slots=True)
class Refused:
    """Something that is never opened, with the reason, said once.

    `unreadable` could have held facts and cannot be opened (a link, a pipe, a closed folder); `ignored` is of a kind
    that holds none (`notes.docx`).
    """

    relative: str
    reason: str
    state: Literal["unreadable", "ignored"] = "unreadable"


@dataclass(frozen=True, slots=True)
class Listing:
    """All that a folder holds: files to take up, things refused, and whether the root itself was there."""

    files: tuple[Seen, ...] = ()
    refused: tuple[Refused, ...] = ()
    missing: str | None = None  # why the root cannot be looked into; None when it can
    root: tuple[int, int] | None = None  # device and inode of the root, to notice another folder in its place


# File names as text that can be stored and shown, and back: a name on disk may hold bytes that spell nothing.

_PRIVATE = 0xF700  # a corner of Unicode's private area; undecodable bytes 0x80-0xFF stand there as U+F780-U+F7FF
_TO_TEXT = {0xDC00 + byte: _PRIVATE + byte for byte in range(0x80, 0x100)}  # from Python's surrogateescape
_TO_NAME = {private: escaped for escaped, private in _TO_TEXT.items()}


def as_text(name: str) -> str | None:
    """A name or path from the system as valid Unicode; None for one that would not lead back to itself."""
    if name.isascii():
        return name
    text = name.translate(_TO_TEXT)
    try:
        text.encode()
    except UnicodeEncodeError:
        return None
    return text if as_name(text) == name else None


def as_name(text: str) -> str:
    """The name that the system knows, from its text."""
    return text.translate(_TO_NAME)


# What one file says: recordings of activities, nights, mornings, check-ins. These cross the border of the worker
# process, so they hold only plain values and numpy arrays.

if TYPE_CHECKING:  # a roster is read without numpy
    import numpy as np
    import numpy.typing as npt

    from rules.session.track import Track

    Samples = dict[str, npt.NDArray[np.float64]]
else:
    Samples = dict
"""Column name (of rules.facts.SAMPLE_COLUMNS) -> float64 array, all of one length, NaN where nothing was recorded.
`t_s` is always there and never falls; a column that the device never recorded may be left out."""


@dataclass(frozen=True, slots=True)
class Recording:
    """One activity of one sport as one file tells it."""

    start: datetime  # aware, UTC
    end: datetime  # start + elapsed
    sport: str  # FIT word, lower case; "generic" where the file does not say
    sub_sport: str  # FIT word, "generic" where the file does not say
    timer_s: float  # moving (timer) time; elapsed less pauses where the file does not say
    elapsed_s: float
    distance_m: float | None
    samples: Samples
    pauses: tuple[tuple[float, float], ...] = ()  # (from_s, to_s) on the samples' clock, timer stopped
    lap_marks_s: tuple[float, ...] = ()  # on the same clock: where a lap was pressed, or a step of a workout ended
    barometer: bool | None = None  # whether the device names one among its sensors; None where it names none at all
    utc_offset_s: int | None = None  # local clock minus UTC, as the device said
    ascent_m: float | None = None
    descent_m: float | None = None
    avg_hr_bpm: float | None = None  # summary values serve where there are no samples
    max_hr_bpm: float | None = None
    format: str = "fit"  # fit, tcx, gpx, ...
    device: str | None = None
    digest: Digest | None = None  # filled in the worker after decoding
    digest_by: str = ""  # fingerprint of the code and the limits that made the digest
    track: Track | None = None  # the samples as they were believed for the digest, where they are to be judged at once


@dataclass(frozen=True, slots=True)
class FileFacts:
    """All facts of one file. `remarks` are sentences for the ledger ("cut off after 12 345 records: ...")."""

    kind: str
    recordings: tuple[Recording, ...] = ()
    nights: tuple[Night, ...] = ()
    mornings: tuple[Morning, ...] = ()
    checkins: tuple[CheckIn, ...] = ()
    remarks: tuple[str, ...] = ()
    damaged: bool = False  # only a part could be read


@dataclass(frozen=True, slots=True)
class ColumnMap:
    """How the athlete's CSV names a field: header text and unit (h, min, s, ms, bpm) if not the default."""

    header: str
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class TableNames:
    """How the tables of a file name, or a pattern of it, name their fields."""

    files: str  # like "sleep*.csv"; with a stroke in it, of the path within the folder
    columns: Mapping[str, ColumnMap] = field(default_factory=dict)
    date_order: str | None = None
    decimal_comma: bool | None = None

    def are_of(self, path: str) -> bool:
        """Whether a file, by its path within the folder, is one of them; capitals play no part."""
        lower, pattern = path.replace("\\", "/").lower(), self.files.lower()
        return fnmatchcase(lower if "/" in pattern else lower.rpartition("/")[2], pattern)


@dataclass(frozen=True, slots=True)
class IntakeOptions:
    """What reading a file needs to know of the athlete."""

    timezone: str
    columns: Mapping[str, ColumnMap] = field(default_factory=dict)  # field name -> column
    date_order: str | None = None  # "dmy" or "mdy" when told; None: ISO only
    decimal_comma: bool | None = None  # None: found from the file
    tables: tuple[TableNames, ...] = ()  # of some files only; the first that fits

    def of(self, path: str) -> IntakeOptions:
        """What holds for one file, by its path within the folder."""
        for table in self.tables:
            if table.are_of(path):
                order = table.date_order or self.date_order
                comma = self.decimal_comma if table.decimal_comma is None else table.decimal_comma
                return IntakeOptions(self.timezone, {**self.columns, **table.columns}, order, comma)
        return self

    @property
    def fingerprint(self) -> str:
        """The same for the same options: a file read under others may have said something else."""
        told = repr((self.timezone, _names(self.columns), self.date_order, self.decimal_comma))
        told += "".join(
            repr((table.files, _names(table.columns), table.date_order, table.decimal_comma)) for table in self.tables
        )
        return hashlib.sha256(told.encode()).hexdigest()[:16]


def _names(columns: Mapping[str, ColumnMap]) -> list[tuple[str, str, str | None]]:
    return sorted((name, column.header, column.unit) for name, column in columns.items())


# What a new judgement changes against the findings that stand.


@dataclass(frozen=True, slots=True)
class Difference:
    """Fresh findings, worsened ones (old, new), changed ones of no greater severity, and withdrawn ones."""

    athlete: str
    fresh: tuple[Finding, ...] = ()
    worse: tuple[tuple[Finding, Finding], ...] = ()
    changed: tuple[tuple[Finding, Finding], ...] = ()
    withdrawn: tuple[Finding, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.fresh or self.worse or self.changed or self.withdrawn)


def difference(athlete: str, standing: Iterable[Finding], judged: Iterable[Finding]) -> Difference:
    """Compare by id, then by rule and overlapping time: a better recording of a session makes no new finding."""
    left = {finding.id: finding for finding in standing}
    pairs: list[tuple[Finding, Finding]] = []
    unmatched: list[Finding] = []
    for finding in judged:
        old = left.pop(finding.id, None)
        if old is None:
            unmatched.append(finding)
        else:
            pairs.append((old, finding))
    fresh: list[Finding] = []
    for finding in unmatched:
        old = next((other for other in left.values() if _same_subject(other, finding)), None)
        if old is None:
            fresh.append(finding)
        else:
            del left[old.id]
            pairs.append((old, finding))
    worse = tuple(pair for pair in pairs if pair[1].severity > pair[0].severity)
    changed = tuple(pair for pair in pairs if pair[1].severity <= pair[0].severity and _reads_otherwise(*pair))
    return Difference(athlete, tuple(fresh), worse, changed, tuple(left.values()))


def _reads_otherwise(old: Finding, new: Finding) -> bool:
    """Compared as they are shown: one that an older version kept as text has not changed by being a statement now."""
    return old != new and _as_read(old) != _as_read(new)


def _as_read(finding: Finding) -> Finding:
    summary, unit, evidence = said(finding.summary), said(finding.unit), rendered(finding.evidence)
    return replace(finding, summary=summary, unit=unit, evidence=evidence)


def _same_subject(old: Finding, new: Finding) -> bool:
    return (
        old.rule == new.rule
        and old.subject_kind == new.subject_kind == "session"
        and old.subject_start < new.subject_end
        and new.subject_start < old.subject_end
    )
