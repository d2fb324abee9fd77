"""The days of a plan, one after the other: what each allows, and what keeps the next stage from beginning on one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from rules import words
from rules.body.checkins import FlagSpan
from rules.facts import Ceiling, CheckIn, Hold
from rules.limits import Limits
from rules.plan.stages import WEEK, Ceilings, StageName, exact
from rules.words import amounts


# Holds and releases: how the coach stretches a stage, waits with it, or lets it go on. A hold of some days makes the
# stage of its day so many days longer. A hold without an end keeps the next stage waiting. A release undoes the holds
# before it and opens what data had shut up to its day.
@dataclass(frozen=True, slots=True)
class Holds:
    """The overrides of one plan, in the order in which they were given."""

    holds: tuple[Hold, ...]
    releases: tuple[Hold, ...]

    @classmethod
    def since(cls, overrides: Sequence[Hold], day0: date) -> Holds:
        """Those that can act on a plan whose race finished on `day0`."""
        ordered = sorted(
            overrides, key=lambda override: (override.at, override.on, override.kind, override.days or 0, override.why)
        )
        acting = [override for override in ordered if override.on >= day0]
        return cls(
            tuple(override for override in acting if override.kind == "hold"),
            tuple(override for override in acting if override.kind == "release"),
        )

    def in_force(self, first: date, last: date, on: date) -> list[Hold]:
        """Holds given from `first` to `last` that no release up to `on` has undone."""
        return [hold for hold in self.holds if first <= hold.on <= last and not self._undone(hold, on)]

    def _undone(self, hold: Hold, on: date) -> bool:
        return any(hold.on <= release.on <= on and release.at > hold.at for release in self.releases)

    def released_since(self, evidence: date, moment: float, on: date) -> bool:
        """Whether a release up to `on` answers evidence of a day and moment (seconds since 1970)."""
        return answered_by_release(evidence, moment, on, self.releases)


def answered_by_release(evidence: date, moment: float, on: date, releases: Sequence[Hold]) -> bool:
    """Whether one of the releases up to `on` answers evidence: it answers what was known when it was given."""
    return any(evidence <= release.on <= on and moment <= release.at.timestamp() for release in releases)


def added_days(holds: Sequence[Hold], limits: Limits) -> int:
    """Days by which holds with an end stretch the stage; days held twice count once."""
    held: set[date] = set()
    for hold in holds:
        days = min(hold.days or 0, limits.gates.hold_days_at_most)
        held.update(hold.on + timedelta(days=day) for day in range(days))
    return len(held)


ShutBy = Literal["red flag", "check-in", "morning", "stop", "coach", "hold"]


@dataclass(frozen=True, slots=True)
class Stop:
    """A session that was a `stop` for running or speed work."""

    session: str
    day: date  # local date of its start
    end: datetime


@dataclass(frozen=True, slots=True)
class Shut:
    """One reason why a gate is shut; `asks` is what would open it."""

    by: ShutBy
    since: date  # day of the evidence
    reason: str
    asks: str


@dataclass(frozen=True, slots=True)
class GateAnswer:
    """The latest answer to one question of the check-ins, and whether it keeps a gate shut."""

    day: date
    moment: float  # when it was told, seconds since 1970
    bad: bool
    reason: str
    value: float | bool


@dataclass(frozen=True, slots=True)
class GateFacts:
    """All that gates of one plan look at, in order of days."""

    zone: ZoneInfo
    as_of: date
    flags: tuple[FlagSpan, ...]
    answers: dict[str, tuple[GateAnswer, ...]]
    resting_days: tuple[date, ...]
    resting_up: frozenset[date]
    stops: tuple[Stop, ...]
    holds: Holds
    limits: Limits
    coached: bool = True


def answers_of(checkins: Iterable[CheckIn], limits: Limits) -> dict[str, tuple[GateAnswer, ...]]:
    """Stairs, squat and pain as answered in check-ins in order of time; a question left out keeps its last answer."""
    found: dict[str, list[GateAnswer]] = {"stairs": [], "squat": [], "pain": []}
    worst = limits.gates.pain
    for checkin in checkins:
        for name, value in (("stairs", checkin.stairs_unaided), ("squat", checkin.squat_unaided)):
            if value is not None:
                reason = words.plan.NOT_MANAGED_UNAIDED.format(name=name, date=amounts.weekday(checkin.date))
                found[name].append(GateAnswer(checkin.date, checkin.order, not value, reason, value))
        if checkin.pain is not None:
            reason = words.plan.PAIN_OF.format(pain=checkin.pain, date=amounts.weekday(checkin.date))
            found["pain"].append(GateAnswer(checkin.date, checkin.order, checkin.pain >= worst, reason, checkin.pain))
    return {name: tuple(answers) for name, answers in found.items()}


def shut_on(day: date, tried: date, facts: GateFacts, given: Sequence[Hold]) -> tuple[Shut, ...]:
    """Why the next stage cannot begin on `day`, first tried on `tried`; what data may say after as-of is left open."""
    shut = [*_by_stop(day, facts)]
    if day <= facts.as_of:
        shut += [*_by_red_flag(day, facts), *_by_checkin(day, tried, facts), *_by_morning(day, tried, facts)]
        shut += [*_by_coach(day, facts), *_by_hold(day, given, facts)]
    return tuple(shut)


def _still(day: date, tried: date, evidence: date, moment: float, facts: GateFacts) -> bool:
    """Whether evidence of a check-in or a morning still counts: not released, and not older than it may be."""
    at_most = timedelta(days=facts.limits.gates.data_days_at_most)
    return day < max(tried, evidence) + at_most and not facts.holds.released_since(evidence, moment, day)


def _by_red_flag(day: date, facts: GateFacts) -> Iterable[Shut]:
    for span in facts.flags:
        if span.stands_on(day):
            reason = f"{span.flag.name}, told on {amounts.weekday(span.day)}"
            yield Shut("red flag", span.day, reason, words.plan.CHECK_IN_THAT_SAYS)


def _by_checkin(day: date, tried: date, facts: GateFacts) -> Iterable[Shut]:
    for answers in facts.answers.values():
        known = [answer for answer in answers if answer.day <= day]
        if known and known[-1].bad and _still(day, tried, known[-1].day, known[-1].moment, facts):
            yield Shut("check-in", known[-1].day, known[-1].reason, words.plan.NEW_CHECK)


def _by_morning(day: date, tried: date, facts: GateFacts) -> Iterable[Shut]:
    resting_days = [rested for rested in facts.resting_days if rested <= day]
    if not resting_days or resting_days[-1] not in facts.resting_up:
        return
    woke = datetime.combine(resting_days[-1], time.min, facts.zone).timestamp()
    if _still(day, tried, resting_days[-1], woke, facts):
        reason = words.plan.RESTING_HEART_RATE_UP.format(resting_days=amounts.weekday(resting_days[-1]))
        yield Shut("morning", resting_days[-1], reason, words.plan.NEW_RESTING_HEART_RATE)


def _by_stop(day: date, facts: GateFacts) -> Iterable[Shut]:
    hours = facts.limits.gates.stop_hours
    midnight = datetime.combine(day, time.min, facts.zone).astimezone(UTC)
    for stop in facts.stops:
        until = stop.end.astimezone(UTC) + timedelta(hours=hours)
        if stop.day < day and midnight < until and not _released(stop, day, facts):
            local = until.astimezone(facts.zone)
            reason = words.plan.STOP_ON.format(
                day=amounts.weekday(stop.day), hours=hours, until=amounts.weekday(local), clock=local
            )
            yield Shut("stop", stop.day, reason, words.plan.REST_UNTIL)


def _by_coach(day: date, facts: GateFacts) -> Iterable[Shut]:
    """From the second stop of a plan on the coach decides; without a coach it takes a release too."""
    number = facts.limits.gates.stops_for_the_coach
    at_most = timedelta(days=facts.limits.gates.coach_days_at_most)
    waiting = [stop for stop in facts.stops[number - 1 :] if stop.day < day < stop.day + at_most]
    waiting = [stop for stop in waiting if not _released(stop, day, facts)]
    if waiting:
        wait, ask = (words.plan.HELD_FOR_COACH, words.plan.RELEASE_BY_COACH) if facts.coached else ("held", "a release")
        reason = words.plan.MORE_STOPS.format(number=number, day=amounts.weekday(waiting[-1].day), wait=wait)
        yield Shut("coach", waiting[-1].day, reason, ask)


def _released(stop: Stop, day: date, facts: GateFacts) -> bool:
    return any(stop.day <= release.on <= day and release.at >= stop.end for release in facts.holds.releases)


def _by_hold(day: date, given: Sequence[Hold], facts: GateFacts) -> Iterable[Shut]:
    at_most = timedelta(days=facts.limits.gates.open_hold_days_at_most)
    for hold in given:
        if hold.days is None and day < hold.on + at_most:
            why = f": {hold.why}" if hold.why else ""
            yield Shut("hold", hold.on, f"held since {amounts.weekday(hold.on)}{why}", "a release")


def in_order(stops: Sequence[Stop]) -> tuple[Stop, ...]:
    return tuple(sorted(stops, key=lambda stop: (stop.end, stop.session)))


# What a day allows may depend on how near the end of its stage is. That end is always the one known on the day itself,
# so nothing that happens later changes how a day was to be spent.
ONE = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class PlanDay:
    """One day: its stage, the stage's first day and its last as known on this day, and why it was held, if it was."""

    day: date
    stage: StageName
    stage_first: date
    stage_last: date
    stage_planned_days: int
    shut: tuple[Shut, ...] = ()

    @property
    def held(self) -> bool:
        """Whether this day belongs to the stage only because the next gate is shut."""
        return bool(self.shut)

    @property
    def days_left(self) -> int:
        """Days of the stage after this one, as known on this day; below 0 on days that a gate has added."""
        return (self.stage_last - self.day).days


def lay_days(day0: date, lengths: Sequence[tuple[StageName, int]], facts: GateFacts) -> tuple[PlanDay, ...]:
    """Every day from day 1 to the last, in order and without a gap."""
    days: list[PlanDay] = []
    day = day0 + ONE
    for number, (stage, length) in enumerate(lengths):
        held_from = day0 if number == 0 else day
        days += _stage_days(day, held_from, stage, length, facts)
        day = days[-1].day + ONE
    return tuple(days)


def _stage_days(first: date, held_from: date, stage: StageName, length: int, facts: GateFacts) -> list[PlanDay]:
    """The days of one stage. A hold acts on the stage its day belongs to, not on one that ends the day before."""
    days: list[PlanDay] = []
    tried: date | None = None
    day = first
    while True:
        given = facts.holds.in_force(held_from, day - ONE, day)
        shut: tuple[Shut, ...] = ()
        if day > _last(first, length, given, facts.limits):
            tried = tried or day
            shut = shut_on(day, tried, facts, given)
            if not shut:
                return days
        planned = length + added_days(facts.holds.in_force(held_from, day, day), facts.limits)
        days.append(PlanDay(day, stage, first, first + timedelta(days=planned - 1), planned, shut))
        day += ONE


def _last(first: date, length: int, given: Sequence[Hold], limits: Limits) -> date:
    return first + timedelta(days=length + added_days(given, limits) - 1)


# What one day of a plan allows.

Running = Literal["none", "tolerated", "test", "share", "free"]
Strength = Literal["none", "under_ceiling", "free"]
SpeedWork = Literal["none", "strides", "free"]


@dataclass(frozen=True, slots=True)
class Allowance:
    """The limits of one day. Without a ceiling it is open where `ceiling_open` says so, else by feel: see `effort`."""

    stage: StageName
    day: int
    date: date
    running: Running
    day_cap_min: int | None = None
    run_cap_min: int | None = None
    tolerated_run_min: int | None = None
    ceiling: Ceiling | None = None
    ceiling_open: bool = False
    strength: Strength = "none"
    speed_work: SpeedWork = "none"
    easy_ground: bool = True
    rest_day_between_runs: bool = False
    weekly_share: float | None = None
    effort: str = ""
    reasons: tuple[str, ...] = ()


def free_day(stage: StageName, day: int, on: date) -> Allowance:
    """A day outside any plan: nothing is limited."""
    return Allowance(
        stage, day, on, "free", ceiling_open=True, strength="free", speed_work="free", easy_ground=False,
        reasons=("no limit",),
    )  # fmt: skip


def allowance(
    day: PlanDay, number: int, ceilings: Ceilings, limits: Limits, *, after_a_stop: bool = False
) -> Allowance:
    """The limits of a day of a plan; `number` counts from the day after the finish.

    `after_a_stop`: a session on a day before was a stop for running or speed work, so that no run is tolerated.
    """
    if day.stage == "cross_training":
        return _cross_training(day, number, ceilings, limits, after_a_stop=after_a_stop)
    build = {"days_off": _days_off, "test_runs": _test_runs, "on_ramp": _on_ramp}
    return build[day.stage](day, number, ceilings, limits)


def _cap(minutes: int, source: str) -> tuple[int, str]:
    return minutes, words.plan.MOST_MIN_DAY.format(minutes=minutes, source=source)


def _ceiling_reason(zone: int, ceilings: Ceilings) -> str:
    ceiling = ceilings.of(zone)
    if ceiling is None:
        reasons = "; ".join(map(words.said, ceilings.reasons))
        return words.plan.ZONE_BY_FEEL.format(zone=zone, effort=ceilings.effort[zone - 1], reasons=reasons)
    return words.plan.HEART_RATE_UP.format(bpm=ceiling.bpm, reason=words.said(ceiling.reason))


def _days_off(day: PlanDay, number: int, ceilings: Ceilings, limits: Limits) -> Allowance:
    cap, cap_reason = _cap(limits.days_off.day_cap_minutes, limits.source("days_off.day_cap_minutes"))
    reasons = (words.plan.NO_RUNNING, cap_reason, _ceiling_reason(1, ceilings))
    return Allowance(
        "days_off", number, day.day, "none", cap, ceiling=ceilings.zone1, effort=ceilings.effort[0], reasons=reasons,
    )  # fmt: skip


def tolerates_a_run(day: PlanDay, limits: Limits) -> bool:
    """Whether one short run is only a note: near the end of a cross-training stage that is long enough."""
    long_enough = day.stage_planned_days >= limits.cross_training.tolerated_stage_days
    return long_enough and 0 <= day.days_left < limits.cross_training.tolerated_last_days


def _cross_training(day: PlanDay, number: int, ceilings: Ceilings, limits: Limits, *, after_a_stop: bool) -> Allowance:
    cap, cap_reason = _cap(limits.cross_training.day_cap_minutes, limits.source("cross_training.day_cap_minutes"))
    reasons = [words.plan.NO_RUNNING_PROJECT_DEFAULT, cap_reason, _ceiling_reason(2, ceilings)]
    tolerated = None
    if tolerates_a_run(day, limits) and after_a_stop:
        reasons.append(words.plan.NO_RUN_IS_TOLERATED)
    elif tolerates_a_run(day, limits):
        tolerated = limits.cross_training.tolerated_run_minutes
        source = limits.source("cross_training.tolerated_run_minutes")
        reasons.append(words.plan.ONE_RUN_OF_UP.format(tolerated=tolerated, source=source))
    return Allowance(
        "cross_training", number, day.day, "tolerated" if tolerated else "none", cap, tolerated_run_min=tolerated,
        ceiling=ceilings.zone2, strength="under_ceiling", effort=ceilings.effort[1], reasons=tuple(reasons),
    )  # fmt: skip


def _test_runs(day: PlanDay, number: int, ceilings: Ceilings, limits: Limits) -> Allowance:
    cap, cap_reason = _cap(limits.test_runs.day_cap_minutes, limits.source("test_runs.day_cap_minutes"))
    run_cap = limits.test_runs.run_cap_minutes
    source = limits.source("test_runs.run_cap_minutes")
    reasons = (
        words.plan.RUNS_OF_UP_TO_MIN.format(run_cap=run_cap, source=source),
        cap_reason,
        _ceiling_reason(2, ceilings),
    )
    return Allowance(
        "test_runs", number, day.day, "test", cap, run_cap, ceiling=ceilings.zone2, strength="under_ceiling",
        rest_day_between_runs=True, effort=ceilings.effort[1], reasons=reasons,
    )  # fmt: skip


def weekly_share(day: PlanDay, limits: Limits) -> float:
    """The on-ramp's share of the usual running week, by week of the stage."""
    shares = limits.on_ramp.weekly_shares
    week = (day.day - day.stage_first).days // WEEK
    return shares[min(week, len(shares) - 1)]


def _on_ramp(day: PlanDay, number: int, ceilings: Ceilings, limits: Limits) -> Allowance:
    share = weekly_share(day, limits)
    last = 0 <= day.days_left < limits.on_ramp.open_last_days
    reasons = [
        words.plan.RUNNING_UP_TO_OF_USUAL.format(
            percent=exact(share) * 100, source=limits.source("on_ramp.weekly_shares")
        )
    ]
    reasons.append(words.plan.NO_CEILING if last else _ceiling_reason(2, ceilings))
    return Allowance(
        "on_ramp", number, day.day, "share", ceiling=None if last else ceilings.zone2, ceiling_open=last,
        strength="free", speed_work="strides" if last else "none",
        easy_ground=share <= limits.on_ramp.easy_ground_share, weekly_share=share,
        effort="" if last else ceilings.effort[1], reasons=tuple(reasons),
    )  # fmt: skip
