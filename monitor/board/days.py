"""The days of a plan in figures: what each was planned to be, what it allowed, and what came in on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from rules.body.mornings import Baseline
from rules.facts import Athlete, CheckIn, Session
from rules.history import Ordered, heart_recovery, plan_checkins
from rules.limits import Limits
from rules.plan import Allowance, Plan, stage_lengths
from rules.plan.stages import believed_seconds
from rules.session.labels import NO_EXERCISE, running_seconds, sport_seconds

GUTTER = 0.14
"""Share of the width that is left to the words beside a chart."""
ONE = timedelta(days=1)


@dataclass(slots=True)  # made by the thousand, and freezing doubles what that takes
class Outing:
    """A session as the charts show it; heart rates are the 5th, 50th and 95th of each hundred seconds."""

    session: Session
    on: date
    sport: str
    minutes: float
    counted_min: float  # of it, to the day's cap
    running_min: float
    above_min: float | None  # over the day's ceiling; None without heart rate or without ceiling
    heart: tuple[int, int, int] | None
    highest: int | None
    ceiling: int | None


@dataclass(slots=True)  # made by the thousand, and freezing doubles what that takes
class Day:
    date: date
    number: int
    stage: str
    planned: str  # stage by the plan before any gate or hold
    held: bool
    allowed: Allowance
    outings: tuple[Outing, ...]
    resting: float | None
    rmssd_ln: float | None
    asleep_min: float | None
    checkin: CheckIn | None

    @property
    def counted_min(self) -> float:
        return sum(outing.counted_min for outing in self.outings)


@dataclass(frozen=True, slots=True)
class ChartDays:
    """All days from the race to the end of the plan, as it was planned or as it goes, with the normals held against."""

    plan: Plan
    today: date
    days: tuple[Day, ...]
    width: float  # of a day, as a share of the width
    resting_normal: Baseline | None
    rmssd_normal: Baseline | None

    @property
    def first(self) -> date:
        return self.plan.day0

    def edge(self, on: date) -> float:
        """Where a day begins, as a share of the width."""
        return GUTTER + (on - self.first).days * self.width

    def middle(self, on: date) -> float:
        return GUTTER + ((on - self.first).days + 0.5) * self.width

    @property
    def shows_today(self) -> bool:
        return self.first <= self.today <= self.days[-1].date

    def so_far(self) -> tuple[Day, ...]:
        return tuple(day for day in self.days if day.date <= self.today)

    def since_race(self) -> tuple[Day, ...]:
        """Days after the race up to today."""
        return tuple(day for day in self.so_far() if day.number > 0)


def sheet(plan: Plan, facts: Ordered, today: date, limits: Limits) -> ChartDays:
    """The days of one plan."""
    heart = heart_recovery(facts, plan, limits)
    checkins = plan_checkins(facts, plan)
    outings = _outings(plan, facts, limits)
    planned = _planned(plan, limits)
    held = {day.day for day in plan.days if day.held}
    last = max(plan.last_date, plan.day0 + ONE * len(planned))
    days = []
    for number in range((last - plan.day0).days + 1):
        on = plan.day0 + ONE * number
        days.append(
            Day(
                date=on,
                number=number,
                stage=plan.stage_on(on),
                planned=planned.get(number, "done" if number else "before"),
                held=on in held,
                allowed=plan.allowance_on(on),
                outings=tuple(outings.get(on, ())),
                resting=heart.resting.get(on),
                rmssd_ln=heart.ln_rmssd.get(on),
                asleep_min=facts.asleep.get(on),
                checkin=checkins.get(on),
            )
        )
    width = (1 - GUTTER) / len(days)
    return ChartDays(plan, today, tuple(days), width, heart.resting_normal, heart.ln_rmssd_normal)


def _planned(plan: Plan, limits: Limits) -> dict[int, str]:
    """Day number -> stage as planned before any gate or hold."""
    found: dict[int, str] = {}
    for stage, length in stage_lengths(plan.length_days, limits):
        for _ in range(length):
            found[len(found) + 1] = stage
    return found


def _outings(plan: Plan, facts: Ordered, limits: Limits) -> dict[date, list[Outing]]:
    found: dict[date, list[Outing]] = {}
    last = plan.last_date
    for session in facts.sessions:
        on = facts.days[session.key]
        if (
            plan.day0 <= on <= last
            and session.start >= plan.begins
            and session.key not in facts.races
            and session.digest.sport not in NO_EXERCISE
        ):
            found.setdefault(on, []).append(_outing(session, on, plan, facts.athlete, limits))
    return found


def _outing(session: Session, on: date, plan: Plan, athlete: Athlete, limits: Limits) -> Outing:
    allowed = plan.allowance_on(on)
    ceiling = allowed.ceiling.bpm if allowed.ceiling else None
    seconds = believed_seconds(session, athlete, plan.day0.year, limits)
    known = bool(seconds)
    above = sum(spent for bpm, spent in seconds.items() if bpm > ceiling) / 60 if known and ceiling else None
    return Outing(
        session=session,
        on=on,
        sport=session.digest.sport,
        minutes=session.timer_s / 60,
        counted_min=sport_seconds(session, limits) / 60,
        running_min=running_seconds(session) / 60,
        above_min=above,
        heart=_spread(seconds) if known else None,
        highest=max(seconds) if known else None,
        ceiling=ceiling,
    )


def _spread(seconds: dict[int, float]) -> tuple[int, int, int]:
    """Heart rates below which 5, 50 and 95 of each hundred seconds were spent."""
    total, so_far = sum(seconds.values()), 0.0
    marks, found = [0.05, 0.5, 0.95], []
    for bpm in sorted(seconds):
        so_far += seconds[bpm]
        while marks and so_far >= marks[0] * total:
            found.append(bpm)
            marks.pop(0)
    found += [max(seconds)] * len(marks)
    return found[0], found[1], found[2]


def runs(days: Sequence[Day], what: str = "stage") -> list[tuple[str, Day, Day]]:
    """Unbroken spans of one stage: its name, first and last day."""
    found: list[tuple[str, Day, Day]] = []
    for day in days:
        name = getattr(day, what)
        if found and found[-1][0] == name:
            found[-1] = (name, found[-1][1], day)
        else:
            found.append((name, day, day))
    return found
