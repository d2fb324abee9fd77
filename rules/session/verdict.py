"""What one session's samples say against its stage."""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl

from rules.facts import SampleContext, Session
from rules.findings import Breach, Severity, Signal
from rules.limits import Limits
from rules.numbers import duration
from rules.session.clean import Track, clean
from rules.session.gait import fastest_walk
from rules.session_rules import over_ceiling, steep_ground
from rules.speed_work import speed_work

# Is there enough to judge by? Each function says why not; an empty text where there is.


def heart_not_believed(track: Track, session: Session, limits: Limits) -> str:
    """Too much of the heart rate masked: whatever is left is not judged."""
    whole = _whole(track, session)
    masked = track.heart.masked_s
    if masked <= limits.cleaning.unjudgeable_share * whole:
        return ""
    return f"heart rate not believed for {masked / whole * 100:.0f} % of the time"


def heart_not_known(track: Track, session: Session, limits: Limits) -> str:
    """Too little heart rate to say that nothing was wrong."""
    if session.digest.sport == "transport":
        return ""
    whole, known = _whole(track, session), track.heart.known_s
    if known + track.heart.masked_s == 0:
        return "no heart rate was recorded"
    if known < (1.0 - limits.cleaning.unjudgeable_share) * whole:
        return f"heart rate known for {known / whole * 100:.0f} % of the time only"
    return ""


def speed_not_believed(track: Track, limits: Limits) -> str:
    """Too much of the speed masked while running."""
    running = track.gait.running
    masked = float((track.pace.masked & running).sum()) / max(float(running.sum()), 1.0)
    if masked <= limits.cleaning.unjudgeable_share:
        return ""
    return f"speed not believed for {masked * 100:.0f} % of the running"


def speed_not_known(track: Track, session: Session, limits: Limits) -> str:
    """Too little speed to say that none of the running was fast."""
    known = float((np.isfinite(track.pace.speed_mps) & track.gait.running).sum())
    whole = max(float(track.gait.running.sum()), session.digest.running_s, 1.0)
    if track.pace.source == "none":
        return "no speed was recorded"
    if known < (1.0 - limits.cleaning.unjudgeable_share) * whole:
        return f"speed known for {known / whole * 100:.0f} % of the running only"
    return ""


def _whole(track: Track, session: Session) -> float:
    return max(track.clock.seconds, session.timer_s if np.isfinite(session.timer_s) else 0.0, 1.0)


# What each signal of a session says to the question whether there was running in it, and how good it is.


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
    if len(at_run) < limits.gait.least_known_s:
        return Signal("heart rate", "none", "nothing", "too little heart rate is known where it was fast")
    usual = float(np.median(at_run))
    if usual >= limits.gait.working_bpm:
        return Signal("heart rate", "weak", "for", f"{usual:.0f} bpm, more than a walk takes")
    if len(at_walk) < limits.gait.least_known_s:
        return Signal("heart rate", "none", "nothing", f"{usual:.0f} bpm, and no walk to compare it with")
    rise = usual - float(np.median(at_walk))
    why = f"{usual:.0f} bpm, {rise:+.0f} against the walking"
    if rise >= limits.gait.answer_bpm:
        return Signal("heart rate", "weak", "for", why)
    slope = track.ground.slope[running]
    down = np.isfinite(slope).any() and float(np.nanmedian(slope)) < -limits.measures.easy_slope
    return Signal("heart rate", "weak", "against" if rise <= 0 and not down else "nothing", why)


def judge_samples(
    session: Session, samples: pl.DataFrame, context: SampleContext, limits: Limits
) -> tuple[Breach, ...]:
    """One breach at most of each rule that needs the samples; `not_judged` names those that could not be told."""
    track = clean(
        session.sport, session.sub_sport, session.elapsed_s, session.pauses, samples, limits, context.highest_bpm,
        barometer=session.barometer,
    )  # fmt: skip
    untold: dict[str, str] = {}
    found: list[Breach | None] = []
    if context.ceiling is not None:
        reason = heart_not_believed(track, session, limits)
        found.append(None if reason else over_ceiling(track, context.ceiling, limits))
        if found[-1] is None:
            untold["intensity_ceiling"] = reason or heart_not_known(track, session, limits)
    if context.speed_work != "free" and has_running(session):
        reason = speed_not_believed(track, limits)
        found.append(
            None if reason else speed_work(track, context.speed_work, context.threshold, limits, session.lap_marks_s)
        )
        if found[-1] is None:
            untold["no_speed_work"] = reason or speed_not_known(track, session, limits)
    if context.easy_ground:
        found.append(steep_ground(track, limits))
    found.append(_not_judged(track, {rule: why for rule, why in untold.items() if why}, session, limits))
    return tuple(breach for breach in found if breach is not None)


def has_running(session: Session) -> bool:
    """Is there any running in it that could be fast?"""
    return session.digest.running_s > 0 or session.digest.sport == "running"


def _not_judged(track: Track, untold: dict[str, str], session: Session, limits: Limits) -> Breach | None:
    if not untold or max(session.timer_s, track.clock.seconds) < limits.verdict.least_s:
        return None
    evidence: dict[str, Any] = {
        "limits": sorted(untold),
        "why": untold,
        "hr_known_s": round(track.heart.known_s, 1),
        "masked_s": round(track.heart.masked_s, 1),
        "masked_why": dict(track.heart.reasons),
        "recorded_s": round(track.clock.seconds, 1),
        "times": [],
        "assumed": [],
    }
    said = "; ".join(f"{_SPOKEN[rule]}: {why}" for rule, why in untold.items())
    return Breach("not_judged", Severity.NOTE, f"Not judged: {said}", evidence=evidence)


_SPOKEN = {"intensity_ceiling": "heart-rate ceiling", "no_speed_work": "fast running"}
