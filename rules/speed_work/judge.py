"""Is there speed work in it, and how is it put so that a coach believes it?"""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from rules.facts import Threshold
from rules.findings import Breach, Severity
from rules.limits import Limits
from rules.session.clean import Track
from rules.session.stretches import as_times
from rules.speed_work.bouts import Bout
from rules.speed_work.levels import Levels, hardness, levels
from rules.speed_work.search import Work, search
from rules.wording import duration, pace

Policy = Literal["none", "strides", "free"]


def speed_work(track: Track, policy: Policy, threshold: Threshold | None, limits: Limits) -> Breach | None:
    """The fast running of a session, unless the stage allows it."""
    if policy == "free" or not track.gait.running.any():
        return None
    hard = hardness(track, threshold, limits)
    fast = levels(track, hard, threshold, limits)
    work = search(track, hard, fast, limits)
    if work is None or (policy == "strides" and _only_strides(work, limits)):
        return None
    return _breach(track, work.kind, work.bouts, fast)


def _only_strides(work: Work, limits: Limits) -> bool:
    longest = limits.whole("speed_work.stride_s")
    short = all(b.seconds <= longest for b in work.bouts)
    return short and len(work.bouts) <= limits.whole("speed_work.strides") and work.kind != "hill repeats"


def _breach(track: Track, kind: str, found: list[Bout], fast: Levels) -> Breach:
    seconds = float(sum(b.seconds for b in found))
    weights = [b.seconds for b in found]
    speed = float(np.average([b.speed_mps for b in found], weights=weights))
    effort = float(np.average([b.effort_mps for b in found], weights=weights))
    reference, name = _reference(fast, effort)
    over = effort / reference - 1.0
    amount = duration(seconds) if len(found) == 1 else f"{len(found)} x {duration(float(np.median(weights)))}"
    uphill = f" uphill, worth {pace(effort)} on the level" if effort > 1.1 * speed else ""
    than = f"{abs(over) * 100:.0f} % {'faster' if over >= 0 else 'slower'} than {name}"
    return Breach(
        rule="no_speed_work",
        severity=Severity.STOP,
        summary=f"{kind}: {amount} at {pace(speed)}{uphill}, {than}",
        observed=round(effort, 3),
        limit=round(reference, 3),
        unit="m/s",
        evidence=_evidence(track, kind, found, fast)
        | {"fast_s": seconds, "speed_mps": round(speed, 4), "over_reference": round(over, 3)},
    )


def _reference(fast: Levels, effort: float) -> tuple[float, str]:
    if fast.reference is not None and fast.confidence != "low":
        return fast.reference, "your threshold pace"
    return fast.easy or fast.reference or effort, "your easy running in this session"


def _evidence(track: Track, kind: str, found: list[Bout], fast: Levels) -> dict[str, Any]:
    assumed = [f"threshold speed from {fast.basis}, confidence {fast.confidence}"]
    if fast.basis == "session":
        assumed = ["no threshold is known; judged against the easy running of the session itself, confidence low"]
    return {
        "kind": kind,
        "bouts": len(found),
        "bout_seconds": [b.seconds for b in found],
        "bout_speed_mps": [round(b.speed_mps, 2) for b in found],
        "bout_level_speed_mps": [round(b.effort_mps, 2) for b in found],
        "bout_slope": [round(b.slope, 3) for b in found],
        "bout_steps_per_min": [None if b.spm is None else round(b.spm) for b in found],
        "times": as_times([(b.start, b.end) for b in found], track.clock.rows_s),
        "threshold_mps": None if fast.reference is None else round(fast.reference, 3),
        "threshold_basis": fast.basis,
        "threshold_confidence": fast.confidence,
        "easy_mps": None if fast.easy is None else round(fast.easy, 3),
        "speed_from": track.pace.source,
        "masked_s": float(track.pace.masked.sum()),
        "assumed": assumed,
    }
