"""One session's samples, cleaned: the clock, the heart, the speed, the ground and the gait of every second."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from rules.limits import Limits
from rules.session.altitude import Ground, doubted, effort_speed, ground, not_believed
from rules.session.gait import ON_FOOT, Gait, Motion, calm, gait, on_wheels, own_speed, steps_per_minute
from rules.session.heart import Heart, clean_heart
from rules.session.labels import Family, family, indoors
from rules.session.pace import Pace, pace
from rules.session.timeline import Floats, Samples, Timeline, columns, timeline


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
