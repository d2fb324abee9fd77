"""What swimming recordings keep outside their records: pool lengths, and heart rate stored by the strap under water."""

from __future__ import annotations

import numpy as np

from monitor.intake.fit_columns import Floats, Rows
from monitor.intake.fit_decoders import Message, number, positive, word

CARRY_SECONDS = 5.0  # a beat's rate holds so long where none follows
STEP_SECONDS = 0.25
TICKS_A_SECOND = 1024


def with_lengths(rows: Rows, lengths: list[Message], pool_length_m: float | None, shift: float) -> Rows:
    """Speed over each length, and the distance where the records have none. No records: one a length."""
    spans = _active(lengths, shift)
    if not spans:
        return rows
    if not len(rows.at):
        ends = np.unique([end for _, end, _ in spans])
        rows = Rows(ends, {})
    columns = {name: column.copy() for name, column in rows.columns.items()}
    speed = columns.get("speed_mps", np.full(len(rows.at), np.nan))
    for begin, end, mps in spans:
        inside = slice(*np.searchsorted(rows.at, [begin, end], side="right").tolist())
        speed[inside] = np.where(np.isnan(speed[inside]), mps, speed[inside])
    columns["speed_mps"] = speed
    distance = columns.get("distance_m", np.full(len(rows.at), np.nan))
    if pool_length_m is not None and np.isnan(distance).all():
        at = np.searchsorted(rows.at, [end for _, end, _ in spans]).clip(max=len(rows.at) - 1)
        distance[at] = pool_length_m * np.arange(1, len(spans) + 1)
        columns["distance_m"] = distance
    return Rows(rows.at, columns)


def _active(lengths: list[Message], shift: float) -> list[tuple[float, float, float]]:
    """Begin, end and speed (NaN where unknown) of each length swum."""
    spans = []
    for length in lengths:
        start, took = number(length, "start_time"), positive(length, "total_elapsed_time", "total_timer_time")
        if start is None or took is None or word(length, "length_type") == "idle":
            continue
        speed = positive(length, "avg_speed", "enhanced_avg_speed")
        spans.append((start + shift, start + shift + took, np.nan if speed is None else speed))
    return sorted(spans)


def with_stored_heart_rate(rows: Rows, hr: list[Message], shift: float) -> Rows:
    """Heart rate from `hr` messages where a record has none: the mean since the record before."""
    if not hr or not len(rows.at):
        return rows
    at, bpm = _every_quarter_second(*_beats(hr, shift))
    if not len(at):
        return rows
    until = np.searchsorted(at, rows.at, side="right")
    since = np.concatenate((np.searchsorted(at, rows.at[:1] - 1, side="right"), until[:-1]))
    total = np.concatenate(([0.0], np.cumsum(bpm)))
    count = until - since
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.floor((total[until] - total[since]) / count + 0.5)
    stored = np.where(count > 0, mean, np.nan)
    recorded = rows.columns["hr_bpm"]
    return Rows(rows.at, {**rows.columns, "hr_bpm": np.where(np.isnan(recorded), stored, recorded)})


def _beats(hr: list[Message], shift: float) -> tuple[Floats, Floats]:
    """Moments and rates of all beats. A message with a date anchors the strap's own clock of 1/1024 s."""
    at: list[float] = []
    bpm: list[float] = []
    anchor: float | None = None  # date minus strap clock, in seconds
    ticks = 0
    for message in hr:
        stored = message.get("event_timestamp_12")
        if stored is None:
            event = number(message, "event_timestamp")
            if event is None:
                continue
            ticks = round(event * TICKS_A_SECOND)
            date = number(message, "timestamp")
            if date is not None:
                anchor = date + shift + (number(message, "fractional_timestamp") or 0.0) - event
            events = [ticks]
        else:
            events = _unpack_12(bytes(stored), ticks)
            ticks = events[-1] if events else ticks
        rates = message.get("filtered_bpm")
        rates = rates if isinstance(rates, list | tuple) else [rates]
        if anchor is None:
            continue
        for event_ticks, rate in zip(events, rates, strict=False):
            if rate:
                at.append(anchor + event_ticks / TICKS_A_SECOND)
                bpm.append(float(rate))
    return np.array(at), np.array(bpm)


def _unpack_12(stored: bytes, ticks: int) -> list[int]:
    """Pairs of 12-bit ticks in three bytes each, each the low bits of a clock that only goes on."""
    events = []
    for i in range(0, len(stored) - 2, 3):
        low, middle, high = stored[i : i + 3]
        for value in (low | (middle & 0x0F) << 8, middle >> 4 | high << 4):
            ticks += (value - ticks) & 0xFFF
            events.append(ticks)
    return events


def _every_quarter_second(at: Floats, bpm: Floats) -> tuple[Floats, Floats]:
    """Rates carried forward in steps of a quarter of a second, for five seconds at most."""
    if len(at) <= 1:
        return at, bpm
    order = np.argsort(at, kind="stable")
    at, bpm = at[order], bpm[order]
    gaps = np.append(np.diff(at), 0.0)
    most = int(CARRY_SECONDS / STEP_SECONDS)
    extra = np.clip(np.ceil(np.round(gaps / STEP_SECONDS, 6)) - 1, 0, most).astype(np.int64)
    of = np.repeat(np.arange(len(at)), extra + 1)
    step = np.arange(len(of)) - np.repeat(np.cumsum(extra + 1) - (extra + 1), extra + 1)
    return at[of] + step * STEP_SECONDS, bpm[of]
