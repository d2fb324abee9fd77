"""One IEEE 1752.1 or Open mHealth body -> a sleep, a pulse at rest or a beat. ValueError says what is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from monitor.intake import moments
from monitor.intake.plausible import BOUNDS, is_plausible
from monitor.intake.shown import quoted, shown

SECONDS_IN = {
    "ps": 1e-12,
    "ns": 1e-9,
    "us": 1e-6,
    "ms": 1e-3,
    "sec": 1.0,
    "min": 60.0,
    "h": 3600.0,
    "d": 86400.0,
    "wk": 604800.0,
}
EPISODE_KEYS = ("sleep_efficiency_percentage", "sleep_maintenance_efficiency_percentage", "latency_to_sleep_onset",
                "latency_to_arising", "wake_after_sleep_onset", "number_of_awakenings")  # fmt: skip
REST = {"on waking": 0, "at rest": 1, "during sleep": 2}
"""Readings that count as resting heart rate, the best first."""
STATISTICS_OF_REST = (None, "average", "median", "minimum")
LONGEST_NIGHT_MIN = 960.0  # a longer frame is a calendar day, not a night
NAP_BELOW_MIN = 180.0
NAP_HOURS = range(9, 20)
SLACK_MIN = 1.0


@dataclass(frozen=True, slots=True)
class Sleep:
    date: date
    start: datetime
    end: datetime
    asleep_min: float | None
    in_bed: bool  # the frame is the time in bed, not the sleep

    @property
    def length_min(self) -> float:
        return (self.end - self.start).total_seconds() / 60

    @property
    def is_night(self) -> bool:
        return self.length_min <= LONGEST_NIGHT_MIN


@dataclass(frozen=True, slots=True)
class Pulse:
    date: date
    rate: float
    rank: int


@dataclass(frozen=True, slots=True)
class Beat:
    date: date
    at: datetime
    rr_ms: float


def measure_of(header: Mapping[str, Any], body: Mapping[str, Any], timezone: str) -> Sleep | Pulse | Beat | str:
    """What a body measures; a sentence where it is well formed but of no use here."""
    if "heart_rate" in body:
        return _pulse(body, timezone)
    if "rr_interval" in body:
        return _beat(header, body, timezone)
    if _is_sleep(header, body):
        return _sleep(body, timezone)
    known = ", ".join(shown(key, 40) for key in list(body)[:5])
    raise ValueError(f"no sleep, resting heart rate or RR intervals in it, only {known or 'nothing'}")


def _is_sleep(header: Mapping[str, Any], body: Mapping[str, Any]) -> bool:
    schema = header.get("schema_id")
    named = str(schema.get("name", "")).replace("_", "-") if isinstance(schema, dict) else ""
    keys = ("total_sleep_time", "sleep_duration", "time_in_bed", "sleep_stage_summary", *EPISODE_KEYS)
    return named == "sleep-episode" or any(key in body for key in keys)


def _sleep(body: Mapping[str, Any], timezone: str) -> Sleep | str:
    if body.get("descriptive_statistic") not in (None, "sum"):
        return f"sleep told as {shown(body['descriptive_statistic'], 30)} of a time, not of a night, is left out"
    start, end = _interval(body)
    length_min = (end - start).total_seconds() / 60
    if length_min > BOUNDS.sleep[1] + 60:  # a calendar day may have 25 hours
        raise ValueError(f"a frame of {length_min / 60:.0f} hours is no night")
    asleep_min = _asleep(body, length_min)
    main = body.get("is_main_sleep")
    local_start = start.astimezone(ZoneInfo(timezone))
    if main is False or (main is None and length_min < NAP_BELOW_MIN and local_start.hour in NAP_HOURS):
        return f"a nap on {local_start.date()} is left out"
    reference = end if length_min <= LONGEST_NIGHT_MIN else start + (end - start) / 2
    return Sleep(moments.local_date(reference, timezone), start, end, asleep_min, in_bed="time_in_bed" in body)


def _asleep(body: Mapping[str, Any], length_min: float) -> float | None:
    """Minutes asleep as told, else by the efficiency, which both standards define as sleep over the frame."""
    summary = body.get("sleep_stage_summary")
    parts = summary if isinstance(summary, dict) else body
    told = parts.get("total_sleep_time", parts.get("sleep_duration"))
    efficiency = _efficiency(parts)
    if told is None:
        return None if efficiency is None or "time_in_bed" in body else length_min * efficiency / 100
    minutes = _seconds(told) / 60
    if not is_plausible(BOUNDS.sleep, minutes) or minutes <= 0:
        raise ValueError(f"{minutes:g} minutes asleep")
    if minutes > length_min + SLACK_MIN:
        raise ValueError(f"{minutes:g} minutes asleep in a frame of {length_min:g}")
    return minutes


def _efficiency(parts: Mapping[str, Any]) -> float | None:
    told = parts.get("sleep_efficiency_percentage", parts.get("sleep_maintenance_efficiency_percentage"))
    if told is None:
        return None
    percent = _number(told.get("value") if isinstance(told, dict) else told)
    if not 0 < percent <= 100:
        raise ValueError(f"a sleep efficiency of {percent:g} %")
    return percent


def _pulse(body: Mapping[str, Any], timezone: str) -> Pulse | str:
    relations = (body.get("temporal_relationship_to_sleep"), body.get("temporal_relationship_to_physical_activity"))
    ranks = [REST[relation] for relation in relations if isinstance(relation, str) and relation in REST]
    active = any(isinstance(relation, str) and relation not in REST for relation in relations)
    if not ranks or active or body.get("descriptive_statistic") not in STATISTICS_OF_REST:
        return "heart rates that are not said to be at rest are left out"
    rate = body["heart_rate"]
    bpm = _number(rate.get("value") if isinstance(rate, dict) else rate)
    if not is_plausible(BOUNDS.resting_hr, bpm):
        least, most = BOUNDS.resting_hr
        raise ValueError(f"a resting heart rate of {bpm:g}: must be from {least:g} to {most:g}")
    return Pulse(moments.local_date(_end(body), timezone), bpm, min(ranks))


def _beat(header: Mapping[str, Any], body: Mapping[str, Any], timezone: str) -> Beat | str:
    relation = body.get("temporal_relationship_to_physical_activity")
    if relation not in (None, "at rest") or body.get("descriptive_statistic") is not None:
        return "RR intervals that are not single beats at rest are left out"
    rr_ms = _seconds(body["rr_interval"]) * 1000
    at = _end(body) if "effective_time_frame" in body else _moment(header.get("source_creation_date_time"))
    return Beat(moments.local_date(at, timezone), at, rr_ms)


def _end(body: Mapping[str, Any]) -> datetime:
    """When a measurement was made, or ended."""
    frame = body.get("effective_time_frame")
    if isinstance(frame, dict) and "date_time" in frame:
        return _moment(frame["date_time"])
    return _interval(body)[1]


def _interval(body: Mapping[str, Any]) -> tuple[datetime, datetime]:
    """Start and end from two of start, end and duration; the end must come after the start."""
    frame = body.get("effective_time_frame")
    interval = frame.get("time_interval") if isinstance(frame, dict) else None
    if not isinstance(interval, dict):
        raise ValueError("no time interval")
    try:
        if "start_date_time" in interval and "end_date_time" in interval:
            start, end = _moment(interval["start_date_time"]), _moment(interval["end_date_time"])
        elif "start_date_time" in interval:
            start = _moment(interval["start_date_time"])
            end = start + timedelta(seconds=_seconds(interval.get("duration")))
        else:
            end = _moment(interval.get("end_date_time"))
            start = end - timedelta(seconds=_seconds(interval.get("duration")))
    except OverflowError:
        raise ValueError("a time beyond the calendar") from None
    if end <= start:
        raise ValueError("it ends before it starts")
    return start, end


def _moment(value: object) -> datetime:
    moment = moments.parsed(value) if isinstance(value, str) else None
    if moment is None:
        raise ValueError(f"{quoted(value, 40)} is no date and time")
    if moment.tzinfo is None:
        raise ValueError(f"{quoted(value, 40)} has no timezone")
    return moments.in_utc(moment, "UTC")


def _seconds(value: object) -> float:
    unit = value.get("unit") if isinstance(value, dict) else None
    if not isinstance(value, dict) or not isinstance(unit, str) or unit not in SECONDS_IN:
        raise ValueError(f"{quoted(value, 60)} is no length of time")
    return _number(value.get("value")) * SECONDS_IN[unit]


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) > 1e12:
        raise ValueError(f"{quoted(value, 40)} is no number")
    return float(value)
