"""The stage table: how the days of a reverse taper are shared among its stages."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from rules.exact import round_half_up

StageName = Literal["before", "days_off", "cross_training", "test_runs", "on_ramp", "done"]

STAGES: tuple[StageName, ...] = ("days_off", "cross_training", "test_runs", "on_ramp")
"""The stages of a plan, the strictest first."""

WEEK = 7
SHORTEST_DAYS_OFF = 3


def stage_lengths(days: int) -> list[tuple[StageName, int]]:
    """Stages and their length in days, those without a day left out."""
    if days >= 3 * WEEK:
        lengths = [WEEK, WEEK, WEEK, days - 3 * WEEK]
    else:
        third = max(SHORTEST_DAYS_OFF, round_half_up(Fraction(days, 3)))
        off = WEEK if days >= 2 * WEEK else min(days, third)
        cross = (days - off + 1) // 2
        lengths = [off, cross, days - off - cross, 0]
    return [(stage, length) for stage, length in zip(STAGES, lengths, strict=True) if length > 0]


def strictness(stage: StageName) -> int:
    """0 for the strictest stage, rising to that of no limit at all."""
    return STAGES.index(stage) if stage in STAGES else len(STAGES)
