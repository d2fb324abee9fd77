"""What the session really was, whatever its label says."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rules.session.clean import Track
from rules.session.gait import ON_FOOT
from rules.session.labels import Family, family
from rules.wording import duration

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
    reason: str
    running_s: float
    walking_s: float
    carried_s: float


def judge_sport(track: Track, sport: str, sub_sport: str, timer_s: float) -> Sport:
    """Label, cadence, speed and ground together."""
    running, walking = float(track.gait.running.sum()), float(track.gait.walking.sum())
    on_wheels = float(track.gait.vehicle.sum())
    recorded = float(track.clock.real.sum())
    label = " ".join(word for word in (sport, sub_sport) if word and word != "generic") or "nothing"
    kind = track.family
    if kind == "run" and timer_s > recorded and running >= 0.5 * recorded:
        running *= timer_s / recorded if recorded >= 60 else 1.0
    if kind == "run" and recorded == 0:
        running = timer_s
    name, why = _name(track, family(sport, sub_sport), running, walking, on_wheels)
    reason = f"labelled {label}{why}"
    return Sport(name, reason, running, walking, on_wheels)


def _name(track: Track, labelled: Family, running: float, walking: float, on_wheels: float) -> tuple[str, str]:
    kind, by = track.family, track.gait.by
    afoot = running + walking
    if kind not in ON_FOOT or kind == "race_walk":
        said = (_BY_FAMILY[kind], "" if kind == labelled else ", but with the speed and cadence of a ride")
    elif on_wheels > max(afoot, 120.0) and running < 60:
        said = (_vehicle(track), ", but faster for longer than anyone runs")
    elif kind == "run":
        walked = running < 0.1 * afoot and afoot >= 300
        said = ("walking", f", but walked by its {by}") if walked else ("running", "")
    elif running >= 0.5 * afoot and running >= 60:
        said = ("running", f", but mostly run by its {by}")
    elif kind == "unlabelled" and walking > 0.5 * track.clock.real.sum():
        said = ("walking", f", walked by its {by}")
    else:
        some = f", with {duration(running)} of running by its {by}" if running > 0 else ""
        said = (_BY_FAMILY[kind], some)
    return said


def _vehicle(track: Track) -> str:
    known = track.pace.speed_mps[np.isfinite(track.pace.speed_mps)]
    return "transport" if len(known) and float(np.percentile(known, 95)) > 14.0 else "cycling"
