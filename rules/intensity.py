"""Time above the stage's ceiling of heart rate."""

from __future__ import annotations

from typing import Any

import numpy as np

from rules.facts import Ceiling
from rules.findings import Breach, Severity
from rules.limits import Limits
from rules.session.clean import Track
from rules.session.rolling import Flags, rolling_mean
from rules.session.stretches import as_times, stretches
from rules.wording import duration


def over_ceiling(track: Track, ceiling: Ceiling, limits: Limits) -> Breach | None:
    """More than the ceiling for two minutes or more in all, each sample weighted by its time, masked time left out."""
    over = track.heart.believed & (track.heart.bpm > ceiling.bpm)
    total = float(track.heart.weight_s[over].sum())
    severity = _severity(track, ceiling, total, limits)
    if severity is None:
        return None
    evidence = _evidence(track, ceiling, over, total, limits)
    highest = evidence["highest_minute_bpm"]
    top = f", highest minute {highest} bpm" if highest is not None else ""
    return Breach(
        rule="intensity_ceiling",
        severity=severity,
        summary=f"{duration(total)} above {ceiling.bpm} bpm, longest stretch {duration(evidence['longest_s'])}{top}",
        observed=round(total, 1),
        limit=limits.intensity_ceiling.caution_seconds,
        unit="s",
        evidence=evidence,
    )


def _severity(track: Track, ceiling: Ceiling, total: float, limits: Limits) -> Severity | None:
    if total < limits.intensity_ceiling.caution_seconds:
        return None
    far = track.heart.believed & (track.heart.bpm >= ceiling.bpm + limits.intensity_ceiling.far_over_bpm)
    far_s = float(track.heart.weight_s[far].sum())
    if total >= limits.intensity_ceiling.stop_seconds or far_s >= limits.intensity_ceiling.far_over_seconds:
        return Severity.STOP
    return Severity.CAUTION


def _evidence(track: Track, ceiling: Ceiling, over: Flags, total: float, limits: Limits) -> dict[str, Any]:
    heart, weight = track.heart, track.heart.weight_s
    off = limits.zones.estimated_ceiling_bpm
    rows_over = np.nan_to_num(heart.rows_bpm) > ceiling.bpm
    spans = stretches(rows_over, bridge=5)
    longest = max((b - a for a, b in spans), default=0)
    minute = rolling_mean(heart.rows_bpm, 61, least=50)
    far = heart.believed & (heart.bpm >= ceiling.bpm + limits.intensity_ceiling.far_over_bpm)
    return {
        "ceiling_bpm": ceiling.bpm,
        "zone": ceiling.zone,
        "reason": ceiling.reason,
        "above_s": round(total, 1),
        "longest_s": float(min(max(longest, 1), total)),
        "mean_excess_bpm": round(float(np.average(heart.bpm[over] - ceiling.bpm, weights=weight[over])), 1),
        "far_above_s": round(float(weight[far].sum()), 1),
        "highest_minute_bpm": round(float(np.nanmax(minute))) if np.isfinite(minute).any() else None,
        "times": as_times(spans, track.clock.rows_s),
        "known_s": round(heart.known_s, 1),
        "masked_s": round(heart.masked_s, 1),
        "masked_why": dict(heart.reasons),
        "assumed": [f"HRmax estimated from age; the ceiling may be off by some {off:g} bpm"]
        if ceiling.estimated
        else [],
    }
