"""A plan: the reverse taper after one race, with its stages as gates and holds have moved them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from rules.body.baseline import Baseline, baseline, by_date, resting_hr
from rules.body.checkins import flag_spans, in_time, since_race
from rules.body.mornings import mornings_up, resting_limit
from rules.facts import Athlete, CheckIn, Hold, Morning, Race
from rules.limits import Limits
from rules.plan.allowance import Allowance, allowance, free_day
from rules.plan.ceilings import Ceilings, ceilings
from rules.plan.days import PlanDay, lay_days
from rules.plan.gates import GateFacts, Holds, Stop, answers_of, in_order
from rules.plan.rows import GateRecord, PlannedStage, gate_records, planned_stages
from rules.plan.stages import Length, StageName, plan_length, stage_lengths


@dataclass(frozen=True, slots=True)
class Plan:
    """The reverse taper after one race as it stands on `as_of`. Day 0 is the local date of the finish."""

    athlete: Athlete
    race: Race
    begins: datetime  # the finish, in UTC
    day0: date
    as_of: date
    length: Length
    ceilings: Ceilings
    resting: Baseline | None
    other_races: frozenset[date]
    stages: tuple[PlannedStage, ...]
    gates: tuple[GateRecord, ...]
    holds: tuple[Hold, ...]
    days: tuple[PlanDay, ...]
    allowances: tuple[Allowance, ...]

    @property
    def length_days(self) -> int:
        """Days as planned, before any gate or hold."""
        return self.length.days

    @property
    def last_day(self) -> int:
        """The last day of the plan as moved."""
        return len(self.days)

    @property
    def last_date(self) -> date:
        return self.day0 + timedelta(days=self.last_day)

    @property
    def estimated(self) -> tuple[str, ...]:
        return self.ceilings.estimated

    def day_of(self, on: date) -> int:
        """Number of a calendar day: 0 on the day of the finish, negative before."""
        return (on - self.day0).days

    def stage_on(self, on: date) -> StageName:
        """Stage of a calendar day; what is left of day 0 after the finish belongs to the first stage."""
        return self.allowance_on(on).stage

    def stage_at(self, moment: datetime) -> StageName:
        """Stage at a moment, which on day 0 hangs on the finish."""
        if moment < self.begins:
            return "before"
        return self.stage_on(self.athlete.local_date(moment))

    def planned_stage(self, on: date) -> PlannedStage | None:
        """The row of the stage table for a calendar day; None outside the plan."""
        day = max(self.day_of(on), 1)
        return next((row for row in self.stages if row.first_day <= day <= row.last_day), None)

    def is_active(self, moment: datetime) -> bool:
        """Whether the moment lies between the finish and the end of the last day."""
        return self.begins <= moment and self.athlete.local_date(moment) <= self.last_date

    def allowance_on(self, on: date) -> Allowance:
        """What a calendar day allows."""
        day = self.day_of(on)
        if day < 0:
            return free_day("before", day, on)
        if day > self.last_day:
            return free_day("done", day, on)
        return self.allowances[day]


def build_plan(
    race: Race,
    athlete: Athlete,
    limits: Limits,
    *,
    as_of: date,
    checkins: Iterable[CheckIn] = (),
    mornings: Iterable[Morning] = (),
    stops: Iterable[Stop] = (),
    holds: Sequence[Hold] = (),
) -> Plan:
    """The plan after a race. Gates are judged day by day up to `as_of`; later ones are taken to be open."""
    day0 = race.finish.astimezone(athlete.zone).date()
    others = frozenset(each for each in _finishes(athlete) if each < day0)
    values = by_date(mornings, resting_hr)
    resting = baseline(values, day0, others, limits)
    acting = Holds.since(holds, day0)
    up = mornings_up(values, day0, resting_limit(resting, limits), limits)
    since = [each for each in in_time(checkins) if since_race(each, race.finish, day0)]
    facts = GateFacts(
        zone=athlete.zone,
        as_of=as_of,
        flags=flag_spans(since, acting.releases, day0),
        answers=answers_of(since, limits),
        resting_days=tuple(day for day in values if day > day0),
        resting_up=frozenset(up),
        stops=in_order([stop for stop in stops if stop.end.astimezone(UTC) > race.finish.astimezone(UTC)]),
        holds=acting,
        limits=limits,
        coached=athlete.coached,
    )
    return _laid_out(race, athlete, day0, facts, resting, others)


def _finishes(athlete: Athlete) -> set[date]:
    return {each.finish.astimezone(athlete.zone).date() for each in athlete.races}


def _laid_out(
    race: Race, athlete: Athlete, day0: date, facts: GateFacts, resting: Baseline | None, others: frozenset[date]
) -> Plan:
    limits = facts.limits
    length = plan_length(race, limits)
    lengths = stage_lengths(length.days, limits)
    days = lay_days(day0, lengths, facts)
    both = ceilings(athlete, day0.year, resting, limits)
    first_stop = min((stop.day for stop in facts.stops), default=date.max)
    allowances = tuple(
        allowance(day, number, both, limits, after_a_stop=first_stop < day.day)
        for number, day in enumerate(days, start=1)
    )
    overrides = (*facts.holds.holds, *facts.holds.releases)
    return Plan(
        athlete=athlete,
        race=race,
        begins=race.finish.astimezone(UTC),
        day0=day0,
        as_of=facts.as_of,
        length=length,
        ceilings=both,
        resting=resting,
        other_races=others,
        stages=planned_stages(lengths, days, allowances, both, limits),
        gates=gate_records(days, facts.as_of),
        holds=tuple(each for each in overrides if each.on <= days[-1].day),
        days=days,
        allowances=(_day_zero(allowances[0], day0), *allowances),
    )


def _day_zero(first: Allowance, day0: date) -> Allowance:
    """What is left of the day of the race after the finish: as the first day after it."""
    return Allowance(**{**{name: getattr(first, name) for name in first.__slots__}, "day": 0, "date": day0})
