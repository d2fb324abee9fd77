"""Training impulse from the seconds spent at each heart rate.

TRIMP = minutes x x b e^(k x), x = share of heart rate reserve; men b 0.64, k 1.92; women b 0.86, k 1.67
(Banister 1991; Morton, Fitz-Clarke, Banister 1990 J Appl Physiol 69:1171). Summed over the seconds at each heart
rate: the formula is steeper than straight, so the mean heart rate of a session undercounts it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from rules.facts import Athlete, Session, Sex
from rules.limits import Limits
from rules.plan.ceilings import believable_bpm

WEIGHTS: dict[str, tuple[float, float]] = {"male": (0.64, 1.92), "female": (0.86, 1.67)}


def believed_seconds(session: Session, athlete: Athlete, year: int, limits: Limits) -> dict[int, float]:
    """Whole bpm -> seconds of a session, without beats that this heart does not do.

    A digest knows no athlete, so it still holds them.
    """
    highest = believable_bpm(athlete, year, limits)
    return {bpm: spent for bpm, spent in session.digest.hr_seconds.items() if highest is None or bpm <= highest}


def trimp(hr_seconds: Mapping[int, float], rest: float, highest: float, sex: Sex | None) -> float:
    """Training impulse; where sex is not told, the mean of both weightings. 0 where the reserve is not positive."""
    if highest <= rest:
        return 0.0
    kinds = [WEIGHTS[sex]] if sex else list(WEIGHTS.values())
    total = 0.0
    for bpm, seconds in hr_seconds.items():
        share = min(max((bpm - rest) / (highest - rest), 0.0), 1.0)
        total += seconds / 60 * share * sum(b * math.exp(k * share) for b, k in kinds) / len(kinds)
    return total
