"""What a sports physician would remark on a day of this athlete: questions and whom to ask, never a diagnosis.

They come from the roster's `health`, `gave_birth` and `born`, and change no limit. They are shown on this machine and
go into no message.
"""

from __future__ import annotations

from rules.day.decision import Decision
from rules.facts import Athlete
from rules.limits import Limits
from rules.today_table import table

ADULT_AGE = 18
MISLEADING = frozenset({"beta_blocker", "pacemaker", "insulin"})


def heart_rate_misleads(athlete: Athlete) -> bool:
    """Whether a ceiling in beats reassures falsely, so that effort and time go before it."""
    return bool(MISLEADING & set(athlete.health))


def is_young(athlete: Athlete, year: int) -> bool:
    """Whether the athlete is under 18; by the year of birth alone, the younger of the two ages it leaves open."""
    return "under_18" in athlete.health or (athlete.born is not None and year - athlete.born <= ADULT_AGE)


def remarks(decision: Decision, limits: Limits) -> tuple[str, ...]:
    """Remarks on the athlete's health that touch this day, in full sentences."""
    if not decision.active or decision.allowance is None:
        return ()
    words, athlete = table()["remark"], decision.athlete
    effort = decision.allowance.effort or limits.zones.effort_by_feel[1]
    found = [
        words[key].format(effort=effort)
        for key in ("beta_blocker", "pacemaker", "insulin", "nsaid", "low_energy")
        if key in athlete.health
    ]
    if any(each.numbers["flag"] == "bone" for each in decision.flags) and "low_energy" not in athlete.health:
        found.append(words["low_energy"])
    if is_young(athlete, decision.date.year):
        found.append(words["under_18"])
    if athlete.gave_birth is not None:
        weeks = (decision.date - athlete.gave_birth).days // 7
        if 0 <= weeks < limits.remarks.weeks_after_a_birth:
            found.append(words["gave_birth"].format(weeks=weeks))
    return tuple(found)
