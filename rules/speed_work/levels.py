"""How fast is fast: against the athlete's threshold speed, and against the easy running of the session itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rules.facts import Threshold
from rules.limits import Limits
from rules.session.clean import Track
from rules.session.rolling import Floats, rolling_mean


@dataclass(frozen=True, slots=True)
class Levels:
    """Speeds that mean fast running in this session. `reference` is the threshold; None: only the session speaks."""

    reference: float | None
    basis: str
    confidence: str
    easy: float | None  # the session's own easy running
    short: float  # for bouts from 12 s
    burst: float  # for short bouts that stand far out from easy running though they are no faster than threshold
    apart: float  # for long bouts that stand out from easy running though they are no faster than threshold
    sustained: dict[int, float]  # seconds -> mean speed

    @property
    def by_itself(self) -> bool:
        return self.confidence == "low"


def hardness(track: Track, threshold: Threshold | None, limits: Limits) -> Floats:
    """Level-ground speed of the running, held to be a little less sure up and down hill; NaN where not running.

    Against the session's own easy running a descent tells nothing, since easy running is faster there.
    """
    slope = np.nan_to_num(track.ground.slope, nan=0.0)
    ramp = np.clip((np.abs(slope) - 0.02) / 0.02, 0.0, 1.0)
    unsure = 1.0 + limits.number("speed_work.slope_margin") * ramp
    told, speed = track.gait.running, track.effort_mps
    if threshold is None or threshold.confidence == "low":
        told = told & (slope > -limits.number("speed_work.own_descent"))
        if track.ground.noise_m > limits.number("grade.quiet_m"):
            speed = track.pace.speed_mps
    return np.where(told, speed / unsure, np.nan)


def easy_speed(hard: Floats, limits: Limits) -> float | None:
    """The easy running of the session: a low percentile of half-minute means."""
    calm = rolling_mean(hard, 31, least=20)
    known = calm[np.isfinite(calm) & np.isfinite(hard)]
    if len(known) < limits.whole("speed_work.least_running_s"):
        return None
    return float(np.percentile(known, limits.number("speed_work.easy_percentile")))


def levels(track: Track, hard: Floats, threshold: Threshold | None, limits: Limits) -> Levels:
    """Fast by threshold where it is known well enough, else by contrast to the session's own easy running."""
    easy = easy_speed(hard, limits)
    noise = limits.number("speed_work.noise_sd") * track.pace.noise_mps
    if threshold is None or threshold.confidence == "low":
        return _own(easy, threshold, noise * limits.number("speed_work.own_noise"), limits)
    margin = limits.value("speed_work.margin")[threshold.confidence]
    reference, base = threshold.speed_mps, easy or 0.0
    return Levels(
        reference,
        threshold.basis,
        threshold.confidence,
        easy,
        short=max(
            reference * limits.number("speed_work.short") * margin,
            min(base + noise, base * limits.number("speed_work.noise_most")),
        ),
        burst=max(
            reference * limits.number("speed_work.burst_of_threshold"),
            (easy or np.inf) * limits.number("speed_work.own_short"),
            base + noise,
        ),
        apart=max(
            reference * limits.number("speed_work.apart_of_threshold"),
            (easy or np.inf) * limits.number("speed_work.apart"),
            base + noise,
        ),
        sustained={int(s): reference * share for s, share in limits.value("speed_work.sustained")},
    )


def _own(easy: float | None, threshold: Threshold | None, noise: float, limits: Limits) -> Levels:
    """Only the session's own easy running, with wider margins; a poorly known threshold is a floor under it."""
    base = easy if easy is not None else np.inf
    floor = threshold.speed_mps if threshold else 0.0
    fast_for_anyone = limits.number("speed_work.fast_for_anyone_mps")
    long = min(base * limits.number("speed_work.own_long"), fast_for_anyone)
    sustained = {int(s): max(long, floor) for s, _ in limits.value("speed_work.sustained") if s >= 300}
    return Levels(
        None if threshold is None else threshold.speed_mps,
        "session" if threshold is None else threshold.basis,
        "low",
        easy,
        short=max(min(max(base * limits.number("speed_work.own_short"), base + noise), fast_for_anyone), floor),
        burst=limits.number("speed_work.burst_mps") if easy is None else np.inf,
        apart=np.inf,
        sustained=sustained,
    )
