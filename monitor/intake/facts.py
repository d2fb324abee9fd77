"""What one file says: recordings of activities, nights, mornings, check-ins.

These cross the border of the worker process, so they hold only plain values and numpy arrays.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING

from rules.facts import CheckIn, Digest, Morning, Night

if TYPE_CHECKING:  # a roster is read without numpy
    import numpy as np
    import numpy.typing as npt

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
            repr((one.files, _names(one.columns), one.date_order, one.decimal_comma)) for one in self.tables
        )
        return hashlib.sha256(told.encode()).hexdigest()[:16]


def _names(columns: Mapping[str, ColumnMap]) -> list[tuple[str, str, str | None]]:
    return sorted((name, one.header, one.unit) for name, one in columns.items())
