"""What one session's samples say against its stage: ceiling, speed work, ground, and what is too little to judge by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from rules.facts import Ceiling, SampleContext, Session
from rules.findings import Breach, Said, Severity, say
from rules.limits import Limits
from rules.session.digest import climb, most_within
from rules.session.timeline import Flags, Floats, Samples, Stretch, as_times, rolling_mean, stretches
from rules.session.track import Track, clean
from rules.speed_work import speed_work

# Time above the stage's ceiling of heart rate.


def over_ceiling(track: Track, ceiling: Ceiling, limits: Limits) -> Breach | None:
    """More than the ceiling for two minutes or more in all, each sample weighted by its time, masked time left out."""
    over = track.heart.believed & (track.heart.bpm > ceiling.bpm)
    total = float(track.heart.weight_s[over].sum())
    severity = _severity(track, ceiling, total, limits)
    if severity is None:
        return None
    evidence = _evidence(track, ceiling, over, total, limits)
    highest = evidence["highest_minute_bpm"]
    top = say("highest_minute", bpm=highest) if highest is not None else ""
    return Breach(
        rule="intensity_ceiling",
        severity=severity,
        summary=say("above_ceiling", total=total, bpm=ceiling.bpm, longest=evidence["longest_s"], highest=top),
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
        "assumed": [say("hr_max_from_age", off=off)] if ceiling.estimated else [],
    }


# Long or steep ground where the stage asks for easy ground.


@dataclass(frozen=True, slots=True)
class _Seen:
    metres: Floats  # on foot, a second a row
    steep: list[Stretch]
    up_m: float
    down_m: float
    most_m: float  # up or down on the ground that the limit is for
    limit_m: float
    within_m: float


def steep_ground(track: Track, limits: Limits) -> Breach | None:
    """A steep stretch, or much climb or descent for the distance, on foot."""
    afoot = track.gait.running | track.gait.walking
    metres = np.where(afoot, np.nan_to_num(track.pace.speed_mps), 0.0)
    if metres.sum() < limits.ground.least_m or not np.isfinite(track.ground.slope).any():
        return None
    ground = limits.ground
    if float(track.gait.running.sum()) >= 0.5 * float(afoot.sum()):
        slope, limit = ground.steep_running, ground.most_running_m
    else:
        slope, limit = ground.steep_walking, ground.most_walking_m
    steep = _steep_stretches(track, metres, slope, ground.steep_m)
    within = limit / limits.ground.most_per_km * 1000.0
    most = max(most_within(track, metres, within, limits))
    if not steep and most < limit:
        return None
    up, down = climb(track, limits)
    quiet = track.ground.noise_m <= limits.grade.quiet_m
    return _breach(
        track, _Seen(metres, steep, up or 0.0, down or 0.0, most, limit, within), ground.steep_m, quiet=quiet
    )


def _steep_stretches(track: Track, metres: Floats, least_slope: float, least_m: float) -> list[Stretch]:
    """Stretches on foot, steep throughout, up or down, over enough ground."""
    found: list[Stretch] = []
    for sign in (1.0, -1.0):
        with np.errstate(invalid="ignore"):
            flags = (track.ground.sure_slope * sign >= least_slope) & (metres > 0)
        found += [(a, b) for a, b in stretches(flags, bridge=5) if metres[a:b].sum() >= least_m]
    return sorted(found)


def _breach(track: Track, seen: _Seen, least_m: float, *, quiet: bool) -> Breach:
    steepest = max((float(np.nanmean(track.ground.slope[a:b])) for a, b in seen.steep), key=abs, default=0.0)
    steep: Said = ""
    if seen.steep:
        seconds = sum(b - a for a, b in seen.steep)
        steep = say("steep_down" if steepest < 0 else "steep_up", took=seconds, percent=abs(steepest) * 100)
    steep_m = round(sum(float(seen.metres[a:b].sum()) for a, b in seen.steep), 1)
    by_metres = seen.most_m >= seen.limit_m
    return Breach(
        rule="steep_ground",
        severity=Severity.CAUTION,
        summary=say("hilly", up=seen.up_m, down=seen.down_m, km=seen.metres.sum() / 1000, steep=steep),
        observed=round(seen.most_m, 1) if by_metres else steep_m,
        limit=seen.limit_m if by_metres else least_m,
        unit="m",
        evidence={
            "distance_m": round(float(seen.metres.sum())),
            "ascent_m": round(seen.up_m, 1),
            "descent_m": round(seen.down_m, 1),
            "most_m": round(seen.most_m, 1),
            "within_m": round(seen.within_m),
            "steepest_slope": round(steepest, 3),
            "steep_m": steep_m,
            "times": as_times(seen.steep, track.clock.rows_s),
            "masked_s": track.ground.masked_s,
            "altitude_noise_m": round(track.ground.noise_m, 1),
            "assumed": [] if quiet else [say("altitude_is_rough")],
        },
    )


# What one session's samples say against its stage.


# Is there enough to judge by? Each function says why not; an empty text where there is.
def heart_not_believed(track: Track, session: Session, limits: Limits) -> Said:
    """Too much of the heart rate masked: whatever is left is not judged."""
    whole = _whole(track, session)
    masked = track.heart.masked_s
    if masked <= limits.cleaning.unjudgeable_share * whole:
        return ""
    return say("hr_not_believed", percent=masked / whole * 100)


def heart_not_known(track: Track, session: Session, limits: Limits) -> Said:
    """Too little heart rate to say that nothing was wrong."""
    if session.digest.sport == "transport":
        return ""
    whole, known = _whole(track, session), track.heart.known_s
    if known + track.heart.masked_s == 0:
        return say("hr_not_recorded")
    if known < (1.0 - limits.cleaning.unjudgeable_share) * whole:
        return say("hr_known", percent=known / whole * 100)
    return ""


def speed_not_believed(track: Track, limits: Limits) -> Said:
    """Too much of the speed masked while running."""
    running = track.gait.running
    masked = float((track.pace.masked & running).sum()) / max(float(running.sum()), 1.0)
    if masked <= limits.cleaning.unjudgeable_share:
        return ""
    return say("speed_not_believed", percent=masked * 100)


def speed_not_known(track: Track, session: Session, limits: Limits) -> Said:
    """Too little speed to say that none of the running was fast."""
    known = float((np.isfinite(track.pace.speed_mps) & track.gait.running).sum())
    whole = max(float(track.gait.running.sum()), session.digest.running_s, 1.0)
    if track.pace.source == "none":
        return say("speed_not_recorded")
    if known < (1.0 - limits.cleaning.unjudgeable_share) * whole:
        return say("speed_known", percent=known / whole * 100)
    return ""


def _whole(track: Track, session: Session) -> float:
    return max(track.clock.seconds, session.timer_s if np.isfinite(session.timer_s) else 0.0, 1.0)


def cleaned(session: Session, samples: Samples, limits: Limits, highest_bpm: float | None) -> Track:
    """The samples of a session as its verdict and its pictures see them."""
    return clean(
        session.sport, session.sub_sport, session.elapsed_s, session.pauses, samples, limits, highest_bpm,
        barometer=session.barometer,
    )  # fmt: skip


def judge_samples(session: Session, samples: Samples, context: SampleContext, limits: Limits) -> tuple[Breach, ...]:
    """One breach at most of each rule that needs the samples; `not_judged` names those that could not be told."""
    return judge_track(session, cleaned(session, samples, limits, context.highest_bpm), context, limits)


def judge_track(session: Session, track: Track, context: SampleContext, limits: Limits) -> tuple[Breach, ...]:
    """The same of samples that are cleaned already, for this athlete or with a heart that this athlete may have."""
    untold: dict[str, Said] = {}
    found: list[Breach | None] = []
    if context.ceiling is not None:
        reason = heart_not_believed(track, session, limits)
        found.append(None if reason else over_ceiling(track, context.ceiling, limits))
        if found[-1] is None:
            untold["intensity_ceiling"] = reason or heart_not_known(track, session, limits)
    if context.speed_work != "free" and may_have_run(session):
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


def may_have_run(session: Session) -> bool:
    """Is there any running in it that could be fast?"""
    return session.digest.running_s > 0 or session.digest.sport == "running"


OF_RULE = {"intensity_ceiling": "of_ceiling", "no_speed_work": "of_fast_running"}


def _not_judged(track: Track, untold: dict[str, Said], session: Session, limits: Limits) -> Breach | None:
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
    told = say("not_judged", why=[say(OF_RULE[rule], why=why) for rule, why in untold.items()])
    return Breach("not_judged", Severity.NOTE, told, evidence=evidence)
