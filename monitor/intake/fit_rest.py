"""A measurement of RR intervals at rest is a morning value and no session."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np

from monitor.intake.facts import IntakeOptions, Recording
from monitor.intake.fit_messages import Messages
from rules.facts import Morning

MOST_SECONDS = 20 * 60.0  # a resting measurement takes one to ten minutes
MOST_METRES = 20.0
BEFORE_HOUR = 12  # later in the day it is a measurement, but not of the morning
LEAST_BEATS = 60
NO_BEAT_SECONDS = 65.0  # 65.535 is padding
MOVING_SPORTS = frozenset({"running", "walking", "hiking", "cycling", "swimming", "rowing"})


def rr_intervals_ms(messages: Messages) -> list[float]:
    """All intervals between beats in file order; padding left out."""
    times = (message.get("time") for message in messages.get("hrv", ()))
    seconds = (second for time in times for second in (time if isinstance(time, list | tuple) else (time,)))
    return [second * 1000.0 for second in seconds if isinstance(second, int | float) and 0 < second < NO_BEAT_SECONDS]


def is_rest(recording: Recording, rr_ms: list[float]) -> bool:
    """Whether a recording is of somebody who lay, sat or stood still to have the heartbeat measured."""
    still = recording.distance_m is None or recording.distance_m <= MOST_METRES
    cadence = recording.samples.get("cadence_spm")
    steps = cadence is not None and float(np.nansum(cadence > 0)) > 0.1 * len(cadence)
    return (
        len(rr_ms) >= LEAST_BEATS
        and recording.elapsed_s <= MOST_SECONDS
        and still
        and not steps
        and recording.sport not in MOVING_SPORTS
        and sum(rr_ms) >= 500.0 * recording.elapsed_s  # beats for half of the time at least
    )


def morning_of(recording: Recording, rr_ms: list[float], options: IntakeOptions) -> Morning | None:
    """RMSSD of a resting measurement before noon; None later or where too many beats are artefacts."""
    from monitor.intake.rr_text import rmssd_after_correction  # noqa: PLC0415 - few files need it

    local = recording.start.astimezone(ZoneInfo(options.timezone))
    if local.hour >= BEFORE_HOUR:
        return None
    rmssd = rmssd_after_correction(rr_ms)
    return None if rmssd is None else Morning(local.date(), rmssd_ms=rmssd)
