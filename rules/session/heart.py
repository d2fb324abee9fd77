"""Heart rate that can be believed: what is out of range, jumps, sticks or follows the feet is masked.

Masked time is neither above nor below any ceiling. A heart follows effort with a time constant near 57 s and 24 bpm
per m/s (Hunt 2015), so what moves much faster, or stands much higher than the speed explains, is the sensor's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from rules.limits import Limits
from rules.session.timeline import (
    Flags,
    Floats,
    Stretch,
    Timeline,
    as_times,
    flagged,
    held,
    mostly,
    rolling_mean,
    rolling_median,
    stretches,
)


@dataclass(frozen=True, slots=True)
class Heart:
    """Heart rate a sample, in whole bpm, with the seconds each stands for; and a second a row, cleaned."""

    bpm: Floats  # NaN where nothing was recorded
    weight_s: Floats  # of recorded samples, also of masked ones
    masked: Flags
    rows_bpm: Floats  # NaN where unknown or masked
    reasons: dict[str, float] = field(default_factory=dict)  # why -> seconds
    masked_times: list[list[float]] = field(default_factory=list)

    @property
    def believed(self) -> Flags:
        return np.isfinite(self.bpm) & ~self.masked

    @property
    def known_s(self) -> float:
        return float(self.weight_s[self.believed].sum())

    @property
    def masked_s(self) -> float:
        return float(self.weight_s[self.masked].sum())


def clean_heart(
    raw: Floats, clock: Timeline, effort: Floats, spm: Floats, limits: Limits, highest_bpm: float | None = None
) -> Heart:
    """Mask what no heart does. `effort` is level-ground speed a row, NaN where unknown.

    `highest_bpm` is the most that this athlete's heart can be believed to do, where that is known.
    """
    bpm = np.rint(raw)
    recorded = np.isfinite(bpm)
    weight = clock.weights(recorded)
    if not recorded.any():
        return Heart(bpm, weight, recorded, np.full(len(clock.rows_s), np.nan))
    with np.errstate(invalid="ignore"):
        beyond = recorded & ((bpm < limits.cleaning.hr_lowest) | (bpm > limits.cleaning.hr_highest))
    if highest_bpm is not None:
        beyond |= recorded & _beyond_this_heart(bpm, highest_bpm, limits)
    rows = clock.on_rows(np.where(beyond, np.nan, bpm))
    jumps = _jumps(rows, clock.rows_s, effort, limits)
    jumps |= _rises_by_itself(np.where(jumps, np.nan, rows), effort, limits)  # a rise at the end of a dip is no jump
    flat = _flat(rows, effort, limits)
    locked = _locked(rows, spm, effort, limits)
    at = clock.row_of_samples()
    of_sample = {"jump": jumps[at], "locked": locked[at], "flat": flat[at]} if len(jumps) else {}
    masked, reasons = beyond.copy(), {"range": float(weight[beyond].sum())}
    for why in ("locked", "flat", "jump"):
        fresh = of_sample[why] & recorded & ~masked if of_sample else np.zeros_like(masked)
        reasons[why] = float(weight[fresh].sum())
        masked |= fresh
    bad = jumps | flat | locked
    times = as_times(stretches(bad, bridge=3), clock.rows_s, most=20)
    believed = clock.on_rows(np.where(masked, np.nan, bpm))
    kept = {why: round(seconds, 1) for why, seconds in reasons.items() if seconds > 0}
    return Heart(bpm, weight, masked, np.where(bad, np.nan, believed), kept, times)


@dataclass(frozen=True, slots=True)
class _Edge:
    start: int
    end: int
    up: bool


def _beyond_this_heart(bpm: Floats, highest: float, limits: Limits) -> Flags:
    """What is more than the athlete's heart can do, with the climb to it and the fall from it."""
    with np.errstate(invalid="ignore"):
        near = stretches(~(bpm <= highest - limits.cleaning.stands_out_bpm))
        return flagged(len(bpm), [(a, b) for a, b in near if (bpm[a:b] > highest).any()])


def _edges(rows: Floats, reach: int, far_bpm: float) -> list[_Edge]:
    """Where heart rate moves further within so many seconds than a heart can."""
    change = np.full(len(rows), np.nan)
    if len(rows) > reach:
        change[:-reach] = rows[reach:] - rows[:-reach]
    found: list[_Edge] = []
    with np.errstate(invalid="ignore"):
        for up in (True, False):
            for a, b in stretches(change >= far_bpm if up else change <= -far_bpm):
                steps = np.diff(rows[a : b + reach])
                steepest = a + int(np.nanargmax(steps if up else -steps))
                found.append(_Edge(max(a, steepest - reach + 1), min(b - 1 + reach, steepest + reach), up))
    return found


def _edges_over_gaps(rows: Floats, rows_s: Floats, limits: Limits) -> list[_Edge]:
    """The same over a gap of up to a minute, in which a heart may change by a beat a second."""
    known = np.flatnonzero(np.isfinite(rows))
    seconds, change = np.diff(rows_s[known]), np.diff(rows[known])
    reach = limits.cleaning.jump_s
    far = limits.cleaning.jump_bpm + np.maximum(seconds - reach, 0.0)
    gaps = (seconds >= reach) & (seconds <= limits.cleaning.longest_sparse_gap_s) & (np.abs(change) >= far)
    return [_Edge(int(known[i]), int(known[i + 1]), bool(change[i] > 0)) for i in np.flatnonzero(gaps)]


def _jumps(rows: Floats, rows_s: Floats, effort: Floats, limits: Limits) -> Flags:
    """Spikes and dips between impossible edges or up to the end, and false starts that end in an impossible fall."""
    bad = np.zeros(len(rows), dtype=np.bool_)
    if not np.isfinite(rows).any():
        return bad
    reach = limits.cleaning.jump_s - 2
    edges = _edges(rows, reach, limits.cleaning.jump_bpm) + _edges_over_gaps(rows, rows_s, limits)
    edges.sort(key=lambda edge: (edge.start + edge.end, edge.up))
    for edge in edges:
        bad[edge.start : edge.end + 1] = True
    end = int(np.flatnonzero(np.isfinite(rows))[-1])
    back, dips = False, set()
    for first, second in pairwise([*edges, _Edge(end + 1, end + 1, up=False)]):
        if back and second.start > end:
            break  # after a dip the sensor follows the heart again
        back = first.up != second.up and _is_spike(rows, effort, first, second, limits)
        if back:
            bad[first.start : second.end + 1] = True
            if not first.up and _as_before(rows, first, second, limits):
                dips.add(first)
    falls = {*edges, *_edges(rows, reach, limits.cleaning.false_start_bpm)} - dips
    for fall in falls:
        bad[_false_since(rows, effort, fall, edges, limits) : fall.end + 1] = True
    return bad & np.isfinite(rows)


def _as_before(rows: Floats, first: _Edge, second: _Edge, limits: Limits) -> bool:
    """Is the heart behind two edges where it was before them? Then what lay between was wrong, and not the start."""
    around = limits.cleaning.around_fall_s
    before, after = rows[max(first.start - around, 0) : first.start], rows[second.end : second.end + around]
    return abs(_rise(before, after, limits)) < limits.cleaning.stands_out_bpm


def _false_since(rows: Floats, effort: Floats, fall: _Edge, edges: list[_Edge], limits: Limits) -> int:
    """Where the false start begins that this fall ends; behind the fall where it ends none.

    A false start stands high from the first beats on. A fall that an effort's end explains, or that ends a spike, says
    nothing of what was before.
    """
    begin, none, around = int(np.argmax(np.isfinite(rows))), fall.end + 1, limits.cleaning.around_fall_s
    before, after = slice(max(fall.start - around, begin), fall.start), slice(fall.end, fall.end + around)
    if fall.up or fall.end - begin > limits.cleaning.false_start_s or fall.start <= begin:
        return none
    if any(edge.up and edge.end <= fall.start for edge in edges):
        return none
    if _rise(effort[before], effort[after], limits) * limits.cleaning.hr_gain >= limits.cleaning.lock_small_bpm:
        return none
    level = float(np.nanmedian(rows[after])) if np.isfinite(rows[after]).any() else np.inf
    calm = rolling_median(rows[begin : fall.start], 31)
    with np.errstate(invalid="ignore"):
        low = np.flatnonzero(calm < level + limits.cleaning.stands_out_bpm)
    return begin + (int(low[-1]) + 1 if len(low) else 0)


def _rises_by_itself(rows: Floats, effort: Floats, limits: Limits) -> Flags:
    """Where the heart climbs within two minutes of even effort as none does, until it or the effort has changed."""
    bad = np.zeros(len(rows), dtype=np.bool_)
    settled = limits.cleaning.settled_s
    if len(rows) <= 2 * settled:
        return bad
    heart, work = rolling_median(rows, 15, least=5), rolling_mean(effort, 61, least=61)
    whole = np.flatnonzero(np.isfinite(work))
    if len(whole) == 0:
        return bad
    first, last = int(whole[0]), int(whole[-1])  # the first and the last whole minute tell of all their seconds
    work[first - 30 : first], work[last + 1 : last + 31] = work[first], work[last]
    small, gain = limits.cleaning.lock_small_bpm, limits.cleaning.hr_gain
    with np.errstate(invalid="ignore"):
        climb = heart[2 * settled :] - heart[settled:-settled] >= limits.cleaning.by_itself_bpm
        climb &= heart[settled:-settled] - heart[: -2 * settled] < small
    for a, b in stretches(climb):
        if not np.ptp(work[a : a + 2 * settled]) * gain < small:  # also where it is not known throughout, as at a pause
            continue
        begin = a + settled
        with np.errstate(invalid="ignore"):
            low = heart[begin:] < heart[begin] + limits.cleaning.stands_out_bpm
            over = low | ~((work[begin:] - work[begin]) * gain < small)
        since = np.flatnonzero(low[:settled])
        until = np.flatnonzero(over[b - a + settled :])
        bad[begin + since[-1] : b + 2 * settled + (until[0] if len(until) else len(rows))] = True
    return bad & np.isfinite(rows)


def _is_spike(rows: Floats, effort: Floats, first: _Edge, second: _Edge, limits: Limits) -> bool:
    """Short ones always; longer ones when they stand out from both sides and the speed says that nothing happened."""
    seconds = second.start - first.end
    to_the_end = second.start == second.end
    if seconds <= limits.cleaning.spike_s and not to_the_end:
        return True
    around = limits.cleaning.around_spike_s
    inside, before = slice(first.end, second.start), slice(max(first.start - around, 0), first.start)
    if seconds > limits.cleaning.longest_spike_s:
        return False
    sign = 1.0 if first.up else -1.0
    sides = (before,) if to_the_end else (before, slice(second.end, second.end + around))
    stands_out = all(sign * _rise(rows[inside], rows[side], limits) >= limits.cleaning.stands_out_bpm for side in sides)
    if not mostly(np.isfinite(effort[inside])):  # nothing says what was done; no heart leaps there and back
        return stands_out
    harder = sign * _rise(effort[inside], effort[before], limits) * limits.cleaning.hr_gain
    return stands_out and harder < limits.cleaning.lock_small_bpm


def _flat(rows: Floats, effort: Floats, limits: Limits) -> Flags:
    """A value that does not move, then jumps, or stays while effort changes; in a recording that moves elsewhere."""
    known, filled = np.isfinite(rows), held(rows)
    same = np.concatenate(([False], np.diff(filled) == 0.0))
    spans = [(a - 1, b) for a, b in stretches(same, least=limits.cleaning.flat_s)]
    spans = [(a, b) for a, b in spans if known[a:b].mean() > limits.cleaning.flat_known]
    others = known & ~flagged(len(rows), spans)
    if not spans or others.sum() < limits.cleaning.moves_elsewhere_s:
        return np.zeros(len(rows), dtype=np.bool_)
    if _reversals(filled[others]) < limits.cleaning.reversals_per_min:
        return flagged(len(rows), _stuck_in_smooth(filled, spans, others, limits)) & known
    step = limits.cleaning.unstuck_bpm
    stuck = [(a, b) for a, b in spans if _breaks(filled, a, b, step, 8) or _effort_moves(effort[a:b], limits)]
    return flagged(len(rows), stuck) & known


def _stuck_in_smooth(filled: Floats, spans: list[Stretch], others: Flags, limits: Limits) -> list[Stretch]:
    """In a recording without a waver of its own, flat lines are its way; only rare ones that end at once are stuck."""
    moves = np.abs(np.diff(filled[others]))
    cleaning = limits.cleaning
    stuck = [(a, b) for a, b in spans if _breaks(filled, a, b, cleaning.unstuck_bpm, 2)]
    seconds, known = sum(b - a for a, b in stuck), others.sum() + sum(b - a for a, b in spans)
    rare = len(stuck) <= cleaning.smooth_sticks and seconds <= cleaning.smooth_stuck_share * known
    small = (moves > 0) & (moves <= cleaning.smooth_bpm)
    return stuck if rare and np.sum(small) >= cleaning.smooth_moves else []


def _reversals(values: Floats) -> float:
    """How often a minute the value turns from up to down or back."""
    moves = np.sign(np.diff(values))
    moves = moves[moves != 0]
    return float(np.sum(moves[1:] != moves[:-1])) / max(len(values) / 60, 1.0)


def _breaks(filled: Floats, a: int, b: int, step: float, reach: int) -> bool:
    """Does the value jump where the flat line begins or ends?"""
    before, after = filled[max(a - reach, 0)], filled[min(b + reach - 1, len(filled) - 1)]
    return bool(abs(before - filled[a]) >= step or abs(after - filled[b - 1]) >= step)


def _effort_moves(effort: Floats, limits: Limits) -> bool:
    """Did the speed change so that a heart would have followed?"""
    calm = rolling_mean(effort, 61, least=30)
    known = calm[np.isfinite(calm)]
    expected = limits.cleaning.hr_gain * (known.max() - known.min()) if len(known) else 0.0
    return bool(expected >= limits.cleaning.lock_unexplained_bpm)


def _locked(rows: Floats, spm: Floats, effort: Floats, limits: Limits) -> Flags:
    """Heart rate within a few of the steps a minute for a minute or more, where effort says otherwise."""
    bad = np.zeros(len(rows), dtype=np.bool_)
    calm = rolling_median(spm, 7)
    with np.errstate(invalid="ignore"):
        near = (np.abs(rows - calm) <= limits.cleaning.lock_bpm) | (np.abs(rows - spm) <= 1.0)
        near &= calm > limits.cleaning.lock_least_spm
    share = rolling_mean(np.where(np.isfinite(rows) & np.isfinite(spm), near.astype(np.float64), np.nan), 15, least=8)
    for span in stretches(np.nan_to_num(share) >= limits.cleaning.lock_share, bridge=20, least=limits.cleaning.lock_s):
        alike = _likeness(rows, spm, span, limits)
        if alike > limits.cleaning.lock_likeness or _unexplained(rows, spm, effort, span, alike, limits):
            bad[max(span[0] - 4, 0) : span[1] + 4] = True
    return bad & np.isfinite(rows)


def _likeness(rows: Floats, spm: Floats, span: Stretch, limits: Limits) -> float:
    """Does heart rate repeat the small ups and downs of the steps at once? Hearts lag by a minute."""
    heart, steps = held(rows[span[0] : span[1]]), held(spm[span[0] : span[1]])
    if not np.isfinite(heart).all() or not np.isfinite(steps).all():
        return 0.0
    a, b = (x - rolling_mean(x, 31) for x in (heart, steps))
    if min(a.std(), b.std()) < limits.cleaning.lock_least_sd:
        return 0.0
    return float(np.corrcoef(a, b)[0, 1])


def _unexplained(rows: Floats, spm: Floats, effort: Floats, span: Stretch, alike: float, limits: Limits) -> bool:
    """Does heart rate leap up to the steps, or down from them, without the effort that would explain it?

    One great leap is enough; smaller ones must be there at both ends, or at one with the ups and downs of the steps.
    """
    (a, b), around = span, limits.cleaning.around_spike_s
    great, small = limits.cleaning.lock_unexplained_bpm, limits.cleaning.lock_small_bpm
    leaps = []
    for outside, edge in ((slice(max(a - around, 0), max(a - 5, 0)), a), (slice(b + 5, b + around), b)):
        from_rest = edge == a and a - int(np.argmax(np.isfinite(rows))) < limits.cleaning.settled_s
        if from_rest or np.isnan(spm[outside]).sum() > limits.cleaning.lock_pause_s:  # the start, or a pause between
            leaps.append(0.0)
            continue
        rise = _rise(rows[a + 5 : b - 5], rows[outside], limits)
        harder = max(_rise(effort[a:b], effort[outside], limits), 0.0)
        sudden = _leap(rows[max(edge - 20, 0) : edge + 20], limits.cleaning.leap_s)
        leaps.append(min(rise - limits.cleaning.hr_gain * harder, sudden / limits.cleaning.leap_share))
    both_ends = min(leaps) >= small
    return max(leaps) >= great or both_ends or (max(leaps) >= small and alike > limits.cleaning.lock_some_likeness)


def _rise(inside: Floats, outside: Floats, limits: Limits) -> float:
    """How much higher the middle value is inside; 0 where it cannot be told."""
    if min(np.isfinite(inside).sum(), np.isfinite(outside).sum()) < limits.cleaning.least_rise_s:
        return 0.0
    return float(np.nanmedian(inside) - np.nanmedian(outside))


def _leap(edge: Floats, within_s: int) -> float:
    """Greatest change within so many seconds."""
    smooth = rolling_median(edge, 3)
    known = smooth[np.isfinite(smooth)]
    return float(np.max(np.abs(known[within_s:] - known[:-within_s]))) if len(known) > within_s else 0.0


# The heart's answer: how much of the rise that an effort asks for is found in the heart rate. Heart rate answers
# running speed with about 24 bpm per m/s and a time constant of 57 s (Hunt 2015). What a stretch of speed, or a
# climb, should have done to it is held against what it did, by regression: 1 is the whole answer, 0 none.

TAU_S = 57.0  # of the published answer: 55.7 and 59.5 s (Hunt 2015)
UNMOVED = 1e-3  # SD of a cause that is a constant, but for rounding


@dataclass(frozen=True, slots=True)
class HeartAnswer:
    """Share of the expected answer that was given, its standard error, the expected swing, the share of known rows."""

    share: float
    error: float
    swing_bpm: float
    known: float

    def given(self, least: float) -> bool | None:
        """Surely given, surely not, or None where the error leaves it open."""
        if self.share - 2 * self.error >= least:
            return True
        return False if self.share + 2 * self.error <= least else None


def followed(speed: Floats) -> Floats:
    """What a first-order follower with the heart's time constant makes of it."""
    kernel = np.exp(-np.arange(0.0, 6 * TAU_S) / TAU_S)
    kernel /= kernel.sum()
    before = np.full(len(kernel), speed[0])
    return np.asarray(np.convolve(np.concatenate((before, speed)), kernel)[len(kernel) : len(kernel) + len(speed)])


def heart_answer(
    heart: Floats, cause: Floats, beside: Sequence[Floats], window: slice, limits: Limits
) -> HeartAnswer | None:
    """Of `cause` (m/s a row), beside the answer to other causes, the start of a session and a slow drift.

    None where too little heart rate is known in the window.
    """
    if len(cause) == 0:
        return None
    gain, block = limits.cleaning.hr_gain, limits.heart_response.block_s
    rows = np.arange(len(cause), dtype=np.float64)
    asked = gain * followed(cause)
    others = [gain * followed(other) for other in beside]
    table = np.column_stack((asked, *others, np.exp(-rows / (2 * TAU_S)), rows / 3600.0))[window]
    known = np.isfinite(heart[window])
    if known.sum() < 4 * block:
        return None
    table, observed = table[known], heart[window][known]
    used = [0, *[column for column in range(1, table.shape[1]) if table[:, column].std() > UNMOVED]]
    design = np.column_stack((table[:, used], np.ones(len(observed))))
    is_drift = np.array([*(column == table.shape[1] - 1 for column in used), False])
    usual = limits.heart_response.scatter_bpm / limits.heart_response.drift_bpm_per_h
    prior = np.where(is_drift, block * usual**2, 0.0)
    inverse = np.linalg.pinv(design.T @ design + np.diag(prior))
    found = inverse @ (design.T @ observed)
    left = observed - design @ found
    free = max(len(observed) / block - design.shape[1], 1.0)
    error = float(np.sqrt(max(float(left @ left) / free * inverse[0, 0], 0.0)))
    return HeartAnswer(float(found[0]), error, float(np.ptp(asked[window])), float(known.mean()))
