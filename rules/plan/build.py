"""A plan: the reverse taper after one race, with its stages as gates and holds have moved them, and their table.

Where the plans of several races overlap, the stricter stage rules the day.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import groupby

from rules import words
from rules.body.checkins import flag_spans, in_time, since_race
from rules.body.mornings import Baseline, baseline, by_date, mornings_up, resting_hr, resting_limit
from rules.facts import Athlete, Ceiling, CheckIn, Hold, Morning, Race, Session
from rules.findings import Statement
from rules.limits import Limits
from rules.plan.days import (
    Allowance,
    GateFacts,
    Holds,
    PlanDay,
    Shut,
    Stop,
    allowance,
    answers_of,
    free_day,
    in_order,
    lay_days,
)
from rules.plan.stages import Ceilings, Length, StageName, ceilings, plan_length, stage_lengths, strictness
from rules.words import amounts

# Several races: which plan rules a day, and which recordings are a race itself. Each race has its own plan. Where
# plans overlap the stricter stage rules the day; between equal stages the one with the closed ceiling, then the
# smaller share of running, then the later race. Between plans there is no limit.


def ruling_at(plans: Iterable[Plan], moment: datetime) -> Plan | None:
    """The plan that rules a moment; None where none is active."""
    active = [plan for plan in plans if plan.is_active(moment)]
    return _strictest([(plan, plan.allowance_on(plan.athlete.local_date(moment))) for plan in active])


def ruling_on(plans: Iterable[Plan], day: date) -> Plan | None:
    """The plan that rules a whole day after the day of its race; None where none does."""
    return _strictest([(plan, plan.allowance_on(day)) for plan in plans if plan.day0 < day <= plan.last_date])


def _strictest(candidates: list[tuple[Plan, Allowance]]) -> Plan | None:
    if len(candidates) <= 1:
        return candidates[0][0] if candidates else None
    return min(candidates, key=_strictness)[0]


def _strictness(candidate: tuple[Plan, Allowance]) -> tuple[int, bool, float, float]:
    plan, allowed = candidate
    share = 1.0 if allowed.weekly_share is None else allowed.weekly_share
    return strictness(allowed.stage), allowed.ceiling_open, share, -plan.race.finish.timestamp()


def current_plan(plans: Sequence[Plan], now: datetime) -> Plan | None:
    """The plan to show: the one that rules now, else the last that is done, else the first that is to come."""
    ruling = ruling_at(plans, now)
    if ruling is not None:
        return ruling
    finished = [plan for plan in plans if plan.stage_at(now) == "done"]
    if finished:
        return max(finished, key=lambda plan: plan.race.finish.timestamp())
    return min(plans, key=lambda plan: plan.race.finish.timestamp(), default=None)


def own_files(sessions: Sequence[Session], races: Iterable[Race], limits: Limits) -> frozenset[str]:
    """Keys of the recordings that are a race: around its finish, and those that lead up to it without a gap."""
    found: set[str] = set()
    for race in races:
        found.update(session.key for session in race_recordings(sessions, race, limits))
    return frozenset(found)


def race_recordings(sessions: Sequence[Session], race: Race, limits: Limits) -> list[Session]:
    """The recordings of one race in order; the last runs at the finish, with the slack of clocks and typed times."""
    slack = timedelta(minutes=limits.race_file.slack_minutes)
    gap = timedelta(minutes=limits.race_file.gap_minutes)
    finish = race.finish.astimezone(UTC)
    before = [session for session in sessions if session.start.astimezone(UTC) < finish]
    chain: list[Session] = []
    begins = finish - slack
    reach = timedelta(0)
    for session in sorted(before, key=lambda recording: recording.end, reverse=True):
        if session.end.astimezone(UTC) < begins - reach:
            break
        chain.append(session)
        begins = min(begins, session.start.astimezone(UTC)) if len(chain) > 1 else session.start.astimezone(UTC)
        reach = gap
    return sorted(chain, key=lambda recording: (recording.start, recording.key))


# The plan as a table: a row a stage with its dates and limits, and what became of each gate.
@dataclass(frozen=True, slots=True)
class PlannedStage:
    """One row: the stage as moved by gates and holds, its limits and their reasons."""

    stage: StageName
    first_day: int
    last_day: int
    first_date: date
    last_date: date
    planned_days: int
    held_days: int
    running: str
    duration_cap_min: int | None
    run_cap_min: int | None
    tolerated_run_min: int | None
    ceiling: Ceiling | None
    strength: str
    speed_work: str
    effort: str
    reasons: tuple[str, ...]

    @property
    def ceiling_bpm(self) -> int | None:
        return self.ceiling.bpm if self.ceiling is not None else None


@dataclass(frozen=True, slots=True)
class GateRecord:
    """A gate that was shut: before which stage, from when to when (None: still shut), why, and what it asks for."""

    before: StageName
    since: date
    until: date | None
    reasons: tuple[Shut, ...]

    @property
    def asks(self) -> tuple[str, ...]:
        """What would open it now."""
        return tuple(dict.fromkeys(shut.asks for shut in self.reasons))


def planned_stages(
    lengths: Sequence[tuple[StageName, int]],
    days: Sequence[PlanDay],
    allowances: Sequence[Allowance],
    ceilings: Ceilings,
    limits: Limits,
) -> tuple[PlannedStage, ...]:
    """Rows of the stage table in order."""
    planned = dict(lengths)
    rows = []
    for stage, group in groupby(zip(days, allowances, strict=True), key=lambda pair: pair[0].stage):
        pairs = list(group)
        rows.append(_row(stage, planned[stage], pairs, ceilings, limits))
    return tuple(rows)


def _row(
    stage: StageName,
    planned: int,
    pairs: list[tuple[PlanDay, Allowance]],
    ceilings: Ceilings,
    limits: Limits,
) -> PlannedStage:
    first, allowed = pairs[0]
    last, last_allowed = pairs[-1]
    reasons = [*allowed.reasons, *_of_the_end(stage, pairs, limits), *_of_holding(planned, pairs)]
    tolerated = next((allows.tolerated_run_min for _, allows in pairs if allows.tolerated_run_min), None)
    strides = any(allows.speed_work == "strides" for _, allows in pairs)
    open_days = words.plan.STRIDES_IN_LAST_DAYS.format(open_last_days=limits.on_ramp.open_last_days) if strides else ""
    return PlannedStage(
        stage=stage,
        first_day=allowed.day,
        last_day=last_allowed.day,
        first_date=first.day,
        last_date=last.day,
        planned_days=planned,
        held_days=len(pairs) - planned,
        running=words.plan.RUNNING_WORDS[stage],
        duration_cap_min=allowed.day_cap_min,
        run_cap_min=allowed.run_cap_min,
        tolerated_run_min=tolerated,
        ceiling=ceilings.of(1 if stage == "days_off" else 2),
        strength=words.plan.STRENGTH_WORDS[allowed.strength],
        speed_work="none" + open_days,
        effort=allowed.effort,
        reasons=tuple(dict.fromkeys(reasons)),
    )


def _of_the_end(stage: StageName, pairs: list[tuple[PlanDay, Allowance]], limits: Limits) -> list[str]:
    """What the last days of a stage allow beyond the others."""
    if stage == "on_ramp":
        shares = dict.fromkeys(allowed.weekly_share for _, allowed in pairs if allowed.weekly_share is not None)
        text = ", then ".join(f"{share * 100:.0f} %" for share in shares)
        last = limits.on_ramp.open_last_days
        return [
            words.plan.RUNNING_WEEK.format(words=text),
            words.plan.LAST_DAYS_NO_CEILING.format(last=last),
        ]
    return [allowed.reasons[-1] for _, allowed in pairs if allowed.tolerated_run_min][:1]


def _of_holding(planned: int, pairs: list[tuple[PlanDay, Allowance]]) -> list[str]:
    """Why a stage is longer than planned."""
    extra = len(pairs) - planned
    if not extra:
        return []
    told = latest_of_each([shut for day, _ in pairs for shut in day.shut])
    return [
        words.plan.LONGER_THAN_PLANNED.format(extra=amounts.counted(extra, "day")),
        *dict.fromkeys(shut.reason for shut in told),
    ]


REPEATING = ("coach", "morning")


def latest_of_each(reasons: Sequence[Shut]) -> tuple[Shut, ...]:
    """Each reason once; of those that say the same again with a later date, only the latest."""
    latest = {shut.by: shut for shut in sorted(reasons, key=lambda shut: shut.since) if shut.by in REPEATING}
    return tuple(dict.fromkeys(latest.get(shut.by, shut) for shut in reasons))


def gate_records(days: Sequence[PlanDay], as_of: date) -> tuple[GateRecord, ...]:
    """Every gate that was or is shut, in order; days after as-of tell only how long it stays shut at least."""
    records = []
    stages: list[StageName] = list(dict.fromkeys(day.stage for day in days))
    following = dict(zip(stages, [*stages[1:], "done"], strict=True))
    for stage in stages:
        held = [day for day in days if day.stage == stage and day.held]
        if not held or held[0].day > as_of:
            continue
        last = held[-1].day
        until = None if last >= as_of else last + timedelta(days=1)
        reasons = [shut for day in held if day.day <= as_of for shut in day.shut]
        if until is None:
            reasons = [shut for day in held if day.day == as_of for shut in day.shut]
        records.append(GateRecord(following[stage], held[0].day, until, latest_of_each(reasons)))
    return tuple(records)


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
    def estimated(self) -> tuple[Statement, ...]:
        return self.ceilings.estimated

    def day_of(self, on: date) -> int:
        """Number of a calendar day: 0 on the day of the finish, negative before."""
        return (on - self.day0).days

    def stage_on(self, on: date) -> StageName:
        """Stage of a calendar day; what is left of day 0 after the finish belongs to the first stage."""
        return self.allowance_on(on).stage

    def stage_at(self, moment: datetime) -> StageName:
        """Stage at a moment, which on day 0 depends on the finish."""
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
    others = frozenset(finish for finish in _finishes(athlete) if finish < day0)
    values = by_date(mornings, resting_hr)
    resting = baseline(values, day0, others, limits)
    acting = Holds.since(holds, day0)
    up = mornings_up(values, day0, resting_limit(resting, limits), limits)
    since = [checkin for checkin in in_time(checkins) if since_race(checkin, race.finish, day0)]
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
    return {race.finish.astimezone(athlete.zone).date() for race in athlete.races}


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
        holds=tuple(override for override in overrides if override.on <= days[-1].day),
        days=days,
        allowances=(_day_zero(allowances[0], day0), *allowances),
    )


def _day_zero(first: Allowance, day0: date) -> Allowance:
    """What is left of the day of the race after the finish: as the first day after it."""
    return Allowance(**{**{name: getattr(first, name) for name in first.__slots__}, "day": 0, "date": day0})
