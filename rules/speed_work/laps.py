"""Pressed laps: whoever marks where the fast part begins and ends, and does it again, is at a workout.

A lap says nothing of how hard it was. It makes stretches that are fast by themselves sure, and tells how many there
were and how long; `monitor` leaves out the kilometres that a device closes by itself.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from rules.findings import Signal
from rules.limits import Limits
from rules.session.clean import Track
from rules.session.windows import Floats, Stretch
from rules.speed_work.bouts import Bout, bout


def by_laps(
    track: Track, hard: Floats, found: Sequence[Bout], marks_s: Sequence[float], limits: Limits
) -> tuple[list[Bout], Signal]:
    """The stretches as the laps tell them, and what the laps say; the stretches as they are where no lap fits them."""
    marks = _rows(track, marks_s, limits)
    repeats = _repeats(track, marks, limits)
    if _same(found, repeats):
        told = [bout(track, hard, a, b) for a, b in repeats]
        return told, Signal("laps", "weak", "for", f"{len(told)} fast laps were pressed, with slower ones between them")
    snapped = [(_nearest(b.start, marks, limits), _nearest(b.end, marks, limits)) for b in found]
    fitting = [(a, b) for a, b in snapped if a is not None and b is not None and b > a]
    told = [
        bout(track, hard, b.start if start is None else start, b.end if end is None else end)
        for b, (start, end) in zip(found, snapped, strict=True)
        if (b.start if start is None else start) < (b.end if end is None else end)
    ]
    if found and 2 * len(fitting) >= len(found):
        return told, Signal("laps", "weak", "for", "laps were pressed where the stretches begin and end")
    return list(found), Signal("laps", "none", "nothing", "none were pressed around the stretches")


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
