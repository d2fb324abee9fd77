"""Is there enough to judge by? Each function says why not; an empty text where there is."""

from __future__ import annotations

import numpy as np

from rules.facts import Session
from rules.limits import Limits
from rules.session.clean import Track


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
