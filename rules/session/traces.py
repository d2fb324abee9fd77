"""One cleaned session in few points: what its pictures and tables show, whoever reads them in whatever units.

Lines keep the least and the greatest value of each slice of time. They are made when a session is judged, while its
cleaned samples are at hand, and are so small that they can be kept beside the verdict.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from rules.facts import Session
from rules.findings import Finding
from rules.session.labels import running_seconds
from rules.session.timeline import Flags, Floats, stretches
from rules.session.track import Track

SLICES = 240
"""So many slices give at most twice as many points."""
LONGEST_STEP = 30.0
"""Seconds between two known values that a line still bridges."""
BRIDGE_ROWS = 5
READ_PARTS = 60
MOST_ROWS = 14
MOST_SPANS = 24
STILL_MPS = 0.3
WORTH_FACTOR = 1.05
WORTH_SECONDS = 60
"""How much more climbing must be worth than its speed, and for how long, to be drawn beside it."""
BPM, MPS, METRES = 10, 200, 10
FINE_BPM, FINE_MPS, FINE_METRES = 100, 10_000, 100
"""Steps a unit of lines, finer than pictures show, and of tables; what is made anew is rounded as what was kept."""

Rows = npt.NDArray[np.int64]
Pieces = tuple[Floats, ...]
"""A line in unbroken pieces, a row (second, value) a point."""


@dataclass(frozen=True, slots=True)
class Span:
    """A part of a session that made a finding, in seconds from its start."""

    rule: str
    begin: float
    end: float


def spans_of(found: Iterable[Finding]) -> tuple[Span, ...]:
    """The parts that findings name, rule by rule."""
    spans = [
        Span(breach.rule, float(begin), float(end))
        for breach in found
        for begin, end in breach.evidence.get("times") or ()
    ]
    return tuple(sorted(spans, key=lambda span: (span.rule, span.begin, span.end)))


@dataclass(frozen=True, slots=True)
class Traces:
    """Lines in bpm, m/s and m against seconds; tables with a row a part, NaN where nothing is known."""

    heart: Pieces
    doubted: Pieces  # recorded and not believed
    over: Pieces  # above the ceiling, from the ceiling on
    speed: Pieces
    worth: Pieces  # the level speed that costs as much, where climbing makes it another
    ground: Pieces
    heart_read: Floats  # means of even parts of the session
    speed_read: Floats
    ground_read: Floats
    rows_heart: Floats  # of `part_edges`: means, and the highest heart rate
    rows_highest: Floats
    rows_speed: Floats
    rows_worth: Floats
    rows_ground: Floats
    span_heart: Floats  # of the first `MOST_SPANS` spans
    span_speed: Floats
    numbers: TraceNumbers


LINES = {"heart": BPM, "doubted": BPM, "over": BPM, "speed": MPS, "worth": MPS, "ground": METRES}
TABLES = {
    "heart_read": FINE_BPM, "speed_read": FINE_MPS, "ground_read": FINE_METRES, "rows_heart": FINE_BPM,
    "rows_highest": FINE_BPM, "rows_speed": FINE_MPS, "rows_worth": FINE_MPS, "rows_ground": FINE_METRES,
    "span_heart": FINE_BPM, "span_speed": FINE_MPS,
}  # fmt: skip
MISSING = -(2**30)


@dataclass(frozen=True, slots=True)
class TraceNumbers:
    """What is told beside the lines."""

    lowest_bpm: float | None  # of what was recorded, believed or not
    highest_bpm: float | None
    mean_bpm: float | None
    above_s: float
    masked_s: float
    masked_why: dict[str, float]
    masked_times: list[list[float]]
    moving_mps: float | None
    fastest_mps: float | None  # but for the fastest hundredth
    speed_source: str
    speed_masked_s: float


def session_seconds(session: Session) -> float:
    return max(session.elapsed_s, 1.0)


def is_afoot(session: Session) -> bool:
    """Whether speed is told as pace, and climbing as what it is worth on the level."""
    return running_seconds(session) > 0 or session.digest.sport == "walking"


def traces(track: Track, session: Session, spans: Sequence[Span], ceiling_bpm: int | None) -> Traces:
    """The lines and tables of a session under its ceiling, with what made findings."""
    seconds = session_seconds(session)
    time, real = track.clock.rows_s, track.clock.real
    heart, speed, ground = track.heart.rows_bpm, track.pace.speed_mps, track.ground.altitude_m
    raw = track.clock.on_rows(track.recorded.get("hr_bpm", np.full(len(track.clock.time_s), np.nan)))
    worth = _worth(track) if is_afoot(session) else np.full(len(time), np.nan)
    read = _Parts.between(np.linspace(0.0, seconds, READ_PARTS + 1), time, real)
    row = _Parts.between(part_edges(seconds), time, real)
    inside = [real & (time >= span.begin) & (time < span.end) for span in spans[:MOST_SPANS]]
    known = raw[np.isfinite(raw)]
    believed, moving = heart[np.isfinite(heart)], speed[np.isfinite(speed)]
    above = track.heart.believed & (track.heart.bpm > (np.inf if ceiling_bpm is None else ceiling_bpm))
    return Traces(
        heart=_line(time, heart, BPM),
        doubted=_line(time, np.where(np.isfinite(heart), np.nan, raw), BPM),
        over=() if ceiling_bpm is None else _over(time, heart, ceiling_bpm, seconds),
        speed=_line(time, speed, MPS),
        worth=_line(time, worth, MPS),
        ground=_line(time, ground, METRES),
        heart_read=_kept(read.means(heart), FINE_BPM),
        speed_read=_kept(read.means(speed), FINE_MPS),
        ground_read=_kept(read.means(ground), FINE_METRES),
        rows_heart=_kept(row.means(heart), FINE_BPM),
        rows_highest=_kept(row.highest(heart), FINE_BPM),
        rows_speed=_kept(row.means(speed), FINE_MPS),
        rows_worth=_kept(row.means(worth), FINE_MPS),
        rows_ground=_kept(row.means(ground), FINE_METRES),
        span_heart=_kept(_means(heart, inside), FINE_BPM),
        span_speed=_kept(_means(speed, inside), FINE_MPS),
        numbers=TraceNumbers(
            lowest_bpm=float(known.min()) if len(known) else None,
            highest_bpm=float(known.max()) if len(known) else None,
            mean_bpm=float(believed.mean()) if len(believed) else None,
            above_s=float(track.heart.weight_s[above].sum()),
            masked_s=track.heart.masked_s,
            masked_why=dict(track.heart.reasons),
            masked_times=track.heart.masked_times,
            moving_mps=float(moving[moving > STILL_MPS].mean()) if (moving > STILL_MPS).any() else None,
            fastest_mps=float(np.percentile(moving, 99)) if len(moving) else None,
            speed_source=track.pace.source,
            speed_masked_s=float(track.pace.masked.sum()),
        ),
    )


def part_edges(seconds: float) -> Floats:
    """From where to where the rows of the table that stands for the pictures go: even parts of whole minutes."""
    step = next((m * 60.0 for m in (1, 2, 5, 10, 15, 30, 60) if seconds / (m * 60) <= MOST_ROWS), 7200.0)
    begins = np.arange(0.0, seconds, step)
    return np.append(begins, begins[-1] + step)


def _line(time: Floats, values: Floats, steps: int) -> Pieces:
    return tuple(_kept(piece, np.array((1, steps))) for piece in thinned(time, values))


def _kept(values: Floats, steps: int | Floats) -> Floats:
    """Rounded to what is kept."""
    return np.asarray(np.rint(values * steps) / steps)


def _over(time: Floats, heart: Floats, ceiling_bpm: int, seconds: float) -> Pieces:
    """A line along each stretch above the ceiling, in as many slices as are its share of the session."""
    pieces: list[Floats] = []
    for begin, end in stretches(np.nan_to_num(heart) > ceiling_bpm, bridge=BRIDGE_ROWS):
        slices = max(2, round((time[end - 1] - time[begin]) / seconds * SLICES))
        pieces += thinned(time[begin:end], np.fmax(heart[begin:end], float(ceiling_bpm)), slices)
    return tuple(_kept(piece, np.array((1, BPM))) for piece in pieces)


def _worth(track: Track) -> Floats:
    """The level speed that costs as much, where climbing makes it another; nowhere where it hardly does."""
    speed, worth = track.pace.speed_mps, track.effort_mps
    climbing = np.isfinite(speed) & np.isfinite(worth) & (worth > speed * WORTH_FACTOR) & (speed > STILL_MPS)
    return np.where(climbing & (climbing.sum() >= WORTH_SECONDS), worth, np.nan)


@dataclass(frozen=True, slots=True)
class _Parts:
    """Which part of a session each row is in; -1 for none."""

    count: int
    of_row: Rows

    @classmethod
    def between(cls, edges: Floats, time: Floats, real: Flags) -> _Parts:
        count, part = len(edges) - 1, np.searchsorted(edges, time, side="right") - 1
        return cls(count, np.where(real & (part < count), part, -1))

    def means(self, values: Floats) -> Floats:
        """Mean of the known values of each part; NaN where there is none."""
        known = np.isfinite(values) & (self.of_row >= 0)
        part = self.of_row[known]
        counts = np.bincount(part, minlength=self.count)
        sums = np.bincount(part, values[known], minlength=self.count)
        return np.asarray(np.divide(sums, counts, out=np.full(self.count, np.nan), where=counts > 0))

    def highest(self, values: Floats) -> Floats:
        highest = np.full(self.count, np.nan)
        inside = self.of_row >= 0
        np.fmax.at(highest, self.of_row[inside], values[inside])
        return highest


def _means(values: Floats, inside: Sequence[Flags]) -> Floats:
    """The mean of the known values of each."""
    known = np.isfinite(values)
    return np.array([values[rows & known].mean() if (rows & known).any() else np.nan for rows in inside])


def thinned(time_s: Floats, values: Floats, slices: int = SLICES) -> list[Floats]:
    """Pieces with a row (second, value) a point, broken where values are missing; at most two points a slice."""
    known = np.isfinite(values) & np.isfinite(time_s)
    time, value = time_s[known], values[known]
    if len(time) == 0:
        return []
    kept = _extremes(time, value, slices)
    gaps = np.concatenate(([0], np.cumsum(np.diff(time) > LONGEST_STEP)))
    breaks = np.flatnonzero(np.diff(gaps[kept]) > 0) + 1
    return np.split(np.column_stack((time[kept], value[kept])), breaks)


def _extremes(time: Floats, value: Floats, slices: int) -> Rows:
    """Indices of the first least and the first greatest value of each slice, and of the very first and last."""
    if len(time) <= 2 * slices:
        return np.arange(len(time))
    width = max((time[-1] - time[0]) / slices, 1e-9)
    slice_of = np.minimum(((time - time[0]) / width).astype(np.int64), slices - 1)
    begins = np.flatnonzero(np.diff(slice_of, prepend=-1))
    which = np.repeat(np.arange(len(begins)), np.diff(begins, append=len(time)))
    ends = [_firsts(value == extreme.reduceat(value, begins)[which], which) for extreme in (np.minimum, np.maximum)]
    return np.unique(np.concatenate((*ends, [0, len(time) - 1])))


def _firsts(flags: Flags, which: Rows) -> Rows:
    """The first index of each slice at which the flag is set."""
    at = np.flatnonzero(flags)
    return at[np.diff(which[at], prepend=-1) > 0]


# Packed to be kept: whole steps, each as the difference from the one before it, byte by byte.


def packed(made: Traces) -> bytes:
    """Some three kilobytes."""
    pieces = {name: getattr(made, name) for name in LINES}
    tables = {name: getattr(made, name) for name in TABLES}
    lengths = {name: [len(piece) for piece in line] for name, line in pieces.items()}
    lengths |= {name: [len(table)] for name, table in tables.items()}
    points = {name: np.concatenate((np.zeros((0, 2)), *line)) for name, line in pieces.items()}
    columns = [column for name, line in points.items() for column in (line[:, 0], line[:, 1] * LINES[name])]
    values = np.concatenate((*columns, *(table * TABLES[name] for name, table in tables.items())))
    steps = np.diff(np.where(np.isfinite(values), np.rint(values), MISSING), prepend=0).astype("<i4")
    head = json.dumps([lengths, asdict(made.numbers)])
    return zlib.compress(head.encode() + b"\n" + steps.view(np.uint8).reshape(-1, 4).T.tobytes(), 9)


def unpacked(kept: bytes) -> Traces:
    """What was packed."""
    head, _, planes = zlib.decompress(kept).partition(b"\n")
    lengths, numbers = json.loads(head)
    steps = np.frombuffer(planes, np.uint8).reshape(4, -1).T.copy().view("<i4").ravel()
    whole = np.cumsum(steps, dtype=np.int64).astype(np.float64)
    whole[whole == MISSING] = np.nan
    made: dict[str, Any] = {}
    begin = 0
    for name, steps_a_unit in LINES.items():
        count = sum(lengths[name])
        seconds, values = whole[begin : begin + 2 * count].reshape(2, count)
        line = np.column_stack((seconds, values / steps_a_unit))
        made[name] = tuple(np.split(line, np.cumsum(lengths[name])[:-1])) if count else ()
        begin += 2 * count
    for name, steps_a_unit in TABLES.items():
        made[name] = whole[begin : begin + lengths[name][0]] / steps_a_unit
        begin += lengths[name][0]
    return Traces(**made, numbers=TraceNumbers(**numbers))
