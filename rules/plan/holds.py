"""Holds and releases: how the coach stretches a stage, waits with it, or lets it go on.

A hold of some days makes the stage of its day so many days longer. A hold without an end keeps the next stage
waiting. A release undoes the holds before it and opens what data had shut up to its day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from rules.facts import Hold


@dataclass(frozen=True, slots=True)
class Holds:
    """The overrides of one plan, in the order in which they were given."""

    holds: tuple[Hold, ...]
    releases: tuple[Hold, ...]

    @classmethod
    def since(cls, overrides: Sequence[Hold], day0: date) -> Holds:
        """Those that can act on a plan whose race finished on `day0`."""
        ordered = sorted(overrides, key=lambda each: (each.at, each.on, each.kind, each.days or 0, each.why))
        acting = [each for each in ordered if each.on >= day0]
        return cls(
            tuple(each for each in acting if each.kind == "hold"),
            tuple(each for each in acting if each.kind == "release"),
        )

    def in_force(self, first: date, last: date, on: date) -> list[Hold]:
        """Holds given from `first` to `last` that no release up to `on` has undone."""
        return [hold for hold in self.holds if first <= hold.on <= last and not self._undone(hold, on)]

    def _undone(self, hold: Hold, on: date) -> bool:
        return any(hold.on <= each.on <= on and each.at > hold.at for each in self.releases)

    def released_since(self, evidence: date, moment: float, on: date) -> bool:
        """Whether a release up to `on` answers evidence of a day and moment (seconds since 1970)."""
        return answered_by_release(evidence, moment, on, self.releases)


def answered_by_release(evidence: date, moment: float, on: date, releases: Sequence[Hold]) -> bool:
    """Whether one of the releases up to `on` answers evidence: it answers what was known when it was given."""
    return any(evidence <= each.on <= on and moment <= each.at.timestamp() for each in releases)


LONGEST_HOLD_DAYS = 366


def added_days(holds: Sequence[Hold]) -> int:
    """Days by which holds with an end stretch the stage; days held twice count once."""
    held: set[date] = set()
    for hold in holds:
        held.update(hold.on + timedelta(days=day) for day in range(min(hold.days or 0, LONGEST_HOLD_DAYS)))
    return len(held)
