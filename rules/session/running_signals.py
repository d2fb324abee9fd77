"""What each signal of a session says to the question whether there was running in it, and how good it is."""

from __future__ import annotations

import numpy as np

from rules.evidence import Signal
from rules.limits import Limits
from rules.session.clean import Track
from rules.session.gait import fastest_walk
from rules.wording import duration


def running_signals(track: Track, limits: Limits) -> tuple[Signal, ...]:
    """Label, step rate, speed and heart rate over what was taken for running."""
    return (_label(track), _cadence(track, limits), _speed(track, limits), _heart(track, limits))


def _label(track: Track) -> Signal:
    if track.family == "run":
        return Signal("label", "good", "for", "it is labelled as a run")
    return Signal("label", "none", "nothing", "it is not labelled as a run")


def _cadence(track: Track, limits: Limits) -> Signal:
    running = track.gait.running
    steps = track.spm[running & np.isfinite(track.spm)]
    if len(steps) < 0.5 * running.sum():
        return Signal("cadence", "none", "nothing", "no step rate is known where it was fast")
    usual = float(np.median(steps))
    why = f"{usual:.0f} steps/min over {duration(float(running.sum()))}"
    if usual >= limits.gait.border_spm:
        return Signal("cadence", "good", "for", why)
    return Signal("cadence", "weak", "for" if usual >= limits.gait.fewest_running_spm else "nothing", why)


def _speed(track: Track, limits: Limits) -> Signal:
    """Good where nearly all of a session was at a runner's speeds; a fast part of a walk may have been carried."""
    running = track.gait.running
    speed = track.pace.speed_mps[running & np.isfinite(track.pace.speed_mps)]
    if len(speed) < 0.5 * running.sum():
        return Signal("speed", "none", "nothing", "no speed is known where it was fast")
    usual = float(np.median(speed))
    why = f"{usual:.1f} m/s over {duration(float(running.sum()))}"
    others = track.gait.walking | track.gait.vehicle
    mostly = track.family != "walk" and running.sum() >= 2 * others.sum()
    clear = fastest_walk("run", limits) <= usual <= limits.vehicle.calm_above_mps
    return Signal("speed", "good" if mostly and clear and track.gait.by != "cadence" else "weak", "for", why)


def _heart(track: Track, limits: Limits) -> Signal:
    """A heart answers running within a minute or two; a descent it may take calmly."""
    running, heart = track.gait.running, track.heart.rows_bpm
    late = running & np.concatenate((np.zeros(min(60, len(running)), np.bool_), running[:-60]))
    at_run, at_walk = heart[late & np.isfinite(heart)], heart[track.gait.walking & np.isfinite(heart)]
    if len(at_run) < 60:
        return Signal("heart rate", "none", "nothing", "too little heart rate is known where it was fast")
    usual = float(np.median(at_run))
    if usual >= limits.gait.working_bpm:
        return Signal("heart rate", "weak", "for", f"{usual:.0f} bpm, more than a walk takes")
    if len(at_walk) < 60:
        return Signal("heart rate", "none", "nothing", f"{usual:.0f} bpm, and no walk to compare it with")
    rise = usual - float(np.median(at_walk))
    why = f"{usual:.0f} bpm, {rise:+.0f} against the walking"
    if rise >= limits.gait.answer_bpm:
        return Signal("heart rate", "weak", "for", why)
    slope = track.ground.slope[running]
    down = np.isfinite(slope).any() and float(np.nanmedian(slope)) < -limits.measures.easy_slope
    return Signal("heart rate", "weak", "against" if rise <= 0 and not down else "nothing", why)
