"""What one session's samples say against its stage."""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl

from rules.facts import SampleContext, Session
from rules.findings import Breach, Severity
from rules.ground import steep_ground
from rules.intensity import over_ceiling
from rules.limits import Limits
from rules.session.clean import Track, clean
from rules.speed_work import speed_work


def judge_samples(
    session: Session, samples: pl.DataFrame, context: SampleContext, limits: Limits
) -> tuple[Breach, ...]:
    """One breach at most of each rule that needs the samples; `not_judged` names those that could not be told."""
    track = clean(session.sport, session.sub_sport, session.elapsed_s, session.pauses, samples, limits)
    untold: dict[str, str] = {}
    found: list[Breach | None] = []
    if context.ceiling is not None:
        reason = _heart_too_thin(track, session, limits)
        found.append(None if reason else over_ceiling(track, context.ceiling, limits))
        if reason:
            untold["intensity_ceiling"] = reason
    if context.speed_work != "free" and _runs(session):
        reason = _speed_too_thin(track, session, limits)
        found.append(None if reason else speed_work(track, context.speed_work, context.threshold, limits))
        if reason:
            untold["no_speed_work"] = reason
    if context.easy_ground:
        found.append(steep_ground(track, limits))
    found.append(_not_judged(track, untold, session, limits))
    return tuple(breach for breach in found if breach is not None)


def _runs(session: Session) -> bool:
    return session.digest.running_s > 0 or session.digest.sport == "running"


def _heart_too_thin(track: Track, session: Session, limits: Limits) -> str:
    """Why heart rate cannot tell; empty where it can."""
    if track.family == "vehicle" or session.digest.sport == "transport":
        return ""
    whole = max(track.clock.seconds, 1.0)
    share = limits.number("cleaning.unjudgeable_share")
    known, masked = track.heart.known_s, track.heart.masked_s
    if known + masked == 0:
        return "no heart rate was recorded"
    if masked > share * whole:
        return f"heart rate not believed for {masked / whole * 100:.0f} % of the time"
    if known < (1.0 - 2 * share) * whole:
        return f"heart rate known for {known / whole * 100:.0f} % of the time only"
    return ""


def _speed_too_thin(track: Track, session: Session, limits: Limits) -> str:
    """Why speed cannot tell; empty where it can."""
    running = track.gait.running
    known = np.isfinite(track.pace.speed_mps) & running
    share = limits.number("cleaning.unjudgeable_share")
    if track.pace.source == "none" or not running.any():
        return "no speed was recorded" if session.digest.sport == "running" or session.digest.running_s > 0 else ""
    masked = float((track.pace.masked & running).sum()) / float(running.sum())
    if masked > share:
        return f"speed not believed for {masked * 100:.0f} % of the running"
    if known.sum() < share * running.sum():
        return f"speed known for {known.sum() / running.sum() * 100:.0f} % of the running only"
    return ""


def _not_judged(track: Track, untold: dict[str, str], session: Session, limits: Limits) -> Breach | None:
    if not untold or max(session.timer_s, track.clock.seconds) < limits.number("verdict.least_s"):
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
