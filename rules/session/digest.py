"""The digest of one session, made once when its recording is read; free of any athlete's limits.

Part of it: heart rate for its speed at easy running, drifting, fading, erratic. Evidence, no finding by itself.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from rules.facts import Digest
from rules.findings import RUNNING_SIGNALS, shown
from rules.limits import Limits
from rules.session.timeline import Flags, Floats, Samples, rolling_mean, spread, trailing_mean
from rules.session.track import Sport, Track, clean, judge_sport, running_signals

# Heart rate for its speed: at easy running, drifting, fading, erratic. Evidence of the day, no finding by itself.


@dataclass(frozen=True, slots=True)
class SteadyPart:
    """Level running after the first minutes, a row a second: minute means of speed, half-minute means of heart rate."""

    time_s: Floats
    speed_mps: Floats
    hr_bpm: Floats

    @property
    def hr_per_mps(self) -> Floats:
        return np.asarray(self.hr_bpm / self.speed_mps)

    def even(self, share: float) -> SteadyPart:
        """Without what was much faster or slower than most of it."""
        if len(self.speed_mps) == 0:
            return self
        usual = np.abs(self.speed_mps / np.median(self.speed_mps) - 1.0) <= share
        return SteadyPart(self.time_s[usual], self.speed_mps[usual], self.hr_bpm[usual])


def settled(track: Track, limits: Limits) -> SteadyPart:
    """The part of a session in which heart rate can be compared with speed."""
    speed = rolling_mean(np.where(track.gait.running, track.effort_mps, np.nan), 61, least=50)
    heart = rolling_mean(track.heart.rows_bpm, 31, least=20)
    slope = np.nan_to_num(track.ground.slope, nan=0.0)
    with np.errstate(invalid="ignore"):
        told = (speed > limits.gait.slowest_running_mps) & (np.abs(slope) <= limits.measures.easy_slope)
    told &= np.isfinite(heart)
    told &= track.gait.running & (track.clock.rows_s >= limits.measures.settle_s)
    return SteadyPart(track.clock.rows_s[told], speed[told], heart[told])


def easy_hr_per_mps(run: SteadyPart, limits: Limits) -> float | None:
    """Median heart rate over speed, bits much faster or slower left out."""
    even = run.even(limits.measures.even_share)
    if len(even.time_s) < limits.measures.least_easy_s:
        return None
    return round(float(np.median(even.hr_per_mps)), 3)


def decoupling(before: Floats, after: Floats) -> float:
    """Heart rate per speed, after over before (Smyth 2022 Sports Med 52:2283); 1.0 = none."""
    return float(np.mean(after) / np.mean(before))


def drift(run: SteadyPart, limits: Limits) -> float | None:
    """Heart rate per level-ground speed in the second half over the first half of even running."""
    ratio = run.even(limits.measures.even_share).hr_per_mps
    if len(ratio) < limits.measures.least_drift_s - limits.measures.settle_s:
        return None
    half = len(ratio) // 2
    return round(decoupling(ratio[:half], ratio[half:]), 4)


def remarks(track: Track, run: SteadyPart, limits: Limits) -> dict[str, Any]:
    """A session that fades after three quarters of an hour, a heart rate that is erratic for its speed."""
    found: dict[str, Any] = {}
    late = run.time_s >= limits.measures.fade_after_s
    if late.sum() >= limits.measures.late_s and (~late).sum() >= limits.measures.early_s:
        faded = decoupling(run.hr_per_mps[~late], run.hr_per_mps[late])
        if faded >= limits.measures.fade_ratio:
            found["fades_after_45_min"] = round(faded, 3)
    scatter = _scatter(track, limits) if len(run.time_s) >= limits.measures.scatter_s else None
    if scatter is not None:
        found["hr_scatter_bpm"] = round(scatter, 1)
        if scatter > limits.measures.erratic_bpm:
            found["hr_erratic_for_speed"] = True
    return found


def _scatter(track: Track, limits: Limits) -> float | None:
    """Robust scatter of heart rate about its own five minutes where speed is even."""
    speed = np.where(track.gait.running, track.effort_mps, np.nan)
    even = np.abs(rolling_mean(speed, 15, least=8) - rolling_mean(speed, 61, least=50)) < limits.measures.even_mps
    heart = track.heart.rows_bpm
    rest = np.where(even, rolling_mean(heart, 5, least=3) - rolling_mean(heart, 301, least=120), np.nan)
    rest[track.clock.rows_s < limits.measures.settle_s] = np.nan
    return spread(rest) if np.isfinite(rest).sum() >= limits.measures.scatter_s else None


# Totals of a cleaned session: metres climbed, steps and impact, seconds at each heart rate.
EVERY = 5  # rows; altitudes change slowly


def climb(track: Track, limits: Limits) -> tuple[float | None, float | None]:
    """Metres up and metres down in all; None where there is no altitude."""
    rows, altitude = turns(track, limits)
    if len(rows) == 0:
        return None, None
    change = np.diff(altitude)
    return float(change[change > 0].sum()), float(abs(change[change < 0].sum()))


def most_within(track: Track, metres: Floats, within_m: float, limits: Limits) -> tuple[float, float]:
    """The most metres up, and down, on any so many metres of ground. More easy ground beside it takes nothing away."""
    rows, altitude = turns(track, limits)
    if len(rows) == 0:
        return 0.0, 0.0
    step = np.diff(_between_turns(track.ground.altitude_m, rows.astype(np.int64).tolist()), prepend=altitude[0])
    ground = np.cumsum(metres)
    ends = np.searchsorted(ground, ground + within_m, side="right") - 1
    most = []
    for sign in (1.0, -1.0):
        total = np.cumsum(np.maximum(sign * step, 0.0))
        most.append(float(np.max(total[ends] - total)))
    return most[0], most[1]


def _between_turns(altitude_m: Floats, rows: list[int]) -> Floats:
    """Altitude that only rises, or only falls, between two turns: each metre counts where it is first reached."""
    known = np.flatnonzero(np.isfinite(altitude_m))
    path = np.interp(np.arange(len(altitude_m)), known, altitude_m[known])
    for a, b in itertools.pairwise(rows):
        leg = path[a : b + 1]
        path[a : b + 1] = (np.maximum if leg[-1] > leg[0] else np.minimum).accumulate(leg)
    path[: rows[0]], path[rows[-1] :] = path[rows[0]], path[rows[-1]]
    return np.asarray(path)


def turns(track: Track, limits: Limits) -> tuple[Floats, Floats]:
    """Rows and altitudes of the first point and of every extreme that the altitude has left by more than a step."""
    known = np.flatnonzero(np.isfinite(track.ground.altitude_m))[::EVERY]
    if len(known) * EVERY < limits.ground.least_known_s:
        return np.zeros(0), np.zeros(0)
    step = max(limits.ground.turn_m, 4.0 * track.ground.noise_m)
    picked = _extremes(track.ground.altitude_m[known].tolist(), step)
    return known[picked].astype(np.float64), track.ground.altitude_m[known[picked]]


def _extremes(altitude: list[float], step: float) -> list[int]:
    points, extreme, direction = [0], 0, 0
    for at, value in enumerate(altitude):
        lead = value - altitude[extreme]
        if direction == 0:
            if abs(value - altitude[0]) >= step:
                direction, extreme = (1 if value > altitude[0] else -1), at
        elif lead * direction > 0:
            extreme = at
        elif abs(lead) >= step:
            points.append(extreme)
            direction, extreme = -direction, at
    return [*points, extreme] if direction else points


def peak_force_bw(speed_mps: Floats, running: Flags, limits: Limits) -> Floats:
    """Peak vertical force a step, body weights. Walking and running are two levels; nothing is put between them."""
    line = limits.impact.running_bw_at_3 + limits.impact.running_bw_per_mps * (speed_mps - 3.0)
    least = limits.impact.running_bw_least
    run = np.maximum(np.nan_to_num(line, nan=least), least)
    return np.where(running, run, limits.impact.walking_bw)


def steps_and_impact(track: Track, limits: Limits) -> tuple[float, float]:
    """Steps on foot, and steps x peak force in body weights."""
    run, walk = track.gait.running, track.gait.walking
    guess = np.where(run, limits.impact.running_spm_guess, limits.impact.walking_spm_guess)
    with np.errstate(invalid="ignore"):
        spm = np.where(track.spm > limits.gait.fewest_turns_spm, track.spm, guess)
    steps = np.where(run | walk, spm / 60, 0.0)
    return float(steps.sum()), float(np.sum(steps * peak_force_bw(track.pace.speed_mps, run, limits)))


def hr_seconds(track: Track) -> dict[int, float]:
    """Whole bpm -> seconds of believed heart rate."""
    kept = track.heart.believed & (track.heart.weight_s > 0)
    if not kept.any():
        return {}
    counts = np.bincount(track.heart.bpm[kept].astype(np.int64), weights=track.heart.weight_s[kept])
    return {int(bpm): round(float(counts[bpm]), 3) for bpm in np.flatnonzero(counts)}


def best_speeds(track: Track, limits: Limits) -> dict[int, float]:
    """Seconds -> best mean level-ground speed held running for so long."""
    effort = np.where(track.gait.running, track.effort_mps, np.nan)[track.clock.real]
    best: dict[int, float] = {}
    for seconds in limits.measures.best_durations:
        means = trailing_mean(effort, int(seconds))
        if np.isfinite(means).any():
            best[int(seconds)] = round(float(np.nanmax(means)), 4)
    return best


def digest(
    sport: str,
    sub_sport: str,
    timer_s: float,
    elapsed_s: float,
    pauses: Sequence[tuple[float, float]],
    samples: Samples,
    limits: Limits,
    barometer: bool | None = None,
) -> Digest:
    """All numbers of a session that judging needs without its samples."""
    track = clean(sport, sub_sport, elapsed_s, pauses, samples, limits, barometer=barometer)
    return digest_of(track, sport, sub_sport, timer_s, limits)


def digest_of(track: Track, sport: str, sub_sport: str, timer_s: float, limits: Limits) -> Digest:
    """The same of samples that are cleaned already, without knowing the athlete."""
    was = judge_sport(track, sport, sub_sport, timer_s, limits)
    steps, impact = steps_and_impact(track, limits)
    run = settled(track, limits)
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
        hr_seconds=hr_seconds(track),
        best_speed_mps=best_speeds(track, limits),
        steps=round(steps, 1),
        impact_load=round(impact, 1),
        ascent_m=None if ascent is None else round(ascent, 1),
        descent_m=None if descent is None else round(descent, 1),
        altitude_median_m=_median(track.recorded.get("altitude_m")),
        temperature_median_c=_median(track.recorded.get("temperature_c")),
        easy_hr_per_mps=easy_hr_per_mps(run, limits),
        drift=drift(run, limits),
        notes=_notes(track, was, timer_s, limits) | remarks(track, run, limits),
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
