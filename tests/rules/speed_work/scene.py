"""Hours of running with fast stretches, and stand-ins for what telling them asks of a track."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np

from rules.facts import Threshold
from rules.findings import Quality, Says, Severity, Signal, say
from rules.limits import default_limits
from rules.session.track import Track, clean
from rules.speed_work import judge
from rules.speed_work.bouts import Bout, Levels, bout
from rules.speed_work.judge import Work, kind_of
from rules.words import said

LIMITS = default_limits()
ROWS = 3600
NAN = float("nan")
EASY, THRESHOLD = 2.7, 4.0
STRIDES, BOUTS = 1.3 * EASY, 1.15 * EASY


def track(speed: np.ndarray, spm: np.ndarray, slope: float = 0.0) -> Track:
    """An hour of running, believed as it is."""
    table = {"t_s": np.arange(float(ROWS)), "speed_mps": np.full(ROWS, 2.7), "cadence_spm": np.full(ROWS, 165.0)}
    found = clean("running", "generic", float(ROWS), (), table, LIMITS)
    more = np.full(found.size - ROWS, np.nan)
    known = np.concatenate((speed, more))
    ground = replace(found.ground, slope=np.full(found.size, slope))
    return replace(
        found, pace=replace(found.pace, speed_mps=known), effort_mps=known,
        spm=np.concatenate((spm, more)), ground=ground, gait=replace(found.gait, running=found.clock.real),
    )  # fmt: skip


def repeats(*lengths: int, apart: int = 120, first: int = 900) -> tuple[np.ndarray, list[tuple[int, int]]]:
    """Flags of the fast rows, and where each stretch begins and ends."""
    flags, spans, at = np.zeros(ROWS, np.bool_), [], first
    for seconds in lengths:
        flags[at : at + seconds] = True
        spans.append((at, at + seconds))
        at += seconds + apart
    return flags, spans


def stretches_of(
    lengths: tuple[int, ...], *, slope: float = 0.0, first: int = 900
) -> tuple[Track, np.ndarray, list[Bout]]:
    flags, spans = repeats(*lengths, first=first)
    found = track(np.where(flags, 4.2, 2.7), np.where(flags, 178.0, 165.0), slope)
    hard = found.effort_mps
    return found, hard, [bout(found, hard, a, b) for a, b in spans]


def called(*lengths: int, slope: float = 0.0, first: int = 900) -> str:
    found, hard, bouts = stretches_of(lengths, slope=slope, first=first)
    return said(say(kind_of(found, hard, bouts, LIMITS)))


def levels_of(
    threshold: float | None = THRESHOLD, own_easy: float | None = EASY, noise: float = 0.05, fast: float = 3.5,
    alike_s: float = 12.0,
) -> Levels:  # fmt: skip
    known = None if threshold is None else Threshold(threshold, "roster", "high")
    return Levels(known, own_easy, EASY, fast, noise, 4.0, 1.2, alike_s)


def of(seconds: int, effort: float = 4.2, slope: float = 0.0, start: int = 900, speed: float | None = None) -> Bout:
    return Bout(start, start + seconds, effort if speed is None else speed, effort, slope)


def several(*seconds: int, apart: int = 120, effort: float = 4.2) -> list[Bout]:
    found, at = [], 900
    for each in seconds:
        found.append(of(each, effort, start=at))
        at += each + apart
    return found


def stub(running: int = 3600, *, real: int | None = None, effort: float = NAN, source: str = "device") -> Any:
    """What these functions ask of a track: so many seconds of running at an effort."""
    rows = running if real is None else real
    return cast(
        "Any",
        SimpleNamespace(
            size=rows,
            gait=SimpleNamespace(running=np.arange(rows) < running),
            clock=SimpleNamespace(real=np.ones(rows, np.bool_), rows_s=np.arange(float(rows))),
            effort_mps=np.full(rows, effort),
            pace=SimpleNamespace(source=source, noise_mps=0.05, masked=np.zeros(rows, np.bool_)),
            ground=SimpleNamespace(noise_m=0.1),
        ),
    )


def says(quality: Quality = "good", what: Says = "for", name: str = "heart rate") -> Signal:
    return Signal(name, quality, what, "")


def breach(*found: Bout, severity: Severity = Severity.STOP, **more: Any) -> Any:
    whole, hard, _ = stretches_of((300,))
    return judge._breach(whole, Work(hard, list(found), levels_of(**more), severity, [says()]), LIMITS)
