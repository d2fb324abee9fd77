"""Whole FIT files for tests from columns of samples: activities of one or several sessions, nights, mornings.

`FitWriter` (tests.fitbytes) is the low level for anything else, and for files broken on purpose.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from tests.fitbytes import FIT_EPOCH, Developer, FitWriter, Raw, crc16, fit_time, message_number

__all__ = [
    "FIT_EPOCH",
    "Developer",
    "FitWriter",
    "Part",
    "Raw",
    "activities",
    "activity",
    "crc16",
    "file_id",
    "fit_time",
    "message_number",
    "monitoring_day",
    "night",
    "write_activities",
]

ON_FOOT = ("running", "walking", "hiking", "generic", "training", "mountaineering", "snowshoeing", "transition")


@dataclass(frozen=True)
class Part:
    """One session of a recording. `samples` has the columns of rules.facts.SAMPLE_COLUMNS; `t_s` counts from `start`.

    `pauses` are (from_s, to_s) with the timer stopped; samples inside them are left out. Totals that are None are
    made from the samples.
    """

    start: datetime
    sport: str = "running"
    sub_sport: str = "generic"
    samples: Mapping[str, Sequence[float] | np.ndarray] = field(default_factory=dict)
    pauses: tuple[tuple[float, float], ...] = ()
    elapsed_s: float | None = None
    timer_s: float | None = None
    distance_m: float | None = None
    ascent_m: float | None = None
    descent_m: float | None = None
    avg_hr_bpm: float | None = None
    max_hr_bpm: float | None = None


def _columns(part: Part) -> dict[str, np.ndarray]:
    columns = {name: np.asarray(column, dtype=np.float64) for name, column in part.samples.items()}
    if not columns:
        return {"t_s": np.zeros(0)}
    length = max(len(c) for c in columns.values())
    columns.setdefault("t_s", np.arange(length, dtype=np.float64))
    keep = np.ones(length, dtype=bool)
    for begin, end in part.pauses:
        keep &= ~((columns["t_s"] > begin) & (columns["t_s"] < end))
    return {name: column[keep] for name, column in columns.items()}


def _record_columns(part: Part, columns: Mapping[str, np.ndarray], *, enhanced: bool) -> dict[str, np.ndarray]:
    """Samples in the words and numbers of the record message."""
    out = {"timestamp": fit_time(part.start) + np.round(columns["t_s"])}
    for axis, name in (("lat", "position_lat"), ("lon", "position_long")):
        if f"{axis}_deg" in columns:
            out[name] = np.round(columns[f"{axis}_deg"] * (2**31 / 180))
    if "cadence_spm" in columns:
        turns = columns["cadence_spm"] / (2.0 if part.sport in ON_FOOT else 1.0)
        out["cadence"] = np.floor(turns)
        out["fractional_cadence"] = turns - np.floor(turns)
    speed, altitude = ("enhanced_speed", "enhanced_altitude") if enhanced else ("speed", "altitude")
    plain = {"hr_bpm": "heart_rate", "speed_mps": speed, "altitude_m": altitude}
    plain |= {"distance_m": "distance", "power_w": "power", "temperature_c": "temperature"}
    out.update({name: columns[column] for column, name in plain.items() if column in columns})
    return out


def _timer_events(writer: FitWriter, part: Part, elapsed_s: float) -> None:
    moments = [(0.0, "start")]
    for begin, end in part.pauses:
        moments += [(begin, "stop_all"), (end, "start")]
    moments.append((elapsed_s, "stop_all"))
    for second, kind in moments:
        writer.message("event", timestamp=fit_time(part.start) + round(second), event="timer", event_type=kind)


def _last(columns: Mapping[str, np.ndarray], name: str) -> float | None:
    known = columns[name][~np.isnan(columns[name])] if name in columns else np.zeros(0)
    return float(known[-1]) if len(known) else None


def _hr(columns: Mapping[str, np.ndarray], how: str) -> float | None:
    known = columns["hr_bpm"][~np.isnan(columns["hr_bpm"])] if "hr_bpm" in columns else np.zeros(0)
    return float(getattr(np, how)(known)) if len(known) else None


def _summary(part: Part, columns: Mapping[str, np.ndarray]) -> dict[str, Any]:
    """Fields that a session and its lap have in common."""
    last = _last(columns, "t_s") or 0.0
    elapsed = last if part.elapsed_s is None else part.elapsed_s
    paused = sum(min(end, elapsed) - min(begin, elapsed) for begin, end in part.pauses)
    known = {
        "total_distance": _last(columns, "distance_m") if part.distance_m is None else part.distance_m,
        "total_ascent": part.ascent_m,
        "total_descent": part.descent_m,
        "avg_heart_rate": _hr(columns, "mean") if part.avg_hr_bpm is None else part.avg_hr_bpm,
        "max_heart_rate": _hr(columns, "max") if part.max_hr_bpm is None else part.max_hr_bpm,
    }
    return {
        "timestamp": fit_time(part.start) + round(elapsed),
        "start_time": part.start,
        "total_elapsed_time": elapsed,
        "total_timer_time": elapsed - paused if part.timer_s is None else part.timer_s,
        "sport": part.sport,
        "sub_sport": part.sub_sport,
        **{name: value for name, value in known.items() if value is not None},
    }


def file_id(writer: FitWriter, created: datetime, *, serial: int = 12345, kind: str | int = "activity") -> FitWriter:
    """The message every FIT file begins with."""
    return writer.message(
        "file_id", type=kind, manufacturer="development", product=1, serial_number=serial, time_created=created
    )


def write_activities(
    parts: Sequence[Part],
    *,
    utc_offset_s: int | None = None,
    serial: int = 12345,
    summary_first: bool = False,
    enhanced: bool = False,
    events: bool = True,
    rr_ms: Iterable[float] = (),
    writer: FitWriter | None = None,
) -> FitWriter:
    """A writer that holds a whole activity file of one or more sessions, open for more messages."""
    writer = FitWriter() if writer is None else writer
    file_id(writer, parts[0].start, serial=serial)
    columns = [_columns(part) for part in parts]
    summaries = [_summary(part, c) for part, c in zip(parts, columns, strict=True)]
    if summary_first:
        _write_summaries(writer, summaries)
    for part, c, summary in zip(parts, columns, summaries, strict=True):
        if events:
            _timer_events(writer, part, summary["total_elapsed_time"])
        if len(c["t_s"]):
            writer.rows("record", _record_columns(part, c, enhanced=enhanced))
    for interval in rr_ms:
        writer.message("hrv", time=[interval / 1000.0, None, None, None, None])
    if not summary_first:
        _write_summaries(writer, summaries)
    end = max(s["timestamp"] for s in summaries)
    local = {} if utc_offset_s is None else {"local_timestamp": end + utc_offset_s}
    total = sum(s["total_timer_time"] for s in summaries)
    return writer.message(
        "activity",
        timestamp=end,
        total_timer_time=total,
        num_sessions=len(parts),
        type="auto_multi_sport" if len(parts) > 1 else "manual",
        event="activity",
        event_type="stop",
        **local,
    )


def _write_summaries(writer: FitWriter, summaries: Sequence[dict[str, Any]]) -> None:
    for index, summary in enumerate(summaries):
        writer.message("lap", message_index=index, **summary)
    for index, summary in enumerate(summaries):
        writer.message("session", message_index=index, first_lap_index=index, num_laps=1, **summary)


def activities(parts: Sequence[Part], **options: Any) -> bytes:
    """An activity file of several sessions; options as for `write_activities`."""
    return write_activities(parts, **options).to_bytes()


def activity(
    start: datetime,
    sport: str = "running",
    sub_sport: str = "generic",
    samples: Mapping[str, Sequence[float] | np.ndarray] | None = None,
    *,
    pauses: tuple[tuple[float, float], ...] = (),
    utc_offset_s: int | None = None,
    serial: int = 12345,
    summary_first: bool = False,
    enhanced: bool = False,
    events: bool = True,
    rr_ms: Iterable[float] = (),
    **totals: float | None,
) -> bytes:
    """An activity file of one session; `totals` are the rest of `Part` (elapsed_s, timer_s, distance_m, ...)."""
    part = Part(start, sport, sub_sport, samples or {}, pauses, **totals)
    return activities(
        [part],
        utc_offset_s=utc_offset_s,
        serial=serial,
        summary_first=summary_first,
        enhanced=enhanced,
        events=events,
        rr_ms=rr_ms,
    )


def night(
    bedtime: datetime,
    stages: Sequence[tuple[float, str]],
    *,
    rmssd_ms: float | None = None,
    serial: int = 12345,
) -> bytes:
    """A sleep file: `stages` are (minutes, awake | light | deep | rem) from bedtime on; the last row ends the night."""
    writer = file_id(FitWriter(), bedtime, serial=serial, kind=49)
    moment = bedtime
    for minutes, stage in stages:
        writer.message("sleep_level", timestamp=moment, sleep_level=stage)
        moment += timedelta(minutes=minutes)
    writer.message("sleep_level", timestamp=moment, sleep_level="awake")
    writer.message("sleep_assessment", combined_awake_score=80, overall_sleep_score=70, awakenings_count=1)
    if rmssd_ms is not None:
        writer.message("hrv_status_summary", timestamp=moment, weekly_average=rmssd_ms, last_night_average=rmssd_ms)
    return writer.to_bytes()


def monitoring_day(
    begin: datetime,
    heart_rates: Sequence[tuple[float, int]] = (),
    *,
    resting_hr: int | None = None,
    utc_offset_s: int = 0,
    serial: int = 12345,
) -> bytes:
    """A monitoring file: `heart_rates` are (minutes after begin, bpm), written with 16-bit timestamps."""
    writer = file_id(FitWriter(), begin, serial=serial, kind="monitoring_b")
    local = fit_time(begin) + utc_offset_s
    writer.message("monitoring_info", timestamp=begin, local_timestamp=local)
    writer.message("monitoring", timestamp=begin, activity_type="sedentary", cycles=0)
    for minutes, bpm in heart_rates:
        low = (fit_time(begin) + round(minutes * 60)) & 0xFFFF
        writer.message("monitoring", timestamp_16=low, heart_rate=bpm)
    if resting_hr is not None:
        writer.message(
            "monitoring_hr_data",
            timestamp=begin + timedelta(hours=12),
            resting_heart_rate=resting_hr + 2,  # mean of seven days
            current_day_resting_heart_rate=resting_hr,
        )
    return writer.to_bytes()
