"""Athletes as the board knows them, from facts given by day after the race, without a store."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

from monitor.board.board_data import KnownAthlete, known
from monitor.roster import RosterAthlete
from monitor.store.seasons import Season
from monitor.values import IntakeOptions
from rules.facts import Athlete
from rules.judge import judge
from tests.rules.people import LIMITS, at, athlete, history, quiet


def roster_athlete(one: Athlete) -> RosterAthlete:
    return RosterAthlete(one, Path("/nowhere"), (), IntakeOptions(one.timezone))


def scene(
    *facts: Any, day: int = 20, runner: Athlete | None = None, last_file_at: datetime | None = None
) -> KnownAthlete:
    """What is known at noon of a day after the race, with the findings of a full judgement."""
    now = at(day, 12)
    told = history(*facts, runner=runner, last_file_at=last_file_at or now)
    found = judge(told, now, LIMITS, 72, quiet).findings
    season = Season(
        list(told.sessions),
        list(told.nights),
        list(told.mornings),
        list(told.checkins),
        list(told.holds),
        sorted(found, key=lambda each: (each.date, each.subject_end), reverse=True),
        last_file_at or now,
    )
    return known(roster_athlete(runner or athlete()), season, now, LIMITS)
