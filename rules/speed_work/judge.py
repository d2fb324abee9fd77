"""Is there speed work in it, how sure is that, and how is it put so that a coach believes it?"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from rules.facts import Threshold
from rules.findings import Breach, Severity, Signal, Statement, say, severity_of, shown
from rules.limits import Limits
from rules.session.timeline import Floats, as_times
from rules.session.track import Track
from rules.speed_work.bouts import (
    Bout,
    Levels,
    Scale,
    alike,
    bouts_above,
    by_laps,
    levels,
    mean_effort,
    one_set,
    sharper,
)
from rules.speed_work.signals import altitude_signal, heart_signal, speed_signal, steps_signal

# What a coach would call it.


def kind_of(track: Track, hard: Floats, found: Sequence[Bout], limits: Limits) -> str:
    """Strides, hill repeats, repeats; fast running where it is open; of one stretch what `_kind_of_effort` says.

    The key of a statement.
    """
    if len(found) == 1:
        return _kind_of_effort(track, hard, found[0], limits)
    lengths = np.array([b.seconds for b in found], dtype=np.float64)
    if float(np.median([b.slope for b in found])) >= limits.speed_work.climb_slope:
        return "hill_repeats"
    uneven = float(lengths.std() / lengths.mean())
    stride_s = limits.speed_work.called_stride_s
    if uneven > limits.speed_work.repeats_spread and lengths.max() > stride_s:
        return "fast_running"
    return "strides" if float(np.median(lengths)) <= stride_s else "repeats"


def _kind_of_effort(track: Track, hard: Floats, effort: Bout, limits: Limits) -> str:
    """A time trial, a progression, a fast finish, a long climb, or plain fast running."""
    rows = np.flatnonzero(track.gait.running)
    if effort.slope >= limits.speed_work.climb_slope:
        return "hard_climb"
    if effort.seconds >= limits.speed_work.time_trial_share * len(rows):
        return "time_trial"
    parts = [float(np.nanmean(part)) if np.isfinite(part).any() else 0.0 for part in np.array_split(hard[rows], 4)]
    if all(later > earlier * limits.speed_work.progression for earlier, later in itertools.pairwise(parts)):
        return "progression"
    if len(rows) and effort.end >= rows[-1] - limits.speed_work.finish_s:
        return "fast_finish"
    return "sustained" if effort.seconds >= limits.speed_work.sustained_s else "fast_running"


Policy = Literal["none", "strides", "free"]


def speed_work(
    track: Track, policy: Policy, threshold: Threshold | None, limits: Limits, lap_marks_s: Sequence[float] = ()
) -> Breach | None:
    """The fast running of a session, as gravely as its signals tell it, unless the stage allows it.

    `lap_marks_s` are the seconds on the clock of the samples where the athlete pressed a lap.
    """
    if policy == "free" or not track.gait.running.any():
        return None
    best = _best(track, policy, threshold, limits, lap_marks_s)
    if best is None:
        return None
    if best.severity == Severity.STOP and threshold is not None and not _agreed(best):
        faster = replace(threshold, speed_mps=limits.speed_work.may_be_off * threshold.speed_mps)
        if all(_best(track, policy, other, limits, lap_marks_s) is None for other in (faster, None)):
            best = replace(best, severity=Severity.CAUTION)  # by a threshold alone, which may be out of date
    return _breach(track, best, limits)


def _best(
    track: Track, policy: Policy, threshold: Threshold | None, limits: Limits, lap_marks_s: Sequence[float]
) -> Work | None:
    """The gravest of bouts, sustained efforts and climbs."""
    with np.errstate(invalid="ignore"):
        run = track.gait.running & (track.pace.speed_mps < limits.pace.fastest_runner_mps)
    over_ground = np.where(run, track.pace.speed_mps, np.nan)
    on_the_level = np.where(run, track.effort_mps, np.nan)
    bouts = _work(track, over_ground, policy, threshold, "bouts", limits, lap_marks_s)
    sustained = _work(track, over_ground, policy, threshold, "sustained", limits, lap_marks_s)
    climbs = _work(track, on_the_level, policy, threshold, "climbs", limits)
    if bouts and sustained:
        sustained = replace(sustained, found=sharper(sustained.found, bouts.found, limits))
    if bouts and sustained and sustained.effort_mps < limits.speed_work.as_fast_as_bouts * bouts.effort_mps:
        sustained = None  # slower between the bouts, so they are named one by one
    told = [work for work in (sustained, bouts) if work is not None]
    best = max(told, key=lambda work: (work.severity, work.gain), default=None)
    if climbs is not None and (best is None or climbs.severity > best.severity):
        best = climbs
    return best


def _agreed(work: Work) -> bool:
    """Does a good signal beside the speed, or the laps, tell of it?"""
    return _told_beside(work.heard)


def _told_beside(heard: Sequence[Signal]) -> bool:
    return any(signal.says == "for" and (signal.quality == "good" or signal.name == "laps") for signal in heard[1:])


@dataclass(frozen=True, slots=True)
class Work:
    """Fast stretches with what the signals say of them."""

    hard: Floats
    found: list[Bout]
    fast: Levels
    severity: Severity
    heard: list[Signal]

    @property
    def effort_mps(self) -> float:
        return mean_effort(self.found)

    @property
    def gain(self) -> float:
        """Metres won over easy running."""
        return sum(b.seconds * (b.effort_mps - self.fast.easy) for b in self.found)


def _work(
    track: Track,
    hard: Floats,
    policy: Policy,
    threshold: Threshold | None,
    scale: Scale,
    limits: Limits,
    lap_marks_s: Sequence[float] = (),
) -> Work | None:
    """Bouts or sustained efforts by speed over ground, or climbs by what they are worth on the level."""
    fast = levels(track, hard, threshold, scale, limits)
    found = fast_stretches(track, hard, fast, scale, limits)
    if not found or (policy == "strides" and scale != "climbs" and _only_strides(found, limits)):
        return None
    found, laps = by_laps(track, hard, found, lap_marks_s, limits)
    heard = signals(track, found, fast, scale, limits)
    if laps.says == "for":
        heard.append(laps)
    severity = severity_of(heard)
    if heard[0].quality == "none":
        return None  # never by heart, steps or laps alone
    if severity and laps.says == "for" and len(found) >= limits.speed_work.least_bouts:
        return Work(hard, found, fast, severity, heard)  # repeats that were pressed are no steady running
    if severity and fast.threshold is None and not fast.plain(mean_effort(found)):
        # steady running after an easy start is as fast, so it is asked about where the signals agree
        severity = Severity.CAUTION if severity == Severity.STOP else None
    slower = fast.threshold is not None and mean_effort(found) < fast.threshold.speed_mps
    few = len(found) < limits.speed_work.least_bouts or all(signal.quality != "good" for signal in heard)
    if severity and slower and few and not fast.plain(mean_effort(found)):
        severity = min(severity, Severity.CAUTION)  # slower than threshold may be steady running
    if len(found) == 1:
        severity = _of_one(track, found[0], fast, severity, heard, limits)
    by_speed_alone = fast.own_easy is not None and not _told_beside(heard)
    if severity == Severity.STOP and by_speed_alone and _half_seen(track, found, limits):
        severity = Severity.CAUTION
    return None if severity is None else Work(hard, found, fast, severity, heard)


def _of_one(
    track: Track, b: Bout, fast: Levels, severity: Severity | None, heard: Sequence[Signal], limits: Limits
) -> Severity | None:
    """A single stretch in a longer session may be a road to cross, a dog or a bus: asked about where more than one
    signal tells of it, sure where it stands out as far as strides do.

    What stands out less than bouts do is none, unless it lasts for twice as long as a sustained effort.
    """
    sustained = limits.speed_work.sustained_s
    if b.seconds >= min(2 * sustained, limits.speed_work.time_trial_share * float(track.gait.running.sum())):
        return severity
    if b.effort_mps < limits.speed_work.contrast["bouts"] * fast.easy:
        return None
    if b.seconds >= sustained or severity is None:
        return severity
    others = any(signal.says == "for" and signal.quality != "none" for signal in heard[1:])
    far = min(
        limits.speed_work.contrast["strides"] * fast.easy,
        limits.speed_work.far_over * fast.reference,
    )
    good = any(signal.says == "for" and signal.quality == "good" for signal in heard)
    if good and others and b.effort_mps >= far and not any(signal.says == "against" for signal in heard):
        return severity
    return min(severity, Severity.CAUTION) if others or fast.own_easy is None else None


def _half_seen(track: Track, found: Sequence[Bout], limits: Limits) -> bool:
    """Is the speed drawn between few records, or over ground of which nothing is known? A descent is as fast."""
    rows = track.clock.rows_s
    ends = [(rows[b.start], rows[b.end - 1]) for b in found]
    records = sum(int(np.sum((track.clock.time_s >= a) & (track.clock.time_s <= b))) for a, b in ends)
    ground_known = track.indoors or bool(np.isfinite(track.ground.slope).any())
    return records < limits.speed_work.least_records or not ground_known


def fast_stretches(track: Track, hard: Floats, fast: Levels, scale: Scale, limits: Limits) -> list[Bout]:
    """A set of stretches above the level: three short ones, or one or two that come to a minute and a half."""
    level = fast.fast if fast.own_easy is not None else (fast.fast + fast.easy) / 2
    found = bouts_above(track, hard, level, fast.easy, limits, sustained=scale == "sustained")
    if fast.own_easy is None:
        found = [b for b in found if b.effort_mps >= fast.fast]
    bouts = [b for b in found if fast.stands_out(b) and _run_hard(track, b, fast, scale, limits)]
    if fast.own_easy is None and not _rested(track, bouts, limits):
        far = limits.speed_work.far_over * fast.reference
        bouts = [b for b in bouts if b.effort_mps >= far or b.seconds >= limits.speed_work.sustained_s]
    found = alike(one_set(bouts, limits), limits)
    if len(found) >= limits.speed_work.least_bouts:
        return found
    single = limits.speed_work.single_s
    enough = any(b.seconds >= single for b in found) or sum(b.seconds for b in found) >= 4 / 3 * single
    return found if enough and scale != "climbs" else []


def _run_hard(track: Track, b: Bout, fast: Levels, scale: Scale, limits: Limits) -> bool:
    """Is it more than the ground makes it? A descent carries, up to threshold speed; no climb is worth any speed."""
    if scale == "climbs":
        most = limits.speed_work.nobody_climbs * max(fast.reference, fast.easy)
        return b.slope >= limits.speed_work.climb_slope and b.effort_mps <= most
    if scale == "sustained" and b.seconds < limits.speed_work.sustained_s / 2:
        return False
    if scale == "bouts" and b.seconds <= limits.speed_work.stride_s and not _like_a_stride(track, b, fast, limits):
        return False
    if b.slope >= -limits.speed_work.level_slope:
        return True
    most = fast.threshold.speed_mps if fast.threshold else limits.speed_work.fast_for_most_mps
    return b.speed_mps >= most * (limits.speed_work.far_over if fast.threshold else 1.0)


def _like_a_stride(track: Track, b: Bout, fast: Levels, limits: Limits) -> bool:
    """Short stretches are run far out of easy running, and no slower than threshold."""
    effort = float(np.nanmean(track.effort_mps[b.start : b.end]))
    far = fast.own_easy is None or effort >= limits.speed_work.contrast["strides"] * fast.easy
    least = limits.speed_work.of_threshold["strides"]
    return far and (fast.threshold is None or effort >= least * fast.threshold.speed_mps)


def signals(track: Track, found: Sequence[Bout], fast: Levels, scale: Scale, limits: Limits) -> list[Signal]:
    """What each signal says of the stretches."""
    heart, steps = heart_signal(track, found, fast, limits), steps_signal(track, found, limits)
    first = (
        altitude_signal(track, found, fast, heart, limits)
        if scale == "climbs"
        else speed_signal(track, found, fast, limits)
    )
    if fast.own_easy is None and not _rested(track, found, limits):
        return [first]  # heart and steps could only tell running from resting
    return [first, heart, steps]


def _rested(track: Track, found: Sequence[Bout], limits: Limits) -> bool:
    """Were the stretches run with longer rests, walked or stood, between them?"""
    if len(found) < limits.speed_work.least_bouts:
        return False
    whole = track.clock.real[found[0].start : found[-1].end].sum()
    return bool(whole >= limits.speed_work.rested * sum(b.seconds for b in found))


def _only_strides(found: Sequence[Bout], limits: Limits) -> bool:
    longest = limits.speed_work.stride_s
    return all(b.seconds <= longest for b in found) and len(found) <= limits.speed_work.strides


def _breach(track: Track, work: Work, limits: Limits) -> Breach:
    found, fast, severity = work.found, work.fast, work.severity
    weights = [b.seconds for b in found]
    speed = float(np.average([b.speed_mps for b in found], weights=weights))
    effort = work.effort_mps
    reference, what = _reference(fast, effort)
    over = effort / reference - 1.0
    kind = kind_of(track, work.hard, found, limits) if severity == Severity.STOP else "fast_running"
    amount: Statement | float = float(sum(weights))
    if len(found) > 1 and kind != "fast_running":
        amount = say("repeated", times=len(found), each=np.median(weights))
    uphill = say("uphill", effort=effort) if effort > limits.speed_work.uphill_told * speed else ""
    told = say("fast", kind=say(kind), amount=amount, speed=speed, uphill=uphill, over=over * 100, what=say(what))
    return Breach(
        rule="no_speed_work",
        severity=severity,
        summary=told if severity == Severity.STOP else say("perhaps_fast", said=told),
        observed=round(effort, 3),
        limit=round(reference, 3),
        unit="m/s",
        evidence={
            "kind": say(kind),
            **_numbers(track, found, fast),
            "fast_s": float(sum(weights)),
            "speed_mps": round(speed, 4),
            "over_reference": round(over, 3),
            "signals": shown(work.heard),
        },
    )


def _reference(fast: Levels, effort: float) -> tuple[float, str]:
    """Threshold where it is faster than that, else the easy running; with the key of what it is called."""
    if fast.threshold is not None and effort >= fast.threshold.speed_mps:
        return fast.threshold.speed_mps, "own_threshold"
    if fast.own_easy is not None:
        return fast.own_easy, "own_easy"
    return fast.fast, "easy_of_most"


def _numbers(track: Track, found: Sequence[Bout], fast: Levels) -> dict[str, Any]:
    if fast.threshold is None:
        assumed = [say("no_threshold")]
        if fast.own_easy is None:
            assumed = [say("no_threshold_none_slower")]
    else:
        assumed = [say("threshold_from", basis=fast.threshold.basis, confidence=fast.threshold.confidence)]
        if fast.threshold.instead_of_mps is not None:
            assumed.append(say("threshold_refuted", slower=fast.threshold.instead_of_mps))
    return {
        "bouts": len(found),
        "bout_seconds": [b.seconds for b in found],
        "bout_speed_mps": [round(b.speed_mps, 2) for b in found],
        "bout_level_speed_mps": [round(b.effort_mps, 2) for b in found],
        "bout_slope": [round(b.slope, 3) for b in found],
        "bout_steps_per_min": [None if b.spm is None else round(b.spm) for b in found],
        "times": as_times([(b.start, b.end) for b in found], track.clock.rows_s),
        "threshold_mps": None if fast.threshold is None else round(fast.threshold.speed_mps, 3),
        "threshold_basis": "session" if fast.threshold is None else fast.threshold.basis,
        "threshold_confidence": "low" if fast.threshold is None else fast.threshold.confidence,
        "easy_mps": None if fast.own_easy is None else round(fast.own_easy, 3),
        "speed_from": track.pace.source,
        "masked_s": float(track.pace.masked.sum()),
        "assumed": assumed,
    }
