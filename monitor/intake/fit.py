"""A FIT file -> its facts: parts of a chain one by one, the fast decoder first, fitparse for whatever that refuses."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from monitor import words
from monitor.errors import Unreadable
from monitor.intake import fit_sessions
from monitor.intake.fit_bytes import Part, mend, split
from monitor.intake.fit_decoders import (
    FIT_EPOCH,
    CannotDecodeError,
    Decoded,
    FastDecoder,
    FitparseDecoder,
    Message,
    Messages,
    date_moment,
    number,
    positive,
    word,
)
from monitor.intake.plausible import BOUNDS, MORNING, MOST, from_epoch, is_plausible, local_date
from monitor.values import FileFacts, IntakeOptions, Recording
from rules.facts import Morning, Night
from rules.limits import default_limits
from rules.limits_schema_session import Pair

MOST_PARTS = 64
LARGE_BYTES = 1 << 20
NO_ACTIVITY = frozenset(
    {"device", "settings", "sport", "workout", "course", "schedules", "weight", "totals", "goals", "blood_pressure"}
    | {"segment", "segment_list", "exd_configuration"}
)


def read_fit(data: bytes, options: IntakeOptions) -> FileFacts:
    """Everything one FIT file says. Unreadable, with the reason, where nothing could be read of it."""
    parts, left_over = split(data, MOST_PARTS)
    read: list[FileFacts] = []
    refused: list[str] = []
    for part, decoded in _decoded(parts, refused):
        try:
            facts = _read_part(decoded, options)
            remarks = tuple(_in_part(part, len(parts), remark) for remark in facts.remarks)
            read.append(replace(facts, remarks=remarks))
        except Unreadable as reason:
            refused.append(_in_part(part, len(parts), reason))
    if not read:
        raise Unreadable(refused[0])
    return FileFacts(
        kind="fit",
        recordings=tuple(recording for facts in read for recording in facts.recordings),
        nights=tuple(night for facts in read for night in facts.nights),
        mornings=_by_day(morning for facts in read for morning in facts.mornings),
        remarks=(
            *(remark for facts in read for remark in facts.remarks),
            *refused,
            *([left_over] if left_over else []),
        ),
        damaged=bool(refused) or any(facts.damaged for facts in read),
    )


def _decoded(parts: list[Part], refused: list[str]) -> list[tuple[int, Decoded]]:
    """The files in a chain, by number. A part that does not begin as a file does goes on with the one before."""
    files: list[tuple[int, Decoded]] = []
    for index, part in enumerate(parts, start=1):
        try:
            decoded = _decode(part)
        except Unreadable as reason:
            refused.append(_in_part(index, len(parts), reason))
            continue
        if files and not decoded.is_empty and "file_id" not in decoded.messages:
            files[-1] = (files[-1][0], files[-1][1].then(decoded))
        else:
            files.append((index, decoded))
    return files


def _in_part(part: int, parts: int, reason: str | Unreadable) -> str:
    """A reason with the part of the chain that it is about, where there are several."""
    if parts > 1:
        return words.files.IN_PART.format(part=part, parts=parts, reason=reason)
    return reason.reason if isinstance(reason, Unreadable) else reason


def _read_part(decoded: Decoded, options: IntakeOptions) -> FileFacts:
    facts = facts_of(decoded, options)
    nothing = not (facts.recordings or facts.nights or facts.mornings)
    if nothing and decoded.damaged:
        came_before = decoded.records.count or decoded.messages.keys() - {"file_id"}
        remark = decoded.remark or words.files.NOTHING_RECORDED
        raise Unreadable(words.files.NOTHING_CAME_BEFORE.format(reason=remark) if came_before else remark)
    return facts


def _decode(part: Part) -> Decoded:
    """Messages by the fast decoder, as they are or with header and checksums mended; else what fitparse can read."""
    if len(part.data) <= part.header_size:
        raise Unreadable(words.files.CUT_OFF_AFTER_HEADER)
    fast = FastDecoder()
    _refuse_too_many(fast, part.data)
    try:
        return fast.decode(part.data)
    except CannotDecodeError as error:
        why = error.args[0]
    mended = mend(part)
    if mended is not None:
        data, wrong = mended
        cut = part.missing > 2
        try:
            remark = (words.files.READ_AS_FAR_AS_IT_GOES if cut else words.files.READ_ALL_THE_SAME).format(reason=wrong)
            return replace(fast.decode(data), remark=remark, damaged=cut)
        except CannotDecodeError as error:
            why = why if part.missing else error.args[0]
    slow = FitparseDecoder(default_limits().decoding.stream_seconds, MOST.points)
    decoded = slow.decode(mended[0][:-2] if mended is not None and part.unclosed else part.data)
    return decoded if decoded.remark else replace(decoded, remark=words.files.READ_WITH_FITPARSE.format(why=why))


def _refuse_too_many(fast: FastDecoder, data: bytes) -> None:
    if len(data) < LARGE_BYTES:
        return
    records = fast.count_records(data)
    if records is not None and records > MOST.points:
        raise Unreadable(words.files.TOO_MANY_RECORDS.format(records=records, points=MOST.points))


def facts_of(decoded: Decoded, options: IntakeOptions) -> FileFacts:
    """The facts in the messages of one FIT file, whichever decoder they come from."""
    messages = decoded.messages
    remarks = [decoded.remark] if decoded.remark else []
    kind = next((word(file_id, "type") for file_id in messages.get("file_id", ())), None)
    if kind in NO_ACTIVITY:
        remarks.append(words.files.FIT_KIND_NOT_JUDGED.format(kind=kind))
        return FileFacts("fit", remarks=tuple(remarks), damaged=decoded.damaged)
    found = _sessions(decoded, options, remarks)
    sessions, at_rest = _rest_apart(found, messages, options, remarks)
    slept = nights(messages, options)
    woken = _by_day((*mornings(messages, options), *at_rest))
    if not (sessions or slept or woken):
        remarks.append(monitoring_remark(messages, options) or words.files.NOTHING_RECORDED)
    return FileFacts("fit", sessions, slept, woken, (), tuple(remarks), decoded.damaged)


def _sessions(decoded: Decoded, options: IntakeOptions, remarks: list[str]) -> tuple[Recording, ...]:
    if not (decoded.records.count or any(decoded.messages.get(kind) for kind in ("session", "lap"))):
        return ()
    offset = fit_sessions.shift(decoded, options.timezone)
    if offset is None:
        raise Unreadable(words.files.NO_DATE)
    if offset:
        remarks.append(words.files.DEVICE_HAD_NO_DATE)
    return fit_sessions.recordings(decoded, offset, remarks)


def _rest_apart(
    found: tuple[Recording, ...], messages: Messages, options: IntakeOptions, remarks: list[str]
) -> tuple[tuple[Recording, ...], tuple[Morning, ...]]:
    """Sessions and morning values apart: a measurement of the heartbeat at rest is no session."""
    rr_ms = rr_intervals_ms(messages)
    if len(found) != 1 or not is_rest(found[0], rr_ms):
        return found, ()
    morning = morning_of(found[0], rr_ms, options)
    remarks.append(words.files.MEASURED_AT_REST)
    return (), () if morning is None else (morning,)


def _by_day(mornings: Iterable[Morning]) -> tuple[Morning, ...]:
    """One morning for each day; values of a later one replace those of an earlier one."""
    days: dict[object, Morning] = {}
    for morning in mornings:
        old = days.get(morning.date)
        days[morning.date] = morning if old is None else _merged(old, morning)
    return tuple(days.values())


def _merged(old: Morning, new: Morning) -> Morning:
    resting_hr = old.resting_hr if new.resting_hr is None else new.resting_hr
    rmssd_ms = old.rmssd_ms if new.rmssd_ms is None else new.rmssd_ms
    return Morning(new.date, resting_hr, rmssd_ms)


# Sleep, HRV and monitoring messages -> nights and mornings. A measurement of RR intervals at rest is a morning value
# and no session.
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
    return _dated(data, "current_day_resting_heart_rate", BOUNDS.resting_hr, options)


def _summaries(data: Iterable[Message], options: IntakeOptions) -> dict[date, float]:
    return _dated(data, "last_night_average", BOUNDS.rmssd, options)


def _dated(data: Iterable[Message], name: str, bounds: Pair, options: IntakeOptions) -> dict[date, float]:
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
