"""FIT messages -> recordings, one for each session; of the transitions of a multisport event only those run through."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import chain, groupby
from zoneinfo import ZoneInfo

import numpy as np

from monitor import words
from monitor.intake.fit_columns import (
    MOST_SPREAD_SECONDS,
    RIDES,
    Rows,
    has_running_form,
    rows,
    samples_of,
    with_lengths,
    with_stored_heart_rate,
)
from monitor.intake.fit_decoders import (
    FIRST_DATE,
    FIT_EPOCH,
    Decoded,
    Message,
    Messages,
    Records,
    date_moment,
    moment,
    number,
    positive,
    word,
)
from monitor.intake.plausible import MOST, from_epoch
from monitor.intake.track import Floats, Lap, pressed
from monitor.values import Recording
from rules.limits import default_limits

# What the clock of a FIT device says: dates or a count from its own start, and how far it is from UTC.

QUARTER_SECONDS = 900
MOST_OFFSET_SECONDS = 14 * 3600  # UTC+14 is the farthest from UTC that clocks on earth are


def utc_offset(messages: Messages) -> int | None:
    """Local clock minus UTC in seconds, to the quarter of an hour; None where the file does not say."""
    for activity in messages.get("activity", ()):
        utc, local = date_moment(activity, "timestamp"), date_moment(activity, "local_timestamp")
        if utc is not None and local is not None:
            offset = round((local - utc) / QUARTER_SECONDS) * QUARTER_SECONDS
            return offset if abs(offset) <= MOST_OFFSET_SECONDS else None
    return None


def shift(decoded: Decoded, timezone: str) -> float | None:
    """Seconds that make the file's moments dates: 0 where they are, None where nothing in the file gives a date."""
    messages = decoded.messages
    seen = _moments(messages, decoded.records)
    if not len(seen) or bool((seen >= FIRST_DATE).any()):
        return 0.0
    for correlation in messages.get("timestamp_correlation", ()):
        utc, system = date_moment(correlation, "timestamp"), moment(correlation, "system_timestamp")
        if utc is not None and system is not None:
            return utc - system
    for activity in messages.get("activity", ()):
        local, relative = date_moment(activity, "local_timestamp"), moment(activity, "timestamp")
        if local is not None and relative is not None:
            return _as_utc(local, timezone) - relative
    return None


def _moments(messages: Messages, records: Records) -> Floats:
    kinds = [(kind, name) for kind in ("session", "lap") for name in ("start_time", "timestamp")]
    found = [moment(message, name) for kind, name in kinds for message in messages.get(kind, ())]
    recorded = records.column("timestamp")
    return np.concatenate(([value for value in found if value is not None], recorded[recorded >= FIT_EPOCH]))


def _as_utc(local: float, timezone: str) -> float:
    """A moment that a local clock showed, told as if it were UTC -> the moment itself."""
    shown = datetime.fromtimestamp(local, UTC).replace(tzinfo=ZoneInfo(timezone))
    return shown.timestamp()


# What a FIT file says of each session in sum: its session messages, else its laps, else nothing but its records.


@dataclass(frozen=True, slots=True)
class SessionSummary:
    """One session as the file sums it up; None where it says nothing."""

    start: float  # seconds since 1970
    sport: str = "generic"
    sub_sport: str = "generic"
    elapsed_s: float | None = None
    timer_s: float | None = None
    distance_m: float | None = None
    ascent_m: float | None = None
    descent_m: float | None = None
    avg_hr_bpm: float | None = None
    max_hr_bpm: float | None = None
    pool_length_m: float | None = None


def summaries(messages: Messages, rows: Rows, shift: float) -> list[SessionSummary]:
    """Sessions in order of time, transitions among them; at least one where anything was recorded."""
    found = [_of_session(session, messages, rows, shift) for session in messages.get("session", ())]
    known = sorted(dict.fromkeys(s for s in found if s is not None), key=lambda s: s.start)
    legs = [s for s in known if s.sport != "multisport"] or known
    return legs or _of_laps(messages, rows, shift) or _of_records(messages, rows)


def _of_session(session: Message, messages: Messages, rows: Rows, shift: float) -> SessionSummary | None:
    elapsed, timer = _seconds(session, "total_elapsed_time"), _seconds(session, "total_timer_time")
    start, end = moment(session, "start_time"), moment(session, "timestamp")
    if start is None and end is not None:
        start = end - (elapsed or timer or 0.0)
    if start is not None:
        start += shift
    elif len(rows.at):
        start = float(rows.at[0])
    else:
        return None
    sport, sub_sport = _sport(session, messages)
    return SessionSummary(
        start=start,
        sport=sport,
        sub_sport=sub_sport,
        elapsed_s=elapsed,
        timer_s=timer,
        distance_m=positive(session, "total_distance"),
        ascent_m=number(session, "total_ascent"),
        descent_m=number(session, "total_descent"),
        avg_hr_bpm=positive(session, "avg_heart_rate"),
        max_hr_bpm=positive(session, "max_heart_rate"),
        pool_length_m=positive(session, "pool_length"),
    )


def _seconds(message: Message, name: str) -> float | None:
    value = positive(message, name)
    return value if value is not None and value <= MOST_SPREAD_SECONDS else None


def _sport(message: Message, messages: Messages) -> tuple[str, str]:
    """Label of a session or lap; where it has none, that of a lap or of the settings the file was recorded with."""
    for candidate in chain((message,), messages.get("lap", ()), messages.get("sport", ())):
        sport = word(candidate, "sport")
        if sport is not None and sport != "all":
            return sport, word(candidate, "sub_sport") or "generic"
    return "generic", "generic"


def _of_laps(messages: Messages, rows: Rows, shift: float) -> list[SessionSummary]:
    """One session for laps of the same sport that follow each other."""
    by_sport = groupby(_laps(messages, shift), key=lambda lap: _sport(lap[1], messages))
    groups = [list(group) for _, group in by_sport]
    return [_of_group(group, messages, rows, last=group is groups[-1]) for group in groups]


def _laps(messages: Messages, shift: float) -> list[tuple[float, Message]]:
    """Those that tell when they began, in that order."""
    begun = [(moment(lap, "start_time"), lap) for lap in messages.get("lap", ())]
    return sorted(((at + shift, lap) for at, lap in begun if at is not None), key=lambda lap: lap[0])


def _of_group(group: list[tuple[float, Message]], messages: Messages, rows: Rows, *, last: bool) -> SessionSummary:
    laps = [lap for _, lap in group]
    start = group[0][0]
    end = max(begun + (_seconds(lap, "total_elapsed_time") or 0.0) for begun, lap in group)
    timers = [_seconds(lap, "total_timer_time") for lap in laps]
    complete = not (last and (rows.at > end + UNCLOSED_SECONDS).any())
    sport, sub_sport = _sport(laps[0], messages)
    return SessionSummary(
        start=start,
        sport=sport,
        sub_sport=sub_sport,
        elapsed_s=end - start if complete else None,
        timer_s=sum(t for t in timers if t) if complete and all(timers) else None,
        distance_m=_total(laps, "total_distance") if complete else None,
        ascent_m=_total(laps, "total_ascent") if complete else None,
        descent_m=_total(laps, "total_descent") if complete else None,
        avg_hr_bpm=_mean_rate(laps),
        max_hr_bpm=max((rate for lap in laps if (rate := positive(lap, "max_heart_rate"))), default=None),
    )


def _total(laps: list[Message], name: str) -> float | None:
    known = [value for lap in laps if (value := number(lap, name)) is not None]
    return sum(known) if known else None


def _mean_rate(laps: list[Message]) -> float | None:
    weighted = [
        (rate, _seconds(lap, "total_timer_time") or 1.0) for lap in laps if (rate := positive(lap, "avg_heart_rate"))
    ]
    seconds = sum(weight for _, weight in weighted)
    return sum(rate * weight for rate, weight in weighted) / seconds if weighted else None


def _of_records(messages: Messages, rows: Rows) -> list[SessionSummary]:
    if not len(rows.at):
        return []
    sport, sub_sport = _sport({}, messages)
    return [SessionSummary(float(rows.at[0]), sport, sub_sport)]


UNCLOSED_SECONDS = 5.0  # records going on so long after the last lap: it was never closed
SLACK_SECONDS = 2.0  # rounding between a summary and the records under it
LOST_SECONDS = 12 * 3600.0  # records so far outside of their only session's times still belong to it
RESUMED_SECONDS = 60.0  # records going on so long after a stop: the start that ended it was lost
PRESSED = (None, "manual")  # a trigger that nobody wrote tells nothing against it
BAROMETER = 4  # of the FIT profile's local device types
Backoff = tuple[tuple[float, float], ...]


def recordings(decoded: Decoded, shift: float, remarks: list[str]) -> tuple[Recording, ...]:
    """All sessions of one FIT file, in order of time."""
    messages = decoded.messages
    all_rows, dropped = rows(decoded.records, shift)
    if dropped:
        remarks.append(words.files.RECORDS_LEFT_OUT.format(dropped=dropped))
    all_rows = with_stored_heart_rate(all_rows, messages.get("hr", []), shift)
    legs = summaries(messages, all_rows, shift)[: MOST.recordings]
    found = []
    for index, leg in enumerate(legs):
        own, leg = _own_rows(leg, legs, index, all_rows)  # noqa: PLW2901 - its start may move to its first record
        if leg.sport == "transition" and not _was_run(own):
            continue
        if leg.sport in RIDES and has_running_form(decoded.records, own, shift):
            leg = replace(leg, sport="running", sub_sport="generic")  # noqa: PLW2901 - the leg as it counts from here
            remarks.append(words.files.RIDE_IS_A_RUN)
        recording = _recording(leg, own, _distance_before(all_rows, own), messages, shift)
        if recording is not None:
            found.append(recording)
    return tuple(found)


def _was_run(own: Rows) -> bool:
    """Whether a transition holds as much at a runner's speed or step rate as counts as running."""
    limits = default_limits()
    speed, turns = own.columns["speed_mps"], own.columns["cadence_spm"]
    fast = speed > limits.gait.border_mps
    if (turns > 0).any():
        fast &= np.isnan(turns) | (2 * turns >= limits.gait.fewest_running_spm)
    seconds = np.clip(np.diff(own.at, append=own.at[-1:] + 1.0), 0.0, limits.cleaning.longest_gap_s)
    return float(seconds[fast].sum()) >= limits.no_running.least_seconds


def _own_rows(
    leg: SessionSummary, legs: list[SessionSummary], index: int, all_rows: Rows
) -> tuple[Rows, SessionSummary]:
    """The records of a session, and the session with its start moved to them where they tell otherwise."""
    following = legs[index + 1].start - 0.001 if index + 1 < len(legs) else None
    elapsed = leg.elapsed_s or leg.timer_s
    last = leg.start + elapsed + (SLACK_SECONDS if following is not None else LOST_SECONDS) if elapsed else np.inf
    if following is not None:
        last = min(last, following)
    own = all_rows.between(leg.start - LOST_SECONDS if index == 0 else leg.start, last)
    only = len(legs) == 1 and len(all_rows.at) > 0
    if only and (not len(own.at) or own.at[0] - leg.start > max(elapsed or 0.0, 600.0)):
        own = all_rows  # a start that none of its records is near
        return own, replace(leg, start=float(own.at[0]))
    if len(own.at) and own.at[0] < leg.start:
        return own, replace(leg, start=float(own.at[0]))
    return own, leg


def _recording(leg: SessionSummary, own: Rows, before_m: float, messages: Messages, shift: float) -> Recording | None:
    if leg.sport == "swimming":
        own = with_lengths(own, messages.get("length", []), leg.pool_length_m, shift)
    samples = samples_of(own, leg.start, leg.sport, leg.sub_sport)
    if "distance_m" in samples:
        samples["distance_m"] = samples["distance_m"] - before_m
    last_s = float(samples["t_s"][-1]) if len(samples["t_s"]) else 0.0
    elapsed_s = max(leg.elapsed_s or 0.0, last_s, leg.timer_s or 0.0)
    if not elapsed_s and not len(own.at):
        return None
    pauses = _pauses(messages, shift, leg.start, elapsed_s, last_s, own)
    running_s = elapsed_s - sum(to - since for since, to in pauses)
    return Recording(
        start=from_epoch(leg.start),
        end=from_epoch(leg.start + elapsed_s),
        sport=leg.sport,
        sub_sport=leg.sub_sport,
        timer_s=leg.timer_s if leg.timer_s is not None else running_s,
        elapsed_s=elapsed_s,
        distance_m=leg.distance_m if leg.distance_m is not None else _way(samples.get("distance_m")),
        samples=samples,
        pauses=pauses,
        lap_marks_s=_lap_marks(messages, shift, leg.start, elapsed_s),
        barometer=_barometer(messages),
        utc_offset_s=utc_offset(messages),
        ascent_m=leg.ascent_m,
        descent_m=leg.descent_m,
        avg_hr_bpm=leg.avg_hr_bpm,
        max_hr_bpm=leg.max_hr_bpm,
        format="fit",
        device=_device(messages),
    )


def _way(distance: Floats | None) -> float | None:
    return None if distance is None else float(np.nanmax(distance) - np.nanmin(distance))


def _distance_before(all_rows: Rows, own: Rows) -> float:
    """What the device had counted before a later session, where it counts on; 0 where it began again."""
    if not len(own.at):
        return 0.0
    before, within = all_rows.columns["distance_m"][all_rows.at < own.at[0]], own.columns["distance_m"]
    before, within = before[~np.isnan(before)], within[~np.isnan(within)]
    if not len(before) or not len(within) or within[0] < before[-1]:
        return 0.0
    return float(before[-1])


def _pauses(messages: Messages, shift: float, start: float, elapsed_s: float, last_s: float, own: Rows) -> Backoff:
    """Stretches with the timer stopped, on the session's clock."""
    stretches: list[tuple[float, float]] = []
    stopped: float | None = None
    for at, kind in _timer_events(messages):
        second = at + shift - start
        if kind == "start" and stopped is not None:
            stretches.append((stopped, second))
            stopped = None
        elif kind.startswith("stop") and stopped is None:
            stopped = second
    if stopped is not None:
        after = own.at[own.at > start + stopped + 1] - start
        resumed = last_s > stopped + RESUMED_SECONDS
        stretches.append((stopped, float(after[0]) if resumed else _end(stopped, elapsed_s)))
    inside = [(max(0.0, since), min(to, elapsed_s)) for since, to in stretches]
    return tuple((since, to) for since, to in inside if to - since > 0.5)


def _end(stopped: float, elapsed_s: float) -> float:
    """End of the pause before the end: a stop within rounding of it is the end and no pause."""
    return elapsed_s if elapsed_s - stopped > SLACK_SECONDS else stopped


def _timer_events(messages: Messages) -> list[tuple[float, str]]:
    found = []
    for event in messages.get("event", ()):
        at, kind = moment(event, "timestamp"), word(event, "event_type")
        if at is not None and kind is not None and word(event, "event") == "timer":
            found.append((at, kind))
    return sorted(found, key=lambda pair: pair[0])


def _lap_marks(messages: Messages, shift: float, start: float, elapsed_s: float) -> tuple[float, ...]:
    """Where the laps within a session were pressed, or ended a step of a workout on the device."""
    laps = [
        Lap(
            start=begun,
            distance_m=number(lap, "total_distance") or float("nan"),
            by_itself=word(lap, "lap_trigger") not in PRESSED and number(lap, "wkt_step_index") is None,
        )
        for begun, lap in _laps(messages, shift)
        if -SLACK_SECONDS <= begun - start < elapsed_s
    ]
    return pressed(laps, start, elapsed_s)


def _barometer(messages: Messages) -> bool | None:
    """Whether there is one among the device's own sensors; None where it lists none of them."""
    own = [
        number(info, "device_type") for info in messages.get("device_info", ()) if word(info, "source_type") == "local"
    ]
    known = {int(kind) for kind in own if kind is not None}
    return BAROMETER in known if known else None


def _device(messages: Messages) -> str | None:
    """Maker, product and serial number as the file gives them."""
    file_id: Message = next(iter(messages.get("file_id", ())), {})
    product = file_id.get("product_name") or file_id.get("garmin_product") or file_id.get("product")
    said = (file_id.get("manufacturer"), product, positive(file_id, "serial_number"))
    return " ".join(f"{part:.0f}" if isinstance(part, float) else str(part) for part in said if part) or None
