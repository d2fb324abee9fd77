"""One session's samples cleaned into a track, and what sport that was, whatever its label says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from rules.findings import Said, Signal, Statement, say
from rules.limits import Limits
from rules.session.gait import ON_FOOT, Gait, Motion, calm, fastest_walk, gait, on_wheels, own_speed, steps_per_minute
from rules.session.ground import Ground, Pace, doubted, effort_speed, ground, not_believed, pace
from rules.session.heart import Heart, clean_heart
from rules.session.labels import Family, family, indoors
from rules.session.timeline import Flags, Floats, Samples, Timeline, columns, timeline


@dataclass(frozen=True, slots=True)
class Track:
    """A session as it is believed. Arrays hold a second a row, with empty rows at gaps."""

    family: Family  # by the label, or ride where an open label hides one
    indoors: bool
    clock: Timeline
    heart: Heart
    pace: Pace
    ground: Ground
    gait: Gait
    spm: Floats  # steps a minute
    effort_mps: Floats  # level-ground speed on climbs, raw speed elsewhere
    ridden_s: float  # of the time on wheels: pedalled before or after a run
    recorded: dict[str, Floats]  # the kept samples as they came

    @property
    def size(self) -> int:
        return len(self.clock.rows_s)

    def is_of_a_heart_up_to(self, highest_bpm: float | None) -> bool:
        """Whether cleaning for an athlete whose heart does no more than that gives the same: none of it is over it."""
        bpm = self.recorded.get("hr_bpm")
        return highest_bpm is None or bpm is None or not bool((np.rint(bpm) > highest_bpm).any())


def clean(
    sport: str,
    sub_sport: str,
    elapsed_s: float,
    pauses: Sequence[tuple[float, float]],
    samples: Samples,
    limits: Limits,
    highest_bpm: float | None = None,
    *,
    barometer: bool | None = None,
) -> Track:
    """Clean one session's samples; the same for the digest and for the verdict, but that the verdict knows the athlete.

    `highest_bpm` is what this athlete's heart can be believed to do at most; `barometer` whether the device names one.
    """
    table = columns(samples)
    clock = timeline(table.get("t_s", np.zeros(0)), elapsed_s, pauses, limits)
    kept = {name: values[clock.kept] for name, values in table.items()}
    empty = np.full(len(clock.rows_s), np.nan)
    kind, inside = family(sport, sub_sport), indoors(sport, sub_sport)
    speed = pace(kept, clock, limits)
    spm = clock.on_rows(kept["cadence_spm"]) if "cadence_spm" in kept else empty
    raw_spm = spm
    if kind in ON_FOOT:
        raw_spm = steps_per_minute(spm, speed.speed_mps, limits)
        spm = calm(raw_spm, limits)
        speed = replace(speed, speed_mps=own_speed(spm, speed.speed_mps, limits))
    altitude = clock.on_rows(kept["altitude_m"]) if "altitude_m" in kept and not inside else empty
    under = ground(altitude, speed.speed_mps, limits)
    raw_hr = kept.get("hr_bpm", np.full(len(clock.time_s), np.nan))
    effort = effort_speed(speed.speed_mps, under.sure_slope, limits)
    heart = clean_heart(raw_hr, clock, effort, raw_spm, limits, highest_bpm)
    apart = float(np.median(np.diff(clock.time_s))) if len(clock.time_s) > 1 else 1.0
    moves = Motion(spm, speed.speed_mps, heart.rows_bpm, under.slope, clock.real, apart, limits)
    kind, carried, ridden_s = on_wheels(kind, moves, limits)
    if kind not in ON_FOOT:
        effort = empty
        heart = clean_heart(raw_hr, clock, effort, raw_spm, limits, highest_bpm)
    elif why := doubted(under, effort, speed.speed_mps, heart.rows_bpm, kept, clock, limits, barometer):
        under = not_believed(under, why)
        effort = effort_speed(speed.speed_mps, under.sure_slope, limits)
        heart = clean_heart(raw_hr, clock, effort, raw_spm, limits, highest_bpm)
    walk = gait(kind, moves, carried, limits)
    return Track(kind, inside, clock, heart, speed, under, walk, spm, effort, ridden_s, kept)


# What the session really was, whatever its label says, and what tells of running in it.

_BY_FAMILY: dict[str, str] = {
    "race_walk": "walking", "ride": "cycling", "swim": "swimming", "row": "rowing", "elliptical": "elliptical",
    "ski": "skiing", "strength": "strength", "mobility": "mobility", "yoga": "yoga", "game": "other", "glide": "other",
    "vehicle": "transport", "gym": "other", "open": "other", "unlabelled": "unknown", "walk": "walking",
    "run": "running",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Sport:
    """The sport as judged, and why."""

    name: str
    reason: Statement
    running_s: float
    walking_s: float
    carried_s: float
    ridden_s: float  # of that, on a bicycle that somebody pedalled
    run_with_breaks_s: float  # running with the walking and standing in between, without what came long after


def judge_sport(track: Track, sport: str, sub_sport: str, timer_s: float, limits: Limits) -> Sport:
    """Label, cadence, speed and ground together."""
    running, walking = float(track.gait.running.sum()), float(track.gait.walking.sum())
    on_wheels = float(track.gait.vehicle.sum())
    recorded = float(track.clock.real.sum())
    label = " ".join(word for word in (sport, sub_sport) if word and word != "generic") or "nothing"
    kind = track.family
    if kind == "run" and timer_s > recorded and running >= 0.5 * recorded:
        running *= timer_s / recorded if recorded >= limits.sport.least_recorded_s else 1.0
    if kind == "run" and recorded == 0:
        running = timer_s
    name, but = _name(track, family(sport, sub_sport), (running, walking, on_wheels), limits)
    reason = say("labelled", label=label, but=but)
    with_breaks = max(_with_breaks(track, limits), running)
    return Sport(name, reason, running, walking, on_wheels, track.ridden_s, with_breaks)


def _name(track: Track, labelled: Family, seconds: tuple[float, float, float], limits: Limits) -> tuple[str, Said]:
    kind, by = track.family, track.gait.by
    running, walking, on_wheels = seconds
    least = limits.sport
    afoot = running + walking
    if kind not in ON_FOOT or kind == "race_walk":
        told: tuple[str, Said] = (_BY_FAMILY[kind], "" if kind == labelled else say("but_as_ride"))
    elif on_wheels > max(afoot, least.afoot_s) and running < least.running_s:
        if afoot >= least.afoot_s and _passive(track, limits):
            told = ("walking", say("but_carried", by=by, carried=on_wheels))
        else:
            told = (_vehicle(track, limits), say("but_too_fast"))
    elif kind == "run":
        walked = running < least.run_share * afoot and afoot >= least.walked_s
        told = ("walking", say("but_walked", by=by)) if walked else ("running", "")
    elif running >= walking and running >= least.running_s:
        told = ("running", say("but_run", by=by))
    elif kind == "unlabelled" and walking > 0.5 * track.clock.real.sum() and _known_on_foot(track):
        told = ("walking", say("walked", by=by))
    else:
        told = (_BY_FAMILY[kind], say("some_running", ran=running, by=by) if running > 0 else "")
    return told


def _known_on_foot(track: Track) -> bool:
    """Whether steps or positions say that it was walked: a speed alone may be of a swim or a boat."""
    return track.gait.by != "speed" or "lat_deg" in track.recorded


def _with_breaks(track: Track, limits: Limits) -> float:
    """Seconds from stretch to stretch of running; after a break too long for a rest the run was over."""
    at = np.flatnonzero(track.gait.running)
    if len(at) == 0:
        return 0.0
    breaks = np.flatnonzero(np.diff(track.clock.rows_s[at]) > limits.gait.longest_break_s)
    first, last = at[np.concatenate(([0], breaks + 1))], at[np.concatenate((breaks, [len(at) - 1]))]
    wheels = np.concatenate(([0], np.cumsum(track.gait.vehicle)))
    lasted = track.clock.rows_s[last] + 1.0 - track.clock.rows_s[first]
    return float(np.sum(lasted - (wheels[last + 1] - wheels[first])))


def _passive(track: Track, limits: Limits) -> bool:
    """Whether the heart, or where it is unknown the walk around it, says that the wheels were not pedalled."""
    heart, wheels = track.heart.rows_bpm, track.gait.vehicle
    least = limits.gait.least_known_s
    riding, afoot = _median(heart, wheels, least), _median(heart, track.gait.walking | track.gait.running, least)
    if riding is not None and afoot is not None:
        return riding <= afoot + limits.sport.carried_bpm
    return track.family == "walk" or "cadence" in track.gait.by


def _median(values: Floats, rows: Flags, least: float) -> float | None:
    known = values[rows & np.isfinite(values)]
    return float(np.median(known)) if len(known) >= least else None


def _vehicle(track: Track, limits: Limits) -> str:
    known = track.pace.speed_mps[np.isfinite(track.pace.speed_mps)]
    return "transport" if len(known) and float(np.percentile(known, 95)) > limits.sport.transport_mps else "cycling"


# What each signal of a session says to the question whether there was running in it, and how good it is.


def running_signals(track: Track, limits: Limits) -> tuple[Signal, ...]:
    """Label, step rate, speed and heart rate over what was taken for running."""
    return (_label(track), _cadence(track, limits), _speed(track, limits), _heart(track, limits))


def _label(track: Track) -> Signal:
    if track.family == "run":
        return Signal("label", "good", "for", say("labelled_run"))
    return Signal("label", "none", "nothing", say("not_labelled_run"))


def _cadence(track: Track, limits: Limits) -> Signal:
    running = track.gait.running
    steps = track.spm[running & np.isfinite(track.spm)]
    if len(steps) == 0 or len(steps) < 0.5 * running.sum():
        return Signal("cadence", "none", "nothing", say("steps_unknown"))
    usual = float(np.median(steps))
    why = say("steps_over", steps=usual, ran=running.sum())
    if usual >= limits.gait.border_spm:
        return Signal("cadence", "good", "for", why)
    return Signal("cadence", "weak", "for" if usual >= limits.gait.fewest_running_spm else "nothing", why)


def _speed(track: Track, limits: Limits) -> Signal:
    """Good where nearly all of a session was at a runner's speeds; a fast part of a walk may have been carried."""
    running = track.gait.running
    speed = track.pace.speed_mps[running & np.isfinite(track.pace.speed_mps)]
    if len(speed) == 0 or len(speed) < 0.5 * running.sum():
        return Signal("speed", "none", "nothing", say("speed_unknown"))
    usual = float(np.median(speed))
    why = say("speed_over", speed=usual, ran=running.sum())
    others = track.gait.walking | track.gait.vehicle
    mostly = track.family != "walk" and running.sum() >= 2 * others.sum()
    clear = fastest_walk("run", limits) <= usual <= limits.vehicle.calm_above_mps
    return Signal("speed", "good" if mostly and clear and track.gait.by != "cadence" else "weak", "for", why)


def _heart(track: Track, limits: Limits) -> Signal:
    """A heart answers running within a minute or two; a descent it may take calmly."""
    running, heart = track.gait.running, track.heart.rows_bpm
    late = running & np.concatenate((np.zeros(min(60, len(running)), np.bool_), running[:-60]))
    at_run, at_walk = heart[late & np.isfinite(heart)], heart[track.gait.walking & np.isfinite(heart)]
    if len(at_run) < limits.gait.least_known_s:
        return Signal("heart rate", "none", "nothing", say("heart_unknown"))
    usual = float(np.median(at_run))
    if usual >= limits.gait.working_bpm:
        return Signal("heart rate", "weak", "for", say("heart_works", bpm=usual))
    if len(at_walk) < limits.gait.least_known_s:
        return Signal("heart rate", "none", "nothing", say("heart_alone", bpm=usual))
    rise = usual - float(np.median(at_walk))
    why = say("heart_over_walking", bpm=usual, rise=rise)
    if rise >= limits.gait.answer_bpm:
        return Signal("heart rate", "weak", "for", why)
    slope = track.ground.slope[running]
    down = np.isfinite(slope).any() and float(np.nanmedian(slope)) < -limits.measures.easy_slope
    return Signal("heart rate", "weak", "against" if rise <= 0 and not down else "nothing", why)
