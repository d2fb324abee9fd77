"""Gates: what keeps the next stage from beginning on a day, by data that exists up to then."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from rules import words
from rules.body.checkins import FlagSpan
from rules.facts import CheckIn, Hold
from rules.limits import Limits
from rules.numbers import weekday

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
                reason = words.plan.NOT_MANAGED_UNAIDED.format(name=name, date=weekday(checkin.date))
                found[name].append(GateAnswer(checkin.date, checkin.order, not value, reason, value))
        if checkin.pain is not None:
            reason = words.plan.PAIN_OF.format(pain=checkin.pain, date=weekday(checkin.date))
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
            reason = f"{span.flag.name}, told on {weekday(span.day)}"
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
        reason = words.plan.RESTING_HEART_RATE_UP.format(resting_days=weekday(resting_days[-1]))
        yield Shut("morning", resting_days[-1], reason, words.plan.NEW_RESTING_HEART_RATE)


def _by_stop(day: date, facts: GateFacts) -> Iterable[Shut]:
    hours = facts.limits.gates.stop_hours
    midnight = datetime.combine(day, time.min, facts.zone).astimezone(UTC)
    for stop in facts.stops:
        until = stop.end.astimezone(UTC) + timedelta(hours=hours)
        if stop.day < day and midnight < until and not _released(stop, day, facts):
            local = until.astimezone(facts.zone)
            reason = words.plan.STOP_ON.format(day=weekday(stop.day), hours=hours, until=weekday(local), clock=local)
            yield Shut("stop", stop.day, reason, words.plan.REST_UNTIL)


def _by_coach(day: date, facts: GateFacts) -> Iterable[Shut]:
    """From the second stop of a plan on the coach decides; without a coach it takes a release too."""
    number = facts.limits.gates.stops_for_the_coach
    at_most = timedelta(days=facts.limits.gates.coach_days_at_most)
    waiting = [stop for stop in facts.stops[number - 1 :] if stop.day < day < stop.day + at_most]
    waiting = [stop for stop in waiting if not _released(stop, day, facts)]
    if waiting:
        wait, ask = (words.plan.HELD_FOR_COACH, words.plan.RELEASE_BY_COACH) if facts.coached else ("held", "a release")
        reason = words.plan.MORE_STOPS.format(number=number, day=weekday(waiting[-1].day), wait=wait)
        yield Shut("coach", waiting[-1].day, reason, ask)


def _released(stop: Stop, day: date, facts: GateFacts) -> bool:
    return any(stop.day <= release.on <= day and release.at >= stop.end for release in facts.holds.releases)


def _by_hold(day: date, given: Sequence[Hold], facts: GateFacts) -> Iterable[Shut]:
    at_most = timedelta(days=facts.limits.gates.open_hold_days_at_most)
    for hold in given:
        if hold.days is None and day < hold.on + at_most:
            why = f": {hold.why}" if hold.why else ""
            yield Shut("hold", hold.on, f"held since {weekday(hold.on)}{why}", "a release")


def in_order(stops: Sequence[Stop]) -> tuple[Stop, ...]:
    return tuple(sorted(stops, key=lambda stop: (stop.end, stop.session)))
