"""Heart rate that can be believed: what is out of range, jumps, sticks or follows the feet is masked.

Masked time is neither above nor below any ceiling. A heart follows effort with a time constant near 57 s and 24 bpm
per m/s (Hunt 2015), so what moves much faster, or stands much higher than the speed explains, is the sensor's.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np

from rules.limits import Limits
from rules.session.rolling import Flags, Floats, held, rolling_mean, rolling_median
from rules.session.stretches import Stretch, as_times, flagged, stretches
from rules.session.timeline import Timeline


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


def clean_heart(raw: Floats, clock: Timeline, effort: Floats, spm: Floats, limits: Limits) -> Heart:
    """Mask what no heart does. `effort` is level-ground speed a row, NaN where unknown."""
    bpm = np.rint(raw)
    recorded = np.isfinite(bpm)
    weight = clock.weights(recorded)
    if not recorded.any():
        return Heart(bpm, weight, recorded, np.full(len(clock.rows_s), np.nan))
    with np.errstate(invalid="ignore"):
        beyond = recorded & ((bpm < limits.number("cleaning.hr_lowest")) | (bpm > limits.number("cleaning.hr_highest")))
    rows = clock.on_rows(np.where(beyond, np.nan, bpm))
    jumps = _jumps(rows, effort, limits)
    flat = _flat(rows, clock, limits)
    locked = _locked(np.where(jumps, np.nan, rows), rows, spm, effort, limits)
    at = clock.row_of_samples()
    of_sample = {"jump": jumps[at], "locked": locked[at], "flat": flat[at]} if len(jumps) else {}
    masked, reasons = beyond.copy(), {"range": float(weight[beyond].sum())}
    for why in ("locked", "flat", "jump"):
        fresh = of_sample[why] & recorded & ~masked if of_sample else np.zeros_like(masked)
        reasons[why] = float(weight[fresh].sum())
        masked |= fresh
    bad = jumps | flat | locked
    times = as_times(stretches(bad | (clock.real & np.isfinite(rows) & bad), bridge=3), clock.rows_s, most=20)
    believed = clock.on_rows(np.where(masked, np.nan, bpm))
    kept = {why: round(seconds, 1) for why, seconds in reasons.items() if seconds > 0}
    return Heart(bpm, weight, masked, np.where(bad, np.nan, believed), kept, times)


@dataclass(frozen=True, slots=True)
class _Edge:
    start: int
    end: int
    up: bool


def _edges(rows: Floats, limits: Limits) -> list[_Edge]:
    """Where heart rate moves further within seconds than a heart can."""
    reach = limits.whole("cleaning.jump_s") - 2
    change = np.full(len(rows), np.nan)
    if len(rows) > reach:
        change[:-reach] = rows[reach:] - rows[:-reach]
    found: list[_Edge] = []
    with np.errstate(invalid="ignore"):
        for up in (True, False):
            far = change >= limits.number("cleaning.jump_bpm") if up else change <= -limits.number("cleaning.jump_bpm")
            for a, b in stretches(far):
                steps = np.diff(rows[a : b + reach])
                steepest = a + int(np.nanargmax(steps if up else -steps))
                found.append(_Edge(max(a, steepest - reach + 1), min(b - 1 + reach, steepest + reach), up))
    return sorted(found, key=lambda edge: (edge.start + edge.end, edge.up))


def _jumps(rows: Floats, effort: Floats, limits: Limits) -> Flags:
    """Spikes and dips between two impossible edges, and a false start that ends in an impossible fall."""
    bad = np.zeros(len(rows), dtype=np.bool_)
    edges = _edges(rows, limits)
    longest = limits.whole("cleaning.longest_spike_s")
    for first, second in itertools.pairwise(edges):
        if first.up != second.up and second.end - first.start <= longest + 2 * limits.whole("cleaning.jump_s"):
            bad[first.start : second.end + 1] = True
    for edge in edges:
        bad[edge.start : edge.end + 1] = True
    first_known = int(np.argmax(np.isfinite(rows)))
    for edge in edges[:1]:
        early = edge.end - first_known <= 600
        if early and not edge.up and not _effort_fell(effort, edge):
            bad[first_known : edge.end + 1] = True
    return bad & np.isfinite(rows)


def _effort_fell(effort: Floats, edge: _Edge) -> bool:
    """Did the athlete slow down or stop about then?"""
    before = effort[max(edge.start - 60, 0) : edge.start + 1]
    after = effort[edge.end : edge.end + 60]
    if not np.isfinite(before).any() or not np.isfinite(after).any():
        return True
    return bool(np.nanmedian(before) - np.nanmedian(after) > 0.5)


def _flat(rows: Floats, clock: Timeline, limits: Limits) -> Flags:
    """A value that does not move for minutes, in a recording that moves elsewhere."""
    known = np.isfinite(rows)
    with np.errstate(invalid="ignore"):
        same = np.concatenate(([False], (np.diff(rows) == 0.0)))
    spans = [(a - 1, b) for a, b in stretches(same, least=limits.whole("cleaning.flat_s"))]
    if not spans:
        return np.zeros(len(rows), dtype=np.bool_)
    flat = flagged(len(rows), spans)
    others = known & ~flat
    moves_elsewhere = others.sum() >= 120 and float(np.mean(same[others])) < 0.93 and _longest_same(same & others) < 60
    return flat if moves_elsewhere else np.zeros(len(rows), dtype=np.bool_)


def _longest_same(same: Flags) -> int:
    return max((b - a for a, b in stretches(same)), default=0)


def _locked(calm: Floats, rows: Floats, spm: Floats, effort: Floats, limits: Limits) -> Flags:
    """Heart rate within a few of the steps a minute for a minute or more, where effort says otherwise."""
    bad = np.zeros(len(rows), dtype=np.bool_)
    with np.errstate(invalid="ignore"):
        near = np.abs(rows - spm) <= limits.number("cleaning.lock_bpm")
        near &= spm > 100
    share = rolling_mean(np.where(np.isfinite(rows) & np.isfinite(spm), near.astype(np.float64), np.nan), 15, least=8)
    spans = stretches(np.nan_to_num(share) >= 0.6, bridge=20, least=limits.whole("cleaning.lock_s"))
    for span in spans:
        if _follows_feet(rows, spm, span) or _unexplained(rows, effort, span, limits):
            bad[max(span[0] - 4, 0) : span[1] + 4] = True
    return bad & np.isfinite(rows)


def _follows_feet(rows: Floats, spm: Floats, span: Stretch) -> bool:
    """Does heart rate repeat the small ups and downs of the steps at once? Hearts lag by a minute."""
    heart, steps = rows[span[0] : span[1]], spm[span[0] : span[1]]
    both = np.isfinite(heart) & np.isfinite(steps)
    if both.sum() < 60:
        return False
    detail = [rolling_mean(x, 3) - rolling_mean(x, 41) for x in (held(heart), held(steps))]
    a, b = detail[0][both], detail[1][both]
    if a.std() < 0.4 or b.std() < 0.4:
        return False
    return bool(np.corrcoef(a, b)[0, 1] > 0.7)


def _unexplained(rows: Floats, effort: Floats, span: Stretch, limits: Limits) -> bool:
    """Is heart rate far above the minutes beside it without the effort that would explain it?"""
    a, b = span
    gain, most = limits.number("cleaning.hr_gain"), limits.number("cleaning.lock_unexplained_bpm")
    inside, pushed = rows[a + 5 : b - 5], effort[a:b]
    for outside in (slice(max(a - 100, 0), max(a - 10, 0)), slice(b + 10, b + 100)):
        beside, easy = rows[outside], effort[outside]
        if np.isfinite(beside).sum() < 30:
            continue
        rise = float(np.nanmedian(inside) - np.nanmedian(beside))
        if not np.isfinite(pushed).any() or not np.isfinite(easy).any():
            continue
        harder = max(float(np.nanmedian(pushed) - np.nanmedian(easy)), 0.0)
        edge = rows[max(a - 20, 0) : a + 20] if outside.start < a else rows[b - 20 : b + 20]
        if rise - gain * harder >= most and _sudden(edge, most):
            return True
    return False


def _sudden(edge: Floats, most: float) -> bool:
    """Does most of the way between the two levels take only seconds?"""
    smooth = rolling_median(edge, 3)
    known = smooth[np.isfinite(smooth)]
    return len(known) > 12 and bool(np.max(np.abs(known[12:] - known[:-12])) >= 0.8 * most)
