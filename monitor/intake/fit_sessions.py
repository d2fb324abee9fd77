"""FIT messages -> recordings, one for each session; of the transitions of a multisport event only those run through."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from monitor.intake.facts import Recording
from monitor.intake.fit_clock import utc_offset
from monitor.intake.fit_columns import Rows, rows, samples_of
from monitor.intake.fit_messages import Messages, moment, number, positive, word
from monitor.intake.fit_summaries import Summary, summaries
from monitor.intake.fit_water import with_lengths, with_stored_heart_rate
from monitor.intake.laps import Lap, pressed
from monitor.intake.moments import from_epoch
from monitor.intake.plausible import MOST
from monitor.intake.running_form import REMARK, RIDES, has_running_form
from rules.limits import default_limits

SLACK_SECONDS = 2.0  # rounding between a summary and the records under it
LOST_SECONDS = 12 * 3600.0  # records so far outside of their only session's times still belong to it
RESUMED_SECONDS = 60.0  # records going on so long after a stop: the start that ended it was lost
PRESSED = (None, "manual")  # a trigger that nobody wrote tells nothing against it
BAROMETER = 4  # of the FIT profile's local device types
Pauses = tuple[tuple[float, float], ...]


def recordings(messages: Messages, shift: float, remarks: list[str]) -> tuple[Recording, ...]:
    """All sessions of one FIT file, in order of time."""
    all_rows, dropped = rows(messages.get("record", []), shift)
    if dropped:
        remarks.append(f"{dropped} records left out: their time makes no sense")
    all_rows = with_stored_heart_rate(all_rows, messages.get("hr", []), shift)
    legs = summaries(messages, all_rows, shift)[: MOST.recordings]
    found = []
    for index, leg in enumerate(legs):
        own, leg = _own_rows(leg, legs, index, all_rows)  # noqa: PLW2901 - its start may move to its first record
        if leg.sport == "transition" and not _was_run(own):
            continue
        if leg.sport in RIDES and has_running_form(messages.get("record", []), own, shift):
            leg = replace(leg, sport="running", sub_sport="generic")  # noqa: PLW2901
            remarks.append(REMARK)
        recording = _recording(leg, own, _distance_before(all_rows, own) if index else 0.0, messages, shift)
        if recording is not None:
            found.append(recording)
    return tuple(found)


def _was_run(own: Rows) -> bool:
    """Whether a transition holds as much at a runner's speed or step rate as counts as running."""
    limits = default_limits()
    speed, turns = own.columns.get("speed_mps"), own.columns.get("cadence_spm")
    with np.errstate(invalid="ignore"):
        fast = speed > limits.gait.border_mps if speed is not None else np.zeros(len(own.at), np.bool_)
        if turns is not None and (turns > 0).any():
            fast &= np.isnan(turns) | (2 * turns >= limits.gait.fewest_running_spm)
    seconds = np.clip(np.diff(own.at, append=own.at[-1:] + 1.0), 0.0, limits.cleaning.longest_gap_s)
    return float(seconds[fast].sum()) >= limits.no_running.least_seconds


def _own_rows(leg: Summary, legs: list[Summary], index: int, all_rows: Rows) -> tuple[Rows, Summary]:
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


def _recording(leg: Summary, own: Rows, before_m: float, messages: Messages, shift: float) -> Recording | None:
    lengths = messages.get("length", [])
    own = with_lengths(own, lengths, leg.pool_length_m, shift) if lengths and leg.sport == "swimming" else own
    samples = samples_of(own, leg.start, leg.sport, leg.sub_sport)
    if before_m and "distance_m" in samples:
        samples["distance_m"] = samples["distance_m"] - before_m
    last_s = float(samples["t_s"][-1]) if len(samples["t_s"]) else 0.0
    elapsed_s = max(leg.elapsed_s or 0.0, last_s, leg.timer_s or 0.0)
    if elapsed_s <= 0 and not len(own.at):
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


def _way(distance: np.ndarray[tuple[int], np.dtype[np.float64]] | None) -> float | None:
    if distance is None or np.isnan(distance).all():
        return None
    return float(np.nanmax(distance) - np.nanmin(distance))


def _distance_before(all_rows: Rows, own: Rows) -> float:
    """What the device had counted before a later session, where it counts on; 0 where it began again."""
    if not len(own.at) or "distance_m" not in all_rows.columns:
        return 0.0
    before = all_rows.columns["distance_m"][all_rows.at < own.at[0]]
    before, within = before[~np.isnan(before)], own.columns["distance_m"]
    within = within[~np.isnan(within)]
    if not len(before) or not len(within) or within[0] < before[-1]:
        return 0.0
    return float(before[-1])


def _pauses(messages: Messages, shift: float, start: float, elapsed_s: float, last_s: float, own: Rows) -> Pauses:
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
        resumed = last_s > stopped + RESUMED_SECONDS and len(after) > 0
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
            start=begun + shift,
            distance_m=number(lap, "total_distance") or float("nan"),
            by_itself=word(lap, "lap_trigger") not in PRESSED and number(lap, "wkt_step_index") is None,
        )
        for lap in messages.get("lap", ())
        if (begun := moment(lap, "start_time")) is not None and -SLACK_SECONDS <= begun + shift - start < elapsed_s
    ]
    return pressed(sorted(laps, key=lambda lap: lap.start or 0.0), start, elapsed_s)


def _barometer(messages: Messages) -> bool | None:
    """Whether there is one among the device's own sensors; None where it lists none of them."""
    own = [
        number(info, "device_type") for info in messages.get("device_info", ()) if word(info, "source_type") == "local"
    ]
    known = {int(kind) for kind in own if kind is not None}
    return BAROMETER in known if known else None


def _device(messages: Messages) -> str | None:
    """Maker, product and serial number as the file gives them."""
    for file_id in messages.get("file_id", ())[:1]:
        product = file_id.get("product_name") or file_id.get("garmin_product") or file_id.get("product")
        said = (file_id.get("manufacturer"), product, positive(file_id, "serial_number"))
        return " ".join(f"{part:.0f}" if isinstance(part, float) else str(part) for part in said if part) or None
    return None
