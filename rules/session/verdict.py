"""What one session's samples say against its stage."""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl

from rules import words
from rules.facts import SampleContext, Session
from rules.findings import Breach, Severity
from rules.limits import Limits
from rules.session.clean import Track, clean
from rules.session_rules import over_ceiling, steep_ground
from rules.speed_work import speed_work

# Is there enough to judge by? Each function says why not; an empty text where there is.


def heart_not_believed(track: Track, session: Session, limits: Limits) -> str:
    """Too much of the heart rate masked: whatever is left is not judged."""
    whole = _whole(track, session)
    masked = track.heart.masked_s
    if masked <= limits.cleaning.unjudgeable_share * whole:
        return ""
    return words.session.HEART_RATE_NOT_BELIEVED.format(percent=masked / whole * 100)


def heart_not_known(track: Track, session: Session, limits: Limits) -> str:
    """Too little heart rate to say that nothing was wrong."""
    if session.digest.sport == "transport":
        return ""
    whole, known = _whole(track, session), track.heart.known_s
    if known + track.heart.masked_s == 0:
        return words.session.NO_HEART_RATE_WAS_RECORDED
    if known < (1.0 - limits.cleaning.unjudgeable_share) * whole:
        return words.session.HEART_RATE_KNOWN.format(percent=known / whole * 100)
    return ""


def speed_not_believed(track: Track, limits: Limits) -> str:
    """Too much of the speed masked while running."""
    running = track.gait.running
    masked = float((track.pace.masked & running).sum()) / max(float(running.sum()), 1.0)
    if masked <= limits.cleaning.unjudgeable_share:
        return ""
    return words.session.SPEED_NOT_BELIEVED.format(percent=masked * 100)


def speed_not_known(track: Track, session: Session, limits: Limits) -> str:
    """Too little speed to say that none of the running was fast."""
    known = float((np.isfinite(track.pace.speed_mps) & track.gait.running).sum())
    whole = max(float(track.gait.running.sum()), session.digest.running_s, 1.0)
    if track.pace.source == "none":
        return words.session.NO_SPEED_WAS_RECORDED
    if known < (1.0 - limits.cleaning.unjudgeable_share) * whole:
        return words.session.SPEED_KNOWN_FOR_OF_RUNNING.format(percent=known / whole * 100)
    return ""


def _whole(track: Track, session: Session) -> float:
    return max(track.clock.seconds, session.timer_s if np.isfinite(session.timer_s) else 0.0, 1.0)


def judge_samples(
    session: Session, samples: pl.DataFrame, context: SampleContext, limits: Limits
) -> tuple[Breach, ...]:
    """One breach at most of each rule that needs the samples; `not_judged` names those that could not be told."""
    track = clean(
        session.sport, session.sub_sport, session.elapsed_s, session.pauses, samples, limits, context.highest_bpm,
        barometer=session.barometer,
    )  # fmt: skip
    return judge_track(session, track, context, limits)


def judge_track(session: Session, track: Track, context: SampleContext, limits: Limits) -> tuple[Breach, ...]:
    """The same of samples that are cleaned already, for this athlete or with a heart that this athlete may have."""
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
    said = "; ".join(f"{words.session.SPOKEN[rule]}: {why}" for rule, why in untold.items())
    return Breach("not_judged", Severity.NOTE, f"Not judged: {said}", evidence=evidence)
