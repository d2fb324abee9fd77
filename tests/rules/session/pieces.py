"""Sessions put together of pieces whose speeds, steps, hearts and lengths lie at, beside and far from usual borders.

Each is made of a seed by plain arithmetic, so that it is the same on every machine.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import Any

import numpy as np

LABELS = (
    ("running", "generic"), ("running", "trail"), ("running", "treadmill"), ("running", "track"),
    ("walking", "generic"),
    ("hiking", "generic"), ("walking", "speed_walking"), ("generic", "generic"), ("training", "cardio_training"),
    ("cycling", "road"), ("e_biking", "generic"), ("soccer", "generic"), ("training", "strength_training"),
    ("training", "yoga"), ("multisport", "generic"), ("inline_skating", "generic"), ("generic", "treadmill"),
    ("training", "flexibility_training"), ("swimming", "lap_swimming"), ("rowing", "indoor_rowing"),
)  # fmt: skip
SECONDS = (
    5,
    9,
    10,
    11,
    12,
    13,
    15,
    20,
    29,
    30,
    31,
    45,
    60,
    61,
    75,
    90,
    91,
    100,
    120,
    121,
    180,
    240,
    300,
    301,
    420,
    600,
)
RUNS = (1.5, 1.75, 1.8, 2.1, 2.2, 2.45, 2.6, 2.8, 3.0, 3.0, 3.2, 3.5, 3.8, 4.0, 4.3, 4.4, 4.8, 5.0, 5.3, 6.2)
WALKS = (0.4, 0.5, 0.8, 1.0, 1.2, 1.3, 1.4, 1.5, 1.7, 1.9, 2.0, 2.1, 2.5, 2.9)
WHEELS = (2.5, 3.2, 4.4, 4.8, 5.5, 6.0, 6.3, 7.3, 7.5, 9.0, 9.5, 12.5, 14.0, 20.0)
SLOPES = (
    0.0,
    0.0,
    0.0,
    0.0,
    0.01,
    -0.01,
    0.02,
    -0.02,
    0.03,
    -0.03,
    0.04,
    -0.04,
    0.06,
    -0.08,
    0.1,
    -0.1,
    0.16,
    -0.2,
    0.3,
)


@dataclass
class Made:
    """A table of samples with its label, pauses and laps."""

    label: tuple[str, str]
    table: dict[str, np.ndarray]
    pauses: tuple[tuple[float, float], ...]
    laps: tuple[float, ...]
    elapsed_s: float
    barometer: bool | None


@dataclass
class _Rows:
    speed: list[float] = field(default_factory=list)
    spm: list[float] = field(default_factory=list)
    slope: list[float] = field(default_factory=list)
    aim: list[float] = field(default_factory=list)
    marks: list[float] = field(default_factory=list)


def made(seed: int) -> Made:
    """The session of a seed."""
    draw = random.Random(seed)
    label = LABELS[int(draw.random() * len(LABELS))] if draw.random() < 0.65 else ("running", "generic")
    rows = _Rows()
    steady = draw.random() < 0.3  # most of it alike, as a run is
    base = _of(draw, RUNS[4:14])
    repeats = draw.random() < 0.35
    if repeats:
        _repeat(draw, rows, base)
    else:
        for _ in range(3 + int(draw.random() * 9)):
            _piece(draw, rows, base if steady and draw.random() < 0.7 else None, label)
    size = len(rows.speed)
    if size < 400 and draw.random() < 0.8:
        _piece(draw, rows, base, label, 600)
        size = len(rows.speed)
    table = _table(draw, rows, label)
    _damage(draw, table)
    at = _kept(draw, size)
    table = {name: values[at] for name, values in table.items()}
    if uneven := draw.random() < 0.3:  # as where a format keeps thousandths
        table["t_s"] = np.round(table["t_s"] + np.array([draw.random() * 0.4 for _ in at]), 3)
    pauses = _pauses(draw, size) if draw.random() < 0.3 else ()
    elapsed = float(size + int(draw.random() * 3) * 7) + (0.37 if uneven else 0.0)
    laps = tuple(rows.marks) if repeats and draw.random() < 0.6 else ()
    return Made(label, table, pauses, laps, elapsed, _of(draw, (None, None, True, False)))


def _of(draw: random.Random, choices: Any) -> Any:
    return choices[int(draw.random() * len(choices))]


def _piece(
    draw: random.Random, rows: _Rows, base: float | None, label: tuple[str, str], seconds: int | None = None
) -> None:
    """One stretch at one speed, or rising to another."""
    seconds = seconds or _of(draw, SECONDS) + _of(draw, (0, 0, 0, 1, -1))
    kind = draw.random()
    foot = label[0] in ("running", "walking", "hiking")
    if base is not None or kind < (0.5 if label[0] == "running" else 0.25):
        speed = base if base is not None else _of(draw, RUNS)
        spm, aim = 150.0 + 6 * (speed - 2.5) + _of(draw, (-25, -12, -6, 0, 0, 4, 8)), 70 + 24 * speed
    elif kind < 0.75 or (foot and kind < 0.85):
        speed = _of(draw, WALKS)
        spm, aim = 70 + 32 * speed + _of(draw, (-10, 0, 0, 8)), 70 + 17 * speed
    elif kind < 0.93:
        speed = _of(draw, WHEELS)
        spm, aim = _of(draw, (0.0, 0.0, 30.0, 31.0, 60.0, 85.0, 125.0, 126.0)), _of(draw, (80, 95, 125, 140, 150, 151))
    else:
        speed, spm, aim = 0.0, 0.0, 70
    to = speed * _of(draw, (1.0, 1.0, 1.0, 1.05, 1.1, 0.9, 1.2))
    slope = _of(draw, SLOPES)
    _add(rows, int(seconds), speed, to, spm, slope, aim + _of(draw, (0, 0, 0, 10, -10)) + 300 * max(slope, -0.05))


def _repeat(draw: random.Random, rows: _Rows, base: float) -> None:
    """Fast stretches between easy ones, strides, a fast finish, a long fast part."""
    _add(rows, _of(draw, (240, 480, 600)), base, base, 150.0 + _of(draw, (0, 6, 12)), 0.0, 70 + 24 * base)
    count, fast, rest = (
        _of(draw, (1, 2, 3, 4, 6, 8, 9)),
        _of(draw, (12, 15, 20, 30, 35, 60, 90, 120, 300)),
        _of(draw, (30, 60, 75, 90, 120)),
    )
    times = _of(draw, (1.05, 1.1, 1.15, 1.2, 1.25, 1.3, 1.4, 1.6))
    rise, climb = _of(draw, (0, 3, 5, 6, 12)), _of(draw, (0.0, 0.0, 0.0, 0.04, 0.08))
    answers = _of(draw, (0.0, 0.3, 1.0, 1.0, 1.8))
    for number in range(count if fast < 300 else min(count, 2)):
        even = times * _of(draw, (1.0, 1.0, 1.0, 0.96, 1.05))
        rows.marks.append(float(len(rows.speed)))
        _add(rows, fast, base * even, base * even, 150.0 + 6 + rise, climb, 70 + 24 * base * (1 + (even - 1) * answers))
        rows.marks.append(float(len(rows.speed)))
        slow = 1.4 if number % 2 and draw.random() < 0.3 else base * _of(draw, (1.0, 0.9))
        _add(rows, rest, slow, slow, 150.0 if slow > 1.5 else 112.0, -climb / 2, 70 + 24 * base)
    _add(rows, _of(draw, (60, 300, 600)), base, base, 152.0, 0.0, 72 + 24 * base)


def _add(rows: _Rows, seconds: int, speed: float, to: float, spm: float, slope: float, aim: float) -> None:
    for at in range(seconds):
        rows.speed.append(speed + (to - speed) * at / seconds)
        rows.spm.append(spm)
        rows.slope.append(slope)
        rows.aim.append(aim)


def _table(draw: random.Random, rows: _Rows, label: tuple[str, str]) -> dict[str, np.ndarray]:
    size = len(rows.speed)
    noise = _of(draw, (0.0, 0.0, 0.05, 0.15, 0.4))
    wander, at_m, height, heart, value = 0.0, 0.0, 200.0, [], 95.0
    speeds, metres, heights = [], [], []
    drift = _of(draw, (0.0, 0.0, 2.0, 8.0))
    for second in range(size):
        wander += (draw.random() - 0.5) * noise - wander / 8
        speed = max(rows.speed[second] + (wander if rows.speed[second] > 0.3 else 0.0), 0.0)
        at_m += speed
        height += rows.speed[second] * rows.slope[second]
        value += (rows.aim[second] + drift * second / 3600 - value) / 50
        speeds.append(round(speed, 3))
        metres.append(round(at_m, 2))
        heights.append(height + (draw.random() - 0.5) * noise)
        heart.append(float(round(value + (draw.random() - 0.5) * 4 * noise)))
    table = {"t_s": np.arange(size, dtype=np.float64), "hr_bpm": np.array(heart)}
    source = draw.random()
    if source < 0.55:
        table["speed_mps"] = np.array(speeds)
    if source < 0.8:
        table["distance_m"] = np.array(metres)
    if source > 0.75:
        degrees = np.array(metres) / 111_194.9
        jitter = np.array([(draw.random() - 0.5) * noise for _ in range(size)]) / 111_194.9
        out_and_back = draw.random() < 0.3
        half = degrees[-1] / 2
        table["lat_deg"] = np.round(
            50.0 + (np.where(degrees > half, 2 * half - degrees, degrees) if out_and_back else degrees) + jitter, 6
        )
        table["lon_deg"] = np.full(size, 8.0)
    if draw.random() < 0.75:
        part = 2 if draw.random() < 0.15 else 1
        sway = _of(draw, (0.0, 0.0, 2.0, 8.0))
        table["cadence_spm"] = np.array(
            [max(round((one + (draw.random() - 0.5) * sway) / part), 0) if one else 0.0 for one in rows.spm],
            dtype=np.float64,
        )
    if draw.random() < 0.75:
        table["altitude_m"] = np.round(np.array(heights) * 5) / 5
    if draw.random() < 0.2:
        table["temperature_c"] = np.full(size, _of(draw, (-1.0, 0.0, 21.5, 22.0, 30.0)))
    if draw.random() < 0.06:
        del table["hr_bpm"]
    return table


def _damage(draw: random.Random, table: dict[str, np.ndarray]) -> None:
    """What devices do wrong, none to three of it."""
    for _ in range(_of(draw, (0, 0, 1, 1, 2, 3))):
        kinds = [one for one in DAMAGES if one[0] in table]
        name, what, seconds = _of(draw, kinds)
        size = len(table["t_s"])
        begin = int(draw.random() * size) if draw.random() < 0.8 else 0
        end = min(begin + _of(draw, seconds), size)
        values = table[name]
        if what == "missing":
            values[begin:end] = np.nan
        elif what == "zero":
            values[begin:end] = 0.0
        elif what == "up":
            values[begin:end] += _of(draw, (15, 20, 29, 30, 31, 40, 45, 60))
        elif what == "down":
            values[begin:end] -= _of(draw, (15, 29, 30, 31, 45, 60))
        elif what == "stuck":
            values[begin:end] = values[begin] + _of(draw, (0, 0, 3, 9, 18, 25))
        elif what == "steps" and "cadence_spm" in table:
            spm = table["cadence_spm"][begin:end]
            values[begin:end] = np.where(spm > 99, spm + _of(draw, (0, 0, 2, 3, 4)), values[begin:end])
        elif what == "high":
            values[begin:end] = _of(draw, (185, 200, 230, 231, 250))
        elif what == "leap":
            values[begin:end] += _of(draw, (0.0002, 0.001, 0.01))
        elif what == "shift":
            values[begin:] += _of(draw, (15.0, 30.0, 120.0))
        elif what == "faster":
            values[begin:end] += _of(draw, (2.0, 4.4, 4.6, 8.0, 12.0))


DAMAGES: tuple[tuple[str, str, tuple[int, ...]], ...] = (
    ("hr_bpm", "missing", (3, 9, 10, 11, 40, 300)), ("hr_bpm", "zero", (5, 30)),
    ("hr_bpm", "up", (3, 20, 99, 100, 101, 200, 320)),
    ("hr_bpm", "down", (3, 20, 60)), ("hr_bpm", "stuck", (60, 89, 90, 91, 200, 500)),
    ("hr_bpm", "steps", (50, 60, 61, 120, 400)),
    ("hr_bpm", "high", (3, 30, 120, 359)), ("speed_mps", "missing", (3, 9, 30, 90, 400)),
    ("speed_mps", "faster", (2, 5, 9, 10, 40)),
    ("speed_mps", "stuck", (30, 120)), ("distance_m", "shift", (1,)), ("distance_m", "missing", (10, 60)),
    ("distance_m", "stuck", (10, 60)),
    ("lat_deg", "leap", (1, 3, 9, 10, 60)), ("lat_deg", "missing", (5, 60)), ("cadence_spm", "missing", (5, 60, 600)),
    ("cadence_spm", "zero", (3, 60)), ("cadence_spm", "stuck", (60, 300)), ("altitude_m", "down", (20, 60, 90, 91)),
    ("altitude_m", "missing", (10, 60, 300)), ("altitude_m", "up", (5, 60)), ("altitude_m", "stuck", (120,)),
)  # fmt: skip


def _kept(draw: random.Random, size: int) -> np.ndarray:
    """Which seconds have a record."""
    kind = draw.random()
    every = np.arange(size)
    if kind < 0.55:
        return every
    if kind < 0.7:
        gap = _of(draw, (2, 4, 5, 10, 12))
        return every[::gap]
    if kind < 0.85:
        at, kept = 0, []
        most = _of(draw, (3, 8, 14))
        while at < size:
            kept.append(at)
            at += 1 + int(draw.random() * most)
        return np.array(kept)
    begin = int(draw.random() * size)
    lost = _of(draw, (5, 9, 10, 11, 30, 60, 150))
    return every[(every < begin) | (every > begin + lost)]


def _pauses(draw: random.Random, size: int) -> tuple[tuple[float, float], ...]:
    begin = float(int(draw.random() * size * 0.8) + 5)
    first = (begin, begin + _of(draw, (5, 10, 11, 60, 120)))
    if draw.random() < 0.5:
        return (first,)
    return first, (first[1] + 40, first[1] + 55)
