"""One session, one truth: which of the recordings that overlap in time stand for what the body did.

An athlete does one thing at a time, so recordings that overlap are the same activity, whatever device, format or
label told it. The best one stands; parts that a device cut off one another are joined.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from rules.facts import Digest
from rules.limits import Limits

FORMAT_ORDER = ("fit", "tcx", "gpx")


@dataclass(frozen=True, slots=True)
class RecordingSpan:
    """A recording as far as telling sessions apart needs it. `quality` is seconds of evidence."""

    number: int
    start: datetime
    end: datetime
    sport: str
    quality: float
    format: str
    sha256: str
    part: int
    judged: str = ""  # the sport as judged

    @property
    def seconds(self) -> float:
        return (self.end - self.start).total_seconds()

    @property
    def untold(self) -> bool:
        """Whether nobody can tell from it what was done."""
        return self.judged in ("unknown", "transport")


@dataclass(frozen=True, slots=True)
class Truth:
    """One session: the recordings that stand for it in order of time, and the key made of its earliest telling.

    Where two of them overlap, the common minutes are the earlier one's.
    """

    key: str
    parts: tuple[RecordingSpan, ...]


def quality(digest: Digest, timer_s: float, limits: Limits) -> float:
    """Seconds of evidence in a recording: heart rate counts twice, speed full, bare time a little."""
    bare, heart = limits.one_truth.bare_time_weight, limits.one_truth.heart_weight
    return round(heart * digest.hr_known_s + digest.speed_known_s + bare * timer_s, 3)


def deduplicate(spans: Iterable[RecordingSpan], limits: Limits) -> tuple[Truth, ...]:
    """Sessions from recordings, the same for any order of them."""
    share = limits.one_truth.overlap_share
    every = list(spans)
    ranked = sorted(every, key=lambda span: (_knows_less(span, every, share), *_rank(span)))
    chosen: list[RecordingSpan] = []
    told: dict[int, list[RecordingSpan]] = {}
    for span in ranked:
        same = [index for index, best in enumerate(chosen) if overlap(span, best) >= share]
        if same:
            told[same[0]].append(span)
        else:
            told[len(chosen)] = [span]
            chosen.append(span)
    order = sorted(range(len(chosen)), key=lambda index: (chosen[index].start, chosen[index].number))
    groups: list[list[int]] = []
    gap = limits.one_truth.join_gap_seconds
    for index in order:
        if groups and _joins(chosen[groups[-1][-1]], chosen[index], gap):
            groups[-1].append(index)
        else:
            groups.append([index])
    return tuple(
        Truth(_key([span for index in group for span in told[index]]), tuple(chosen[index] for index in group))
        for group in groups
    )


def _knows_less(span: RecordingSpan, others: Sequence[RecordingSpan], share: float) -> bool:
    """Whether another tells what was done in the common minutes, and more of each of them: a phone on the table tells
    less than the watch of the spin class beside it, however long it lay there.
    """
    return span.untold and any(
        overlap(span, other) >= share and other.quality * span.seconds > span.quality * other.seconds
        for other in others
        if not other.untold
    )


def _rank(span: RecordingSpan) -> tuple[float, int, datetime, str, int]:
    order = FORMAT_ORDER.index(span.format) if span.format in FORMAT_ORDER else len(FORMAT_ORDER)
    return (-span.quality, order, span.start, span.sha256, span.part)


def overlap(one: RecordingSpan, other: RecordingSpan) -> float:
    """Share of the shorter recording that lies within the other."""
    common = (min(one.end, other.end) - max(one.start, other.start)).total_seconds()
    shorter = min((span.end - span.start).total_seconds() for span in (one, other))
    if shorter <= 0:
        return 1.0 if common >= 0 else 0.0
    return common / shorter


def _joins(before: RecordingSpan, after: RecordingSpan, gap_seconds: float) -> bool:
    """Cut in two by the device, or taken over by another: the same sport goes on in another file after a moment."""
    gap = (after.start - before.end).total_seconds()
    overlapping = gap < 0 and before.judged == after.judged != "" and not before.untold
    same = before.sport == after.sport or overlapping
    return same and before.sha256 != after.sha256 and gap <= gap_seconds


def _key(spans: Sequence[RecordingSpan]) -> str:
    return min(span.start for span in spans).astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
