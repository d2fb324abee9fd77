"""Stretches of fast running: from which speed on, where they begin and end, which belong together; pressed laps."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from rules.facts import Threshold, held_for
from rules.findings import Signal, say
from rules.limits import Limits
from rules.session.timeline import Flags, Floats, Stretch, flagged, mostly, rolling_mean, stretches, trailing_mean
from rules.session.track import Track


# Pressed laps: whoever marks where the fast part begins and ends, and does it again, is at a workout. A lap says
# nothing of how hard it was. It makes stretches that are fast by themselves sure, and tells how many there were and
# how long; `monitor` leaves out the kilometres that a device closes by itself.
def by_laps(
    track: Track, hard: Floats, found: Sequence[Bout], marks_s: Sequence[float], limits: Limits
) -> tuple[list[Bout], Signal]:
    """The stretches as the laps tell them, and what the laps say; the stretches as they are where no lap fits them."""
    marks = _rows(track, marks_s, limits)
    repeats = [(a, b) for a, b in _repeats(track, marks, limits) if np.isfinite(hard[a:b]).any()]
    if _same(found, repeats):
        told = [bout(track, hard, a, b) for a, b in repeats]
        return told, Signal("laps", "weak", "for", say("fast_laps_pressed", laps=len(told)))
    snapped = [(_nearest(b.start, marks, limits), _nearest(b.end, marks, limits)) for b in found]
    fitting = [(a, b) for a, b in snapped if a is not None and b is not None and b > a]
    told = [
        bout(track, hard, b.start if start is None else start, b.end if end is None else end)
        for b, (start, end) in zip(found, snapped, strict=True)
        if np.isfinite(hard[b.start if start is None else start : b.end if end is None else end]).any()
    ]
    if found and 2 * len(fitting) >= len(found):
        return told, Signal("laps", "weak", "for", say("laps_pressed"))
    return list(found), Signal("laps", "none", "nothing", say("laps_not_pressed"))


def _rows(track: Track, marks_s: Sequence[float], limits: Limits) -> list[int]:
    rows: list[int] = []
    for row in np.searchsorted(track.clock.rows_s, np.asarray(sorted(marks_s))).tolist():
        if not rows or row - rows[-1] >= limits.speed_work.press_apart_s:
            rows.append(row)
    return rows


def _repeats(track: Track, marks: Sequence[int], limits: Limits) -> list[Stretch]:
    """Laps that were faster than the lap before and the lap after by what makes repeats, three or more of them."""
    ends = [0, *marks, track.size]
    laps = [(a, b) for a, b in itertools.pairwise(ends) if track.clock.real[a:b].any()]
    speed = [float(np.nansum(track.pace.speed_mps[a:b]) / track.clock.real[a:b].sum()) for a, b in laps]
    contrast = limits.speed_work.contrast["bouts"]
    fast = []
    for index, (a, b) in enumerate(laps):
        beside = speed[max(index - 1, 0) : index] + speed[index + 1 : index + 2]
        long = b - a >= limits.speed_work.least_bout_s
        if beside and long and all(speed[index] >= contrast * other for other in beside):
            fast.append(index)
    usual = float(np.median([speed[index] for index in fast])) if fast else 0.0
    kept = [laps[index] for index in fast if speed[index] >= limits.speed_work.alike_speed * usual]
    return kept if len(kept) >= limits.speed_work.least_bouts else []


def _same(found: Sequence[Bout], repeats: Sequence[Stretch]) -> bool:
    """Do the fast laps hold most of the fast stretches, and half of them or more some of it?"""
    inside = [sum(max(min(b.end, end) - max(b.start, start), 0) for b in found) for start, end in repeats]
    touched = sum(seconds > 0 for seconds in inside)
    return 2 * sum(inside) > sum(b.seconds for b in found) and 2 * touched >= len(repeats)


def _nearest(row: int, marks: Sequence[int], limits: Limits) -> int | None:
    near = [mark for mark in marks if abs(mark - row) <= limits.speed_work.press_s]
    return min(near, key=lambda mark: abs(mark - row), default=None)


BOUT_S, SUSTAINED_S = 7, 31  # seconds that are smoothed over where bouts and where sustained efforts are looked for


@dataclass(frozen=True, slots=True)
class Bout:
    start: int
    end: int
    speed_mps: float  # over ground
    effort_mps: float  # level-ground speed
    slope: float
    spm: float | None = None

    @property
    def seconds(self) -> int:
        return self.end - self.start


def bout(track: Track, hard: Floats, start: int, end: int) -> Bout:
    """Means over the rows of one bout."""
    slope, spm = track.ground.slope[start:end], track.spm[start:end]
    run = np.isfinite(hard[start:end])
    return Bout(
        start,
        end,
        float(np.nanmean(track.pace.speed_mps[start:end][run])),
        float(np.nanmean(hard[start:end])),
        float(np.nanmean(slope)) if np.isfinite(slope).any() else 0.0,
        float(np.nanmean(spm)) if np.isfinite(spm).any() else None,
    )


def mean_effort(bouts: Sequence[Bout]) -> float:
    """Level-ground speed over all of them."""
    return float(np.average([b.effort_mps for b in bouts], weights=[b.seconds for b in bouts]))


def bouts_above(
    track: Track, hard: Floats, level: float, easy: float, limits: Limits, *, sustained: bool = False
) -> list[Bout]:
    """Bouts that gain more above the level than a few seconds are worth, their ends halfway down to easy running.

    They are cut out twice: by the level to know how fast they are, then halfway between that and easy running, since
    that is where a bout begins and ends.
    """
    first = _cut(track, hard, level, easy, limits, sustained=sustained)
    if not first:
        return []
    usual = float(np.median(np.repeat([b.effort_mps for b in first], [b.seconds for b in first])))
    halfway = (max(usual, level) + easy) / 2
    cut = [b for b in _cut(track, hard, halfway, easy, limits, sustained=sustained) if b.effort_mps >= level]
    return [b for b in (_whole(track, hard, b, limits) for b in cut) if b.seconds >= limits.speed_work.least_bout_s]


def _whole(track: Track, hard: Floats, b: Bout, limits: Limits) -> Bout:
    """With its first and last seconds: out to halfway down to what was run, walked or stood beside it."""
    speed = rolling_mean(np.where(np.isfinite(hard), hard, track.pace.speed_mps), BOUT_S, least=3)
    ends, reach = [], limits.speed_work.beside_s
    for beside in (slice(max(b.start - reach, 0), b.start), slice(b.end, b.end + reach)):
        around = speed[beside][np.isfinite(speed[beside]) & track.clock.real[beside]]
        low = float(np.percentile(around, 20)) if len(around) else b.effort_mps
        with np.errstate(invalid="ignore"):
            ends.append((speed[beside] >= (low + b.effort_mps) / 2) & track.gait.running[beside])
    before, after = ends
    start = b.start - (int(np.argmin(before[::-1])) if not before.all() else 0)
    end = b.end + (int(np.argmin(after)) if not after.all() else 0)
    return b if (start, end) == (b.start, b.end) else bout(track, hard, start, end)


def _cut(track: Track, hard: Floats, level: float, easy: float, limits: Limits, *, sustained: bool) -> list[Bout]:
    smooth = rolling_mean(hard, SUSTAINED_S if sustained else BOUT_S, least=3)
    turn = limits.speed_work.turn_s * (SUSTAINED_S // BOUT_S if sustained else 1)
    width = max(level - easy, 0.05 * level) / 2
    with np.errstate(invalid="ignore"):
        gain = np.clip((smooth - level) / width, -1.0, 1.0)
    gain = np.where(np.isfinite(smooth), gain, np.where(track.gait.running, 0.0, -1.0))
    gain[~track.clock.real] = -turn  # nothing goes on over a stopped timer
    spans = best_spans(gain, turn)
    return [bout(track, hard, a, b) for a, b in spans if b - a >= turn and mostly(np.isfinite(hard[a:b]))]


def best_spans(gain: Floats, turn: float) -> list[Stretch]:
    """The spans whose gains, less `turn` for each span, sum to the most (a path through two states).

    Works on runs of one sign, of which there are few; each is a place where a span may begin or end.
    """
    if len(gain) == 0:
        return []
    signs = gain > 0
    edges = np.concatenate(([0], np.flatnonzero(np.diff(signs.astype(np.int8))) + 1, [len(gain)]))
    sums = np.add.reduceat(gain, edges[:-1])
    out, inside = 0.0, -np.inf  # best sum so far, ending outside and inside a span
    came: list[tuple[bool, bool]] = []
    for value in sums.tolist():
        begins, ends = out - turn > inside, inside > out
        out, inside = max(out, inside), max(inside, out - turn) + value
        came.append((ends, begins))
    spans: list[Stretch] = []
    within = inside > out
    end = len(gain)
    for index in range(len(sums) - 1, -1, -1):
        ends, begins = came[index]
        if within:
            if begins:
                spans.append((int(edges[index]), end))
                within = False
        elif ends:
            within, end = True, int(edges[index])
    return spans[::-1]


def one_set(bouts: Sequence[Bout], limits: Limits) -> list[Bout]:
    """The greatest set of bouts that follow each other without long breaks; lone surges in a long run are none."""
    sets: list[list[Bout]] = []
    for b in bouts:
        if sets and b.start - sets[-1][-1].end <= limits.speed_work.longest_rest_s:
            sets[-1].append(b)
        else:
            sets.append([b])
    return max(sets, key=lambda s: sum(b.seconds for b in s), default=[])


def alike(bouts: Sequence[Bout], limits: Limits) -> list[Bout]:
    """Without what is far shorter or slower beside a set of repeats, and makes little of its time."""
    whole = sum(b.seconds for b in bouts)
    longest = max((b.seconds for b in bouts), default=0)
    kept = [b for b in bouts if b.seconds >= limits.speed_work.alike_length * longest]
    usual = mean_effort(kept) if kept else 0.0
    kept = [b for b in kept if b.effort_mps >= limits.speed_work.alike_speed * usual]
    return kept if sum(b.seconds for b in kept) >= limits.speed_work.alike_time * whole else list(bouts)


def sharper(rough: Sequence[Bout], fine: Sequence[Bout], limits: Limits) -> list[Bout]:
    """Sustained efforts, with the edges of the bout that is nearly all of one of them."""
    return [next((b for b in fine if _nearly(r, b, limits)), r) for r in rough]


def _nearly(rough: Bout, fine: Bout, limits: Limits) -> bool:
    shared = min(rough.end, fine.end) - max(rough.start, fine.start)
    return shared >= limits.speed_work.alike_time * max(rough.seconds, fine.seconds)


# From which speed on running is fast in this session.

# The easy running of a session: what it is run at where the effort is least, not where the speed is.
CALM_S = 31


def easy_speed(track: Track, hard: Floats, limits: Limits) -> float | None:
    """m/s on the level: the middle of the third of the running that the heart found easiest.

    Climbs, descents and the seconds beside a walk or a stop are left out. Without heart rate the calmer part of the
    half-minute means stands for it. None where there is too little running to have an easy part.
    """
    calm = rolling_mean(np.where(_level_running(track, limits), hard, np.nan), CALM_S, least=15)
    told = np.isfinite(calm) & track.gait.running
    if told.sum() < limits.speed_work.least_running_s:
        return None
    heart = rolling_mean(track.heart.rows_bpm, CALM_S, least=10)
    lag = limits.speed_work.heart_lag_s
    after = np.append(heart[lag:], np.full(min(lag, len(heart)), np.nan))[: len(heart)]
    known = told & np.isfinite(after)
    share = limits.speed_work.easy_share
    slow = float(np.percentile(calm[told], 100 * share))
    if known.sum() < limits.speed_work.heart_known * told.sum():
        return slow
    easiest = known & (after <= np.percentile(after[known], 100 * share))
    return float(min(np.median(calm[easiest]), np.percentile(calm[told], 50)))


def _level_running(track: Track, limits: Limits) -> Flags:
    slope = np.nan_to_num(track.ground.slope, nan=0.0)
    afoot = stretches(track.gait.running, bridge=2)
    settled = flagged(track.size, [(a + 10, b - 5) for a, b in afoot if b - a > limits.speed_work.least_level_s])
    return np.asarray(settled & (np.abs(slope) <= limits.speed_work.level_slope))


Scale = Literal["bouts", "sustained", "climbs"]


@dataclass(frozen=True, slots=True)
class Levels:
    """Speeds on level ground, m/s. `own_easy` is None where the session has no easy running to compare with."""

    threshold: Threshold | None  # None where none is known well enough to be held against
    own_easy: float | None
    easy: float  # the session's own, else what easy running would be at most
    fast: float
    noise_mps: float  # measured error of a mean over 12 s
    error_sd: float
    sure: float  # x easy speed, see `plain`
    alike_s: float  # for so long it errs in the same way

    @property
    def reference(self) -> float:
        """Threshold speed, else what is fast for most."""
        return self.fast if self.threshold is None else self.threshold.speed_mps

    def error(self, seconds: float) -> float:
        """Error of a mean over so many seconds."""
        return self.noise_mps * float(np.sqrt(min(self.alike_s / max(seconds, 1.0), 1.0)))

    def plain(self, effort_mps: float) -> bool:
        """Does it stand out of easy running as no steady running does?"""
        return self.own_easy is None or effort_mps >= self.sure * self.own_easy

    def stands_out(self, b: Bout) -> bool:
        """Is it faster than easy by more than the measured error explains, anywhere in a session?"""
        return b.effort_mps - self.easy >= self.error_sd * self.error(b.seconds)


def _refuted(track: Track, hard: Floats, known: Threshold, limits: Limits) -> bool:
    """Was twenty minutes of it run faster than that threshold allows anyone (Riegel 1981)? Then it is too slow."""
    seconds = limits.speed_work.refuting_s
    mean = trailing_mean(hard[track.clock.real], seconds, share_known=0.9)
    if not np.isfinite(mean).any():
        return False
    return bool(np.nanmax(mean) > limits.speed_work.refuted * held_for(known.speed_mps, seconds))


def levels(track: Track, hard: Floats, threshold: Threshold | None, scale: Scale, limits: Limits) -> Levels:
    """By the session's own easy running; where all of it is fast, by the threshold or by what is fast for most."""
    known = threshold if threshold is not None and threshold.confidence != "low" else None
    most = known.speed_mps if known else limits.speed_work.fast_for_most_mps
    noise, sd = track.pace.noise_mps, limits.speed_work.error_sd
    alike = limits.speed_work.alike_s.get(track.pace.source, 12.0)
    sure = limits.speed_work.contrast["no threshold, sure"]
    easy = easy_speed(track, hard, limits)
    if known and easy is not None and easy > most and _refuted(track, hard, known, limits):
        known, most = None, limits.speed_work.fast_for_most_mps
    if easy is None or easy > most:
        at_most = most / limits.speed_work.contrast["no threshold"]
        return Levels(known, None, at_most, most, noise, sd, sure, alike)
    name = f"{scale}, no threshold" if known is None else scale
    least = limits.speed_work.contrast[name.removeprefix("bouts, ")] * easy
    floor = limits.speed_work.of_threshold[scale] * known.speed_mps if known else 0.0
    if known is None and threshold is not None:
        floor = threshold.speed_mps
    return Levels(known, easy, easy, max(least, floor), noise, sd, sure, alike)
