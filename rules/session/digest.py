"""The digest of one session, made once when its recording is read; free of any athlete's limits."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from rules.facts import Digest
from rules.findings import RUNNING_SIGNALS, shown
from rules.limits import Limits
from rules.session import decoupling, measures
from rules.session.clean import Track, clean
from rules.session.measures import climb
from rules.session.sport import Sport, judge_sport, running_signals
from rules.session.timeline import Samples
from rules.session.windows import Floats

if TYPE_CHECKING:
    import polars as pl


def digest(
    sport: str,
    sub_sport: str,
    timer_s: float,
    elapsed_s: float,
    pauses: Sequence[tuple[float, float]],
    samples: Samples | pl.DataFrame,
    limits: Limits,
    barometer: bool | None = None,
) -> Digest:
    """All numbers of a session that judging needs without its samples."""
    track = clean(sport, sub_sport, elapsed_s, pauses, samples, limits, barometer=barometer)
    return digest_of(track, sport, sub_sport, timer_s, limits)


def digest_of(track: Track, sport: str, sub_sport: str, timer_s: float, limits: Limits) -> Digest:
    """The same of samples that are cleaned already, without knowing the athlete."""
    was = judge_sport(track, sport, sub_sport, timer_s, limits)
    steps, impact = measures.steps_and_impact(track, limits)
    run = decoupling.settled(track, limits)
    ascent, descent = climb(track, limits)
    return Digest(
        sport=was.name,
        sport_reason=was.reason,
        running_s=round(was.running_s, 1),
        running_m=_metres(track, was),
        walking_s=round(was.walking_s, 1),
        hr_known_s=round(track.heart.known_s, 1),
        hr_masked_s=round(track.heart.masked_s, 1),
        speed_known_s=float(np.isfinite(track.pace.speed_mps).sum()),
        speed_masked_s=float(track.pace.masked.sum()),
        hr_seconds=measures.hr_seconds(track),
        best_speed_mps=measures.best_speeds(track, limits),
        steps=round(steps, 1),
        impact_load=round(impact, 1),
        ascent_m=None if ascent is None else round(ascent, 1),
        descent_m=None if descent is None else round(descent, 1),
        altitude_median_m=_median(track.recorded.get("altitude_m")),
        temperature_median_c=_median(track.recorded.get("temperature_c")),
        easy_hr_per_mps=decoupling.easy_hr_per_mps(run, limits),
        drift=decoupling.drift(run, limits),
        notes=_notes(track, was, timer_s, limits) | decoupling.remarks(track, run, limits),
    )


def _metres(track: Track, was: Sport) -> float | None:
    """Metres run, missing seconds at the mean of the others."""
    speed = track.pace.speed_mps[track.gait.running]
    known = speed[np.isfinite(speed)]
    if len(known) == 0 or len(known) < 0.5 * len(speed):
        return None
    return round(float(known.mean()) * was.running_s, 1)


def _median(values: Floats | None) -> float | None:
    if values is None or not np.isfinite(values).any():
        return None
    return round(float(np.nanmedian(values)), 1)


def _notes(track: Track, was: Sport, timer_s: float, limits: Limits) -> dict[str, Any]:
    notes: dict[str, Any] = {"gait_by": track.gait.by, "speed_from": track.pace.source}
    if track.heart.reasons:
        notes["hr_masked"] = dict(track.heart.reasons)
        notes["hr_masked_times"] = track.heart.masked_times
    if track.ground.masked_s:
        notes["altitude_masked_s"] = track.ground.masked_s
    if track.ground.doubt:
        notes["altitude_doubted"] = track.ground.doubt
    if was.carried_s:
        notes["carried_s"] = was.carried_s
    if was.ridden_s:
        notes["ridden_s"] = was.ridden_s
    if was.name == "running" and 0 < was.run_with_breaks_s < timer_s - was.carried_s - limits.gait.longest_break_s:
        notes["run_with_breaks_s"] = was.run_with_breaks_s
    if was.running_s:
        notes[RUNNING_SIGNALS] = shown(running_signals(track, limits))
    return notes
