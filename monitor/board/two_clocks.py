"""Recovery of the heart by resting heart rate, and of tendon and bone by time and load: the "two clocks"."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from operator import mul

from monitor import words
from monitor.board.days import ChartDays
from monitor.plain_text import number
from rules.body.mornings import resting_limit
from rules.facts import Athlete, Session, Sex
from rules.history import Ordered
from rules.limits import Limits
from rules.plan.stages import believed_seconds, estimated_hr_max, trimp
from rules.words import amounts

SPAN = timedelta(days=7)
HIGHEST_BPM = 255  # that the store can hold
USUAL_WEEKS = 5
"""Weeks before the race week that a usual week is the mean of."""


@dataclass(frozen=True, slots=True)
class Clocks:
    """Seven days to each evening since the race, as shares of the usual week; empty where no usual week is known."""

    heart: dict[date, float]
    impact: dict[date, float]
    said: str


def clocks(sheet: ChartDays, facts: Ordered, limits: Limits) -> Clocks:
    """Both loads of a plan, the race itself left out."""
    day0 = sheet.plan.day0
    trained = [session for session in facts.sessions if session.key not in facts.races]
    first = day0 - SPAN * (USUAL_WEEKS + 1)
    usual = [session for session in trained if first <= facts.days[session.key] < day0 - SPAN]
    since = [
        session
        for session in trained
        if day0 <= facts.days[session.key] <= sheet.today and session.start > sheet.plan.begins
    ]
    heart = _Heart(facts.athlete, sheet, limits)
    usual_heart = heart.load(usual) / USUAL_WEEKS if heart.known else 0.0
    usual_impact = sum(session.digest.impact_load for session in usual) / USUAL_WEEKS
    by_day: dict[date, list[Session]] = defaultdict(list)
    for each in since:
        by_day[facts.days[each.key]].append(each)
    hearts = {on: heart.load(sessions_of_day) for on, sessions_of_day in by_day.items()} if heart.known else {}
    impacts = {
        on: sum(session.digest.impact_load for session in sessions_of_day) for on, sessions_of_day in by_day.items()
    }
    days = [sheet_day.date for sheet_day in sheet.so_far()]
    found_heart = _shares(hearts, usual_heart, days)
    found_impact = _shares(impacts, usual_impact, days)
    return Clocks(found_heart, found_impact, _said(sheet, found_heart, found_impact, limits))


@dataclass(frozen=True, slots=True)
class _Heart:
    """What a heart's load is reckoned from; rest and highest as the roster or the mornings and the age tell them."""

    athlete: Athlete
    sheet: ChartDays
    limits: Limits

    @property
    def rest(self) -> float | None:
        normal = self.sheet.resting_normal
        return self.athlete.hr_rest or (normal.middle if normal else None)

    @property
    def highest(self) -> float | None:
        if self.athlete.hr_max is not None:
            return self.athlete.hr_max
        if self.athlete.born is None:
            return None
        return float(estimated_hr_max(self.athlete.born, self.sheet.plan.day0.year, self.limits))

    @property
    def known(self) -> bool:
        return self.rest is not None and self.highest is not None

    def load(self, sessions: Iterable[Session]) -> float:
        """TRIMP of sessions: a sum over seconds, so each heart rate is weighed once for all of them."""
        weight = _weights(self.rest or 0.0, self.highest or 0.0, self.athlete.sex).__getitem__
        year = self.sheet.plan.day0.year
        spent = (believed_seconds(session, self.athlete, year, self.limits) for session in sessions)
        return sum(sum(map(mul, seconds.values(), map(weight, seconds))) for seconds in spent)


@lru_cache(maxsize=256)
def _weights(rest: float, highest: float, sex: Sex | None) -> tuple[float, ...]:
    """TRIMP of a second at each heart rate."""
    return tuple(trimp({bpm: 1.0}, rest, highest, sex) for bpm in range(HIGHEST_BPM + 1))


def _shares(loads: dict[date, float], usual: float, days: Sequence[date]) -> dict[date, float]:
    if usual <= 0:
        return {}
    by_day = [loads.get(on, 0.0) for on in days]
    return {on: sum(by_day[max(at - SPAN.days + 1, 0) : at + 1]) / usual for at, on in enumerate(days)}


def _said(sheet: ChartDays, heart: dict[date, float], impact: dict[date, float], limits: Limits) -> str:
    parts = [_resting(sheet, limits)]
    for name, values in ((words.board.WORK_OF_HEART, heart), (words.board.IMPACT_LABEL, impact)):
        if values:
            parts.append(
                words.board.SHARE_OF_USUAL_WEEK.format(name=name, percent=number(list(values.values())[-1] * 100, 0))
            )
        else:
            parts.append(words.board.NO_USUAL_WEEK.format(name=name))
    return ". ".join(part[:1].upper() + part[1:] for part in parts if part) + "."


def _resting(sheet: ChartDays, limits: Limits) -> str:
    """Since when the resting heart rate has been near its usual."""
    normal = sheet.resting_normal
    if normal is None or resting_limit(normal, limits) is None:
        return ""
    near = normal.middle + limits.feels_too_good.resting_bpm
    told = [sheet_day for sheet_day in sheet.since_race() if sheet_day.resting is not None]
    back: date | None = None
    for sheet_day in reversed(told):
        if (sheet_day.resting or 0.0) > near:
            break
        back = sheet_day.date
    if back is None:
        return words.board.RESTING_NOT_BACK if told else ""
    return words.board.RESTING_IS_BACK.format(back=amounts.weekday(back))
