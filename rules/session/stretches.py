"""Unbroken stretches of a condition over rows of a track, and how they read as times."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rules.session.rolling import Flags, Floats

Stretch = tuple[int, int]
"""Rows from (included) and to (left out)."""


def stretches(flags: Flags, bridge: int = 0, least: int = 1) -> list[Stretch]:
    """Stretches where the flag is set, joined over breaks of up to `bridge` rows, of `least` rows or more."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False])).astype(np.int8)))
    starts, ends = edges[::2], edges[1::2]
    if len(starts) == 0:
        return []
    apart = starts[1:] - ends[:-1] > bridge
    starts = starts[np.concatenate(([True], apart))]
    ends = ends[np.concatenate((apart, [True]))]
    long = ends - starts >= least
    return [(int(a), int(b)) for a, b in zip(starts[long], ends[long], strict=True)]


def flagged(size: int, spans: Sequence[Stretch]) -> Flags:
    """The stretches as flags again."""
    flags = np.zeros(size, dtype=np.bool_)
    for a, b in spans:
        flags[a:b] = True
    return flags


def as_times(spans: Sequence[Stretch], time_s: Floats, most: int = 40) -> list[list[float]]:
    """[[from_s, to_s], ...] of the longest stretches, in the order of time."""
    kept = sorted(sorted(spans, key=lambda span: span[0] - span[1])[:most])
    return [[round(float(time_s[a]), 1), round(float(time_s[b - 1]) + 1.0, 1)] for a, b in kept]
