"""IEEE 1752.1 and Open mHealth documents: one, a list, or a series; with their header or bare.

The schemas check next to nothing (a sleep of -3 h is valid), so what must hold is checked here (one body at a
time). A document that is wrong costs itself alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from statistics import median
from typing import Any
from zoneinfo import ZoneInfo

from monitor import words
from monitor.errors import Unreadable
from monitor.intake import plausible
from monitor.intake.beats import rmssd_after_correction
from monitor.intake.plausible import BOUNDS, MORNING, MOST, Remarks, is_plausible
from monitor.intake.untrusted import parsed_json, quoted, shown
from monitor.values import FileFacts, IntakeOptions
from rules.facts import Morning, Night
from rules.limits import default_limits

# One IEEE 1752.1 or Open mHealth body -> a sleep, a pulse at rest or a beat. ValueError says what is wrong with it.

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
REST = ("on waking", "at rest", "during sleep")
"""Readings that count as resting heart rate, the best first."""
STATISTICS_OF_REST = (None, "average", "median", "minimum")
WHOLE_PERCENT = 100
LARGEST = 1e12  # no quantity in any unit of these schemas
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
        return _length_min(self.start, self.end)

    @property
    def is_night(self) -> bool:
        return self.length_min <= BOUNDS.night[1]


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
    raise ValueError(words.files.OTHER_MEASURES.format(known=known or "nothing"))


def _is_sleep(header: Mapping[str, Any], body: Mapping[str, Any]) -> bool:
    schema = header.get("schema_id")
    named = str(schema.get("name", "")).replace("_", "-") if isinstance(schema, dict) else ""
    keys = ("total_sleep_time", "sleep_duration", "time_in_bed", "sleep_stage_summary", *EPISODE_KEYS)
    return named == "sleep-episode" or any(key in body for key in keys)


def _sleep(body: Mapping[str, Any], timezone: str) -> Sleep | str:
    if body.get("descriptive_statistic") not in (None, "sum"):
        return words.files.SLEEP_STATISTIC_LEFT_OUT.format(
            descriptive_statistic=shown(body["descriptive_statistic"], 30)
        )
    start, end = _interval(body)
    length_min = _length_min(start, end)
    if length_min > BOUNDS.sleep[1] + 60:  # a calendar day may have 25 hours
        raise ValueError(words.files.FRAME_TOO_LONG.format(hours=length_min / 60))
    asleep_min = _asleep(body, length_min)
    main = body.get("is_main_sleep")
    local_start = start.astimezone(ZoneInfo(timezone))
    in_the_day = MORNING.nap_hours[0] <= local_start.hour < MORNING.nap_hours[1]
    if main is False or (main is None and length_min < MORNING.nap_minutes and in_the_day):
        return words.files.NAP_LEFT_OUT.format(local_start=local_start.date())
    told = Sleep(plausible.local_date(end, timezone), start, end, asleep_min, in_bed="time_in_bed" in body)
    return told if told.is_night else replace(told, date=plausible.local_date(start + (end - start) / 2, timezone))


def _length_min(start: datetime, end: datetime) -> float:
    return (end - start).total_seconds() / 60


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
        raise ValueError(words.files.ASLEEP_OUT_OF_RANGE.format(minutes=minutes))
    if minutes > length_min + SLACK_MIN:
        raise ValueError(words.files.ASLEEP_LONGER_THAN_FRAME.format(minutes=minutes, length_min=length_min))
    return minutes


def _efficiency(parts: Mapping[str, Any]) -> float | None:
    told = parts.get("sleep_efficiency_percentage", parts.get("sleep_maintenance_efficiency_percentage"))
    if told is None:
        return None
    percent = _number(told.get("value") if isinstance(told, dict) else told)
    if not 0 < percent <= WHOLE_PERCENT:
        raise ValueError(words.files.SLEEP_EFFICIENCY_OUT_OF_RANGE.format(percent=percent))
    return percent


def _pulse(body: Mapping[str, Any], timezone: str) -> Pulse | str:
    relations = (body.get("temporal_relationship_to_sleep"), body.get("temporal_relationship_to_physical_activity"))
    ranks = [REST.index(relation) for relation in relations if relation in REST]
    active = any(isinstance(relation, str) and relation not in REST for relation in relations)
    if not ranks or active or body.get("descriptive_statistic") not in STATISTICS_OF_REST:
        return words.files.HEART_RATES_NOT_AT_REST
    rate = body["heart_rate"]
    bpm = _number(rate.get("value") if isinstance(rate, dict) else rate)
    if not is_plausible(BOUNDS.resting_hr, bpm):
        least, most = BOUNDS.resting_hr
        raise ValueError(words.files.RESTING_HEART_RATE_OUT_OF_RANGE.format(bpm=bpm, least=least, most=most))
    return Pulse(plausible.local_date(_end(body), timezone), bpm, min(ranks))


def _beat(header: Mapping[str, Any], body: Mapping[str, Any], timezone: str) -> Beat | str:
    relation = body.get("temporal_relationship_to_physical_activity")
    if relation not in (None, "at rest") or body.get("descriptive_statistic") is not None:
        return words.files.RR_INTERVALS_NOT_SINGLE_BEATS
    rr_ms = _seconds(body["rr_interval"]) * 1000
    at = _end(body) if "effective_time_frame" in body else _moment(header.get("source_creation_date_time"))
    return Beat(plausible.local_date(at, timezone), at, rr_ms)


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
        raise ValueError(words.files.NO_TIME_INTERVAL)
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
        raise ValueError(words.files.TIME_BEYOND_CALENDAR) from None
    if end <= start:
        raise ValueError(words.files.ENDS_BEFORE_IT_STARTS)
    return start, end


def _moment(value: object) -> datetime:
    moment = plausible.parsed(value) if isinstance(value, str) else None
    if moment is None:
        raise ValueError(words.files.NO_DATE_AND_TIME.format(quoted=quoted(value, 40)))
    if moment.tzinfo is None:
        raise ValueError(words.files.WITHOUT_TIMEZONE.format(quoted=quoted(value, 40)))
    return plausible.in_utc(moment, "UTC")


def _seconds(value: object) -> float:
    unit = value.get("unit") if isinstance(value, dict) else None
    if not isinstance(value, dict) or not isinstance(unit, str) or unit not in SECONDS_IN:
        raise ValueError(words.files.NO_DURATION.format(quoted=quoted(value, 60)))
    return _number(value.get("value")) * SECONDS_IN[unit]


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) > LARGEST:
        raise ValueError(words.files.NO_NUMBER.format(quoted=quoted(value, 40)))
    return float(value)


NOT_READ = words.files.JSON_WITHOUT_KNOWN_DATA


@dataclass(slots=True)
class _Collected:
    """What the documents told, by local day."""

    sleeps: dict[date, list[Sleep]] = field(default_factory=dict)
    pulses: dict[date, list[Pulse]] = field(default_factory=dict)
    beats: dict[date, list[Beat]] = field(default_factory=dict)
    remarks: Remarks = field(default_factory=Remarks)
    damaged: bool = False


def read_mhealth(data: bytes, options: IntakeOptions) -> FileFacts:
    return read_documents(parsed_json(data), options)


def read_documents(document: object, options: IntakeOptions) -> FileFacts:
    """Nights and mornings of all documents. Unreadable where there are none."""
    collected = _Collected()
    count = 0
    for count, (header, body) in enumerate(_documents(document), start=1):
        try:
            _take(measure_of(header, body, options.timezone), collected)
        except ValueError as error:
            collected.damaged = True
            collected.remarks.add(words.files.DOCUMENT_LEFT_OUT.format(count=count, error=error))
    nights = tuple(_night(day, sleeps) for day, sleeps in sorted(collected.sleeps.items()))
    mornings = tuple(_mornings(collected))
    if not nights and not mornings:
        raise Unreadable(
            collected.remarks.first() if collected.remarks else NOT_READ if count else words.files.EMPTY_JSON_DOCUMENT
        )
    return FileFacts(
        "mhealth", nights=nights, mornings=mornings, remarks=collected.remarks.all(), damaged=collected.damaged
    )


def _documents(document: object) -> Iterator[tuple[Mapping[str, Any], Mapping[str, Any]]]:
    """Header and body of each data point; a series has one header for many bodies, a bare body has none."""
    for entry in _several(document):
        if not isinstance(entry, dict):
            raise Unreadable(words.files.JSON_OF_OTHER_KIND.format(reason=NOT_READ, entry=shown(entry, 40)))
        body = entry.get("body", entry)
        header = entry.get("header")
        for part in _several(body):
            yield header if isinstance(header, dict) else {}, part if isinstance(part, dict) else {}


def _several(value: object) -> list[Any]:
    """One or many as many, within the limit."""
    many = value if isinstance(value, list) else [value]
    if len(many) > MOST.documents:
        raise Unreadable(words.files.TOO_MANY_DOCUMENTS.format(documents=MOST.documents))
    return many


def _take(measure: Sleep | Pulse | Beat | str, collected: _Collected) -> None:
    match measure:
        case Sleep():
            collected.sleeps.setdefault(measure.date, []).append(measure)
        case Pulse():
            collected.pulses.setdefault(measure.date, []).append(measure)
        case Beat():
            collected.beats.setdefault(measure.date, []).append(measure)
        case str():
            collected.remarks.add(measure)


def _night(day: date, sleeps: list[Sleep]) -> Night:
    """One night of a day: the longest sleep told, and the time in bed where told, else the sleep's own times."""
    in_bed = [sleep for sleep in sleeps if sleep.in_bed]
    times = max(in_bed or [sleep for sleep in sleeps if sleep.is_night] or sleeps, key=lambda sleep: sleep.length_min)
    return Night(
        date=day,
        bedtime=times.start if times.is_night else None,
        wake=times.end if times.is_night else None,
        total_sleep_min=max((one.asleep_min for one in sleeps if one.asleep_min is not None), default=None),
    )


def _mornings(collected: _Collected) -> Iterator[Morning]:
    """Resting heart rate: the median of the readings of the best kind of the day. RMSSD of the day's intervals."""
    for day in sorted(collected.pulses.keys() | collected.beats.keys()):
        pulses = collected.pulses.get(day, [])
        best = min((pulse.rank for pulse in pulses), default=None)
        rates = [pulse.rate for pulse in pulses if pulse.rank == best]
        rmssd = _rmssd(collected.beats.get(day, []), day, collected)
        if rates or rmssd is not None:
            yield Morning(date=day, resting_hr=median(rates) if rates else None, rmssd_ms=rmssd)


def _rmssd(beats: list[Beat], day: date, collected: _Collected) -> float | None:
    if not beats:
        return None
    least = default_limits().plausible.least_beats
    if len(beats) < least:
        collected.remarks.add(words.files.TOO_FEW_RR_INTERVALS_OF_DAY.format(day=day, beats=len(beats), least=least))
        return None
    rmssd = rmssd_after_correction([beat.rr_ms for beat in sorted(beats, key=lambda beat: beat.at)])
    return round(rmssd, 3) if rmssd is not None and is_plausible(BOUNDS.rmssd, rmssd) else None
