"""What a value may be at all, before any judging, by the bounds of the limits file; and moments as files write them."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from datetime import MAXYEAR, MINYEAR, UTC, date, datetime, timedelta
from typing import Protocol, TypeVar
from zoneinfo import ZoneInfo

from monitor import words
from monitor.values import FileFacts, Samples
from rules.limits import default_limits
from rules.limits_schema_session import Pair

BOUNDS = default_limits().plausible
"""Least and most of each quantity, both allowed."""
MORNING = default_limits().morning
"""What of a night or a morning a measurement is of."""
MOST = default_limits().intake
"""What is taken in at most: bytes, members, points."""
YEAR_SECONDS = 31556952.0  # mean of the calendar


def is_plausible(bounds: Pair, value: float) -> bool:
    least, most = bounds
    return math.isfinite(value) and least <= value <= most


def dated() -> tuple[float, float]:
    """First and last moment that a clock which was set may tell, in seconds since 1970."""
    first_year, last_year = BOUNDS.year
    return (first_year - 1970) * YEAR_SECONDS, (last_year - 1970) * YEAR_SECONDS


def mask_samples(samples: Samples) -> Samples:
    """The same table with impossible values taken out, and columns that say nothing left out."""
    import numpy as np  # noqa: PLC0415 - the bounds are asked for without samples, too

    masked: Samples = {"t_s": samples["t_s"]}
    for name, (least, most_) in BOUNDS.samples.items():
        if name not in samples:
            continue
        column = samples[name]
        with np.errstate(invalid="ignore"):
            believed = np.where((column >= least) & (column <= most_), column, np.nan)
        if not np.isnan(believed).all():
            masked[name] = believed
    return masked


# Facts dated more than a day ahead are left out: one mistyped year must not pass for the newest word of all.

AHEAD = timedelta(days=1)
"""How far ahead a date may be: clocks of devices run ahead, and in other timezones it is tomorrow already."""


class Dated(Protocol):
    @property
    def date(self) -> date: ...


Fact = TypeVar("Fact", bound=Dated)


def without_days_ahead(facts: FileFacts, today: date) -> tuple[FileFacts, date | None]:
    """The facts up to a day past `today`, with a remark on those left out, and the earliest day of these."""
    last = today + AHEAD
    coming = sorted(recording.start.date() for recording in facts.recordings if recording.start.date() > last)
    if coming:  # kept with its samples, for it may be this machine's clock; nothing reads it before its day
        facts = replace(facts, remarks=(*facts.remarks, words.files.SESSION_AHEAD.format(coming=coming[0])))
    later = sorted(
        fact.date for kind in (facts.nights, facts.mornings, facts.checkins) for fact in kind if fact.date > last
    )
    if not later:
        return facts, None
    what = f"{later[0]}" if later[0] == later[-1] else f"{later[0]} to {later[-1]}"
    entries = "1 entry dated" if len(later) == 1 else f"{len(later)} entries dated"
    kept = replace(
        facts,
        nights=_up_to(facts.nights, last),
        mornings=_up_to(facts.mornings, last),
        checkins=_up_to(facts.checkins, last),
        remarks=(*facts.remarks, words.files.DAYS_AHEAD_LEFT_OUT.format(entries=entries, what=what)),
    )
    return kept, later[0]


def _up_to(facts: Iterable[Fact], last: date) -> tuple[Fact, ...]:
    return tuple(fact for fact in facts if fact.date <= last)


MOST_REMARKS = 20


class Remarks:
    """Sentences for the ledger, each once; of very many the first are kept and the rest counted."""

    def __init__(self) -> None:
        self._told: dict[str, None] = {}
        self._more = 0

    def __bool__(self) -> bool:
        return bool(self._told)

    def add(self, sentence: str) -> None:
        if sentence in self._told:
            return
        if len(self._told) < MOST_REMARKS:
            self._told[sentence] = None
        else:
            self._more += 1

    def first(self) -> str:
        return next(iter(self._told))

    def all(self) -> tuple[str, ...]:
        return (*self._told, words.files.AND_MORE.format(more=self._more)) if self._more else tuple(self._told)


# Moments as files write them.


def parsed(text: str) -> datetime | None:
    """An ISO 8601 date and time, aware or naive as it is written; None for anything else."""
    try:
        moment = datetime.fromisoformat(text.strip())
        moment.replace(tzinfo=UTC).timestamp()
    except (ValueError, OverflowError):
        return None
    return moment if MINYEAR < moment.year < MAXYEAR else None


def epoch(text: str) -> tuple[float, int | None] | None:
    """Seconds since 1970 of an ISO moment, and the offset it states; without one it is UTC, as TCX and GPX ask."""
    try:
        moment = datetime.fromisoformat(text.strip())
        aware = moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)
        return aware.timestamp(), stated_offset_s(aware)
    except (ValueError, OverflowError):
        return None


def in_utc(moment: datetime, timezone: str) -> datetime:
    """The moment in UTC; one without an offset is on the athlete's clock."""
    aware = moment if moment.tzinfo is not None else moment.replace(tzinfo=ZoneInfo(timezone))
    return aware.astimezone(UTC)


def local_date(moment: datetime, timezone: str) -> date:
    return moment.astimezone(ZoneInfo(timezone)).date()


def from_epoch(seconds: float) -> datetime:
    """UTC, to the millisecond."""
    return datetime.fromtimestamp(round(seconds, 3), UTC)


def stated_offset_s(moment: datetime) -> int | None:
    """Seconds the writer's clock was ahead of UTC; None for Z and +00:00, written for "UTC, place unknown" too."""
    offset = moment.utcoffset()
    return int(offset.total_seconds()) if offset else None
