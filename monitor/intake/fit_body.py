"""FIT sleep, HRV and monitoring messages -> nights and mornings."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from monitor import words
from monitor.intake.fit_decoders import FIT_EPOCH, Message, Messages, date_moment, number, positive, word
from monitor.intake.plausible import BOUNDS, MORNING, from_epoch, is_plausible, local_date
from monitor.values import IntakeOptions, Recording
from rules.facts import Morning, Night
from rules.limits_schema_session import Pair

# A measurement of RR intervals at rest is a morning value and no session.

NO_BEAT_SECONDS = 65.0  # 65.535 is padding
MOVING_SPORTS = frozenset({"running", "walking", "hiking", "cycling", "swimming", "rowing"})


def rr_intervals_ms(messages: Messages) -> list[float]:
    """All intervals between beats in file order; padding left out."""
    times = (message.get("time") for message in messages.get("hrv", ()))
    seconds = (second for time in times for second in (time if isinstance(time, list | tuple) else (time,)))
    return [second * 1000.0 for second in seconds if isinstance(second, int | float) and 0 < second < NO_BEAT_SECONDS]


def is_rest(recording: Recording, rr_ms: list[float]) -> bool:
    """Whether a recording is of somebody who lay, sat or stood still to have the heartbeat measured."""
    still = recording.distance_m is None or recording.distance_m <= MORNING.resting_metres
    cadence = recording.samples.get("cadence_spm")
    steps = cadence is not None and float(np.nansum(cadence > 0)) > 0.1 * len(cadence)
    return (
        len(rr_ms) >= BOUNDS.least_beats
        and recording.elapsed_s <= MORNING.resting_seconds
        and still
        and not steps
        and recording.sport not in MOVING_SPORTS
        and sum(rr_ms) >= 500.0 * recording.elapsed_s  # beats for half of the time at least
    )


def morning_of(recording: Recording, rr_ms: list[float], options: IntakeOptions) -> Morning | None:
    """RMSSD of a resting measurement before noon; None later or where too many beats are artefacts."""
    from monitor.intake.beats import rmssd_after_correction  # noqa: PLC0415 - few files need it

    local = recording.start.astimezone(ZoneInfo(options.timezone))
    if local.hour >= MORNING.before_hour:
        return None
    rmssd = rmssd_after_correction(rr_ms)
    return None if rmssd is None else Morning(local.date(), rmssd_ms=rmssd)


SLEEP_EVENT = 74  # number of the event that begins and ends a night; the profile has no word for it
ASLEEP = frozenset({"light", "deep", "rem"})
EVENING = timedelta(hours=24 - MORNING.evening_hour)


def mornings(messages: Messages, options: IntakeOptions) -> tuple[Morning, ...]:
    """Resting heart rate of the day and RMSSD of the night, by local date; of several on a day the latest."""
    resting = _resting_rates(messages.get("monitoring_hr_data", ()), options)
    rmssd = _nightly_means(messages.get("hrv_value", ()), options)
    rmssd |= _summaries(messages.get("hrv_status_summary", ()), options)
    return tuple(Morning(day, resting.get(day), rmssd.get(day)) for day in sorted(resting.keys() | rmssd.keys()))


def _resting_rates(data: Iterable[Message], options: IntakeOptions) -> dict[date, float]:
    """Field 1, the day's own rate; field 0 is already a mean of seven days."""
    return _by_day(data, "current_day_resting_heart_rate", BOUNDS.resting_hr, options)


def _summaries(data: Iterable[Message], options: IntakeOptions) -> dict[date, float]:
    return _by_day(data, "last_night_average", BOUNDS.rmssd, options)


def _by_day(data: Iterable[Message], name: str, bounds: Pair, options: IntakeOptions) -> dict[date, float]:
    dated = [(date_moment(row, "timestamp"), number(row, name)) for row in data]
    known = sorted((at, v) for at, v in dated if at is not None and v is not None and is_plausible(bounds, v))
    return {local_date(from_epoch(at), options.timezone): value for at, value in known}


def _nightly_means(data: Iterable[Message], options: IntakeOptions) -> dict[date, float]:
    """Means of the five-minute values of a night, for devices that give no summary of it."""
    nights: dict[date, list[float]] = {}
    for row in data:
        at, value = date_moment(row, "timestamp"), number(row, "value")
        if at is not None and value is not None and is_plausible(BOUNDS.rmssd, value):
            nights.setdefault(local_date(from_epoch(at) + EVENING, options.timezone), []).append(value)
    return {day: float(np.mean(values)) for day, values in nights.items() if len(values) >= MORNING.least_values}


@dataclass(frozen=True, slots=True)
class _Sleep:
    bedtime: float
    wake: float
    asleep_s: float


def nights(messages: Messages, options: IntakeOptions) -> tuple[Night, ...]:
    """Sleeps by the local day of waking; of several on one day, the longest."""
    stages = [(date_moment(row, "timestamp"), word(row, "sleep_level")) for row in messages.get("sleep_level", ())]
    known = sorted((at, stage) for at, stage in stages if at is not None and stage is not None)
    longest: dict[date, Night] = {}
    for sleep in _sleeps(known, _sleep_events(messages)):
        minutes = round(sleep.asleep_s / 60.0, 2)
        day = local_date(from_epoch(sleep.wake), options.timezone)
        if minutes >= max(BOUNDS.night[0], longest[day].total_sleep_min or 0.0 if day in longest else 0.0):
            longest[day] = Night(day, from_epoch(sleep.bedtime), from_epoch(sleep.wake), minutes)
    return tuple(longest[day] for day in sorted(longest))


def _sleep_events(messages: Messages) -> list[float]:
    """Moments at which the device says that a sleep began."""
    begun = []
    for event in messages.get("event", ()):
        if event.get("event") == SLEEP_EVENT and event.get("event_type") in ("start", 0):
            at = date_moment(event, "timestamp")
            if at is not None:
                begun.append(at)
    return begun


def _sleeps(stages: list[tuple[float, str]], begun: list[float]) -> list[_Sleep]:
    found = []
    first = 0
    for i in range(1, len(stages) + 1):
        if i == len(stages) or stages[i][0] - stages[i - 1][0] > MORNING.new_night_seconds:
            found.append(_sleep(stages[first:i], begun))
            first = i
    return [sleep for sleep in found if sleep is not None]


def _sleep(stages: list[tuple[float, str]], begun: list[float]) -> _Sleep | None:
    """One sleep. A row tells the stage up to its moment where the beginning of sleep is known from an event before it,
    and where the last row is a stage of sleep; else the stage from its moment on, the last row ending the sleep.
    """
    earlier = [at for at in begun if 0 <= stages[0][0] - at <= MORNING.new_night_seconds]
    until = bool(earlier) and max(earlier) < stages[0][0]
    if until:
        moments = [max(earlier), *(at for at, _ in stages)]
        labels = [stage for _, stage in stages]
    else:
        moments = [at for at, _ in stages]
        labels = [stage for _, stage in (stages[1:] if stages[-1][1] in ASLEEP else stages[:-1])]
    spans = list(zip(moments, moments[1:], labels, strict=False))
    asleep = [(since, to) for since, to, stage in spans if stage in ASLEEP]
    if not asleep:
        return None
    bedtime = moments[0] if until else asleep[0][0]
    return _Sleep(bedtime, asleep[-1][1], sum(to - since for since, to in asleep))


def rolled_monitoring(messages: Messages) -> list[tuple[float, Message]]:
    """Monitoring messages with full moments: 16-bit ones are rolled on the last full one."""
    full = next((at for m in messages.get("monitoring_info", ()) if (at := date_moment(m, "timestamp"))), None)
    if full is None:
        full = next((at for m in messages.get("file_id", ()) if (at := date_moment(m, "time_created"))), None)
    found = []
    for message in messages.get("monitoring", ()):
        low, whole = number(message, "timestamp_16"), date_moment(message, "timestamp")
        if whole is not None:
            full = whole
        elif low is not None and full is not None:
            full += (int(low) - int(full - FIT_EPOCH)) & 0xFFFF
        else:
            continue
        found.append((full, message))
    return found


def monitoring_remark(messages: Messages, options: IntakeOptions) -> str | None:
    """What an all-day file without a resting heart rate held, for the ledger."""
    rolled = rolled_monitoring(messages)
    if not rolled:
        return None
    first, last = min(at for at, _ in rolled), max(at for at, _ in rolled)
    days = sorted({local_date(from_epoch(at), options.timezone).isoformat() for at in (first, last)})
    rates = sum(positive(message, "heart_rate") is not None for _, message in rolled)
    return words.files.MONITORING.format(days=" to ".join(days), rates=rates or "no")
