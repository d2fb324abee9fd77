"""The decision of one day: what it allows an athlete at a moment, and why.

In: plans and findings (a judgement), facts, now. Out: minutes, running, limits on effort, until when there is walking
only, the reasons that rule. Facts of later than now change nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, Literal

from rules.body.checkins import in_time
from rules.day.reasons import REST, DayContext, Reason, by_now, in_force, ran_on, releases_by, rest_reasons
from rules.day_rules import WeekSoFar, usual_week, week_so_far
from rules.facts import Athlete, Session, threshold_of
from rules.history import Ordered
from rules.limits import Limits
from rules.plan import Allowance, Plan
from rules.plan.build import current_plan
from rules.session.labels import has_running, sport_seconds

if TYPE_CHECKING:
    from rules.judge import Judgement

Movement = Literal["nothing", "walking", "sport"]


@dataclass(frozen=True, slots=True)
class Decision:
    """What a day allows. Outside of an active plan nothing is limited and there are no reasons.

    While rest is advised `allowed_min` and `run_allowed_min` are 0. None: no limit is set, or none is known.
    """

    athlete: Athlete
    now: datetime  # local
    date: date
    plan: Plan | None
    stage: str | None
    active: bool
    allowance: Allowance | None  # what the stage has, before any reason
    movement: Movement
    reasons: tuple[Reason, ...]  # the strictest first
    walking_only_until: datetime | None  # local end of the rest, where the clock ends it
    allowed_min: int | None  # a day, all sport but walking
    used_min: float  # of it, by today's sessions so far
    running: str  # none, tolerated, test, share, free, or "rest day"
    run_allowed_min: int | None  # the longest run that may still be run today
    week: WeekSoFar | None  # on the on-ramp
    pace_s_per_km: float | None  # not faster than this on the level

    @property
    def day(self) -> int | None:
        return self.plan.day_of(self.date) if self.plan else None

    @property
    def rest(self) -> bool:
        """Whether rest is advised: no sport of any kind."""
        return any(reason.kind in REST for reason in self.reasons)

    @property
    def sport(self) -> bool:
        """Whether any sport but walking may still be done today."""
        return self.movement == "sport"

    @property
    def runs(self) -> bool:
        """Whether a run may still be run today."""
        return self.sport and self.running in {"tolerated", "test", "share", "free"} and self.run_allowed_min != 0

    @property
    def left_min(self) -> int | None:
        """Minutes of sport left today; None where no cap is set."""
        return None if self.allowed_min is None else max(0, int(self.allowed_min - self.used_min + 0.5))

    @property
    def week_left_min(self) -> int | None:
        """Minutes of running left this week; None outside the on-ramp or without a usual week."""
        return None if self.week is None else minutes_left(self.week)

    @property
    def ends_today(self) -> bool:
        """Whether the clock ends the rest before the day is over, so that sport has a place after it."""
        return self.walking_only_until is not None and self.walking_only_until.date() == self.date

    @property
    def ruling(self) -> Reason | None:
        """The strictest open reason."""
        return self.reasons[0] if self.reasons else None

    @property
    def flags(self) -> tuple[Reason, ...]:
        """Red flags that stand, the gravest first."""
        return tuple(reason for reason in self.reasons if reason.kind == "red_flag")


def decide(judgement: Judgement, facts: Ordered, now: datetime, limits: Limits) -> Decision:
    """The decision of the day of `now` in the athlete's timezone, by the plan that rules it."""
    return _decided(judgement, facts, now, limits, ahead=False)


def foresee(judgement: Judgement, facts: Ordered, on: date, limits: Limits) -> Decision:
    """What a day to come allows from its first minute, by what is known so far.

    A reason that ends at an hour counts up to that hour; one that waits for an answer is taken to have been answered.
    """
    morning = datetime.combine(on, time.min, facts.athlete.zone)
    return _decided(judgement, facts, morning, limits, ahead=True)


def _decided(judgement: Judgement, facts: Ordered, now: datetime, limits: Limits, *, ahead: bool) -> Decision:
    athlete, on = facts.athlete, facts.athlete.local_date(now)
    plan = current_plan(judgement.plans, now)
    if plan is None or plan.stage_at(now) in {"before", "done"}:
        return _unlimited(athlete, now, on, plan)
    known = _known(judgement, facts, plan, now, on, limits)
    allowed = plan.allowance_on(on)
    sessions = [
        session for session in facts.sessions if session.key not in facts.races and plan.begins <= session.start <= now
    ]
    runs = [session for session in sessions if has_running(session, limits)]
    used = sum(sport_seconds(session, limits) for session in sessions if facts.days[session.key] == on) / 60
    week = week_so_far(runs, allowed, plan, usual_week(facts.sessions, plan, limits), limits)
    rest = [reason for reason in rest_reasons(known) if reason.until is not None or not ahead]
    reasons = in_force([*rest, *_used_up(known, allowed, used), *_of_running(known, allowed, runs, week)])
    movement = _movement(reasons)
    return Decision(
        athlete=athlete,
        now=known.local(now),
        date=on,
        plan=plan,
        stage=allowed.stage,
        active=True,
        allowance=allowed,
        movement=movement,
        reasons=reasons,
        walking_only_until=_until(reasons),
        allowed_min=0 if rest else allowed.day_cap_min,
        used_min=round(used, 1),
        running=_running(allowed, reasons),
        run_allowed_min=_run_minutes(allowed, reasons, used, week),
        week=week,
        pace_s_per_km=_easy_pace(facts, plan, allowed, limits),
    )


def _unlimited(athlete: Athlete, now: datetime, on: date, plan: Plan | None) -> Decision:
    stage = plan.stage_at(now) if plan else None
    allowed = None
    if plan is not None:
        allowed = plan.allowance_on(on if stage == "done" else plan.day0 - timedelta(days=1))
    return Decision(
        athlete, now.astimezone(athlete.zone), on, plan, stage, False, allowed, "sport", (), None, None, 0.0, "free",
        None, None, None,
    )  # fmt: skip


def _known(judgement: Judgement, facts: Ordered, plan: Plan, now: datetime, on: date, limits: Limits) -> DayContext:
    plans = tuple(active for active in judgement.plans if active.is_active(now))
    begins = min(active.begins for active in plans).timestamp()
    day0 = min(active.day0 for active in plans)
    checkins = [checkin for checkin in facts.checkins if begins <= checkin.order]
    return DayContext(
        facts=facts,
        plans=plans,
        plan=plan,
        now=now,
        on=on,
        findings=judgement.findings,
        checkins=tuple(in_time(by_now(checkins, on, now))),
        releases=releases_by(facts.holds, day0, now),
        limits=limits,
    )


def _movement(reasons: Sequence[Reason]) -> Movement:
    forbidden = {reason.forbids for reason in reasons}
    return "nothing" if "everything" in forbidden else "walking" if "sport" in forbidden else "sport"


def _until(reasons: Sequence[Reason]) -> datetime | None:
    """When the last reason against sport ends; None where one of them is not ended by the clock."""
    ends = [reason.until for reason in reasons if reason.forbids != "running"]
    return max((end for end in ends if end), default=None) if None not in ends else None


def _used_up(known: DayContext, allowed: Allowance, used: float) -> list[Reason]:
    cap = allowed.day_cap_min
    if cap is None or int(cap - used + 0.5) > 0:
        return []
    numbers = {"cap": cap, "used": round(used, 1)}
    tomorrow = known.midnight(known.on + timedelta(days=1))
    return [Reason("time_used", "sport", known.local(known.now), tomorrow, "clock", None, numbers)]


def _of_running(known: DayContext, allowed: Allowance, runs: Sequence[Session], week: WeekSoFar | None) -> list[Reason]:
    """What takes a run away that the stage has."""
    found = [*_rest_day(known, allowed, runs)]
    if week is not None and minutes_left(week) == 0:
        found.append(_week_used(known, week))
    if allowed.running == "tolerated" and _tolerated_before(known, runs):
        end = known.plan.planned_stage(known.on)
        until = known.midnight((end.last_date if end else known.on) + timedelta(days=1))
        found.append(Reason("tolerated_used", "running", known.local(runs[-1].end), until, "clock"))
    return found


def _rest_day(known: DayContext, allowed: Allowance, runs: Sequence[Session]) -> list[Reason]:
    """The day of rest between runs; also where a run that came too soon was the stage's last."""
    yesterday = known.on - timedelta(days=1)
    if allowed.running in {"none", "tolerated"}:
        return []
    today = ran_on(runs, known.facts, known.on)
    asked = allowed.rest_day_between_runs and (today or ran_on(runs, known.facts, yesterday))
    spaced = [
        finding for finding in known.findings if finding.rule == "run_spacing" and finding.date in {known.on, yesterday}
    ]
    if not asked and not spaced:
        return []
    last = known.on if today else yesterday
    until = known.midnight(last + timedelta(days=2))
    numbers = {"ran_on": last.isoformat()}
    found = spaced[-1].id if spaced else None
    return [Reason("rest_day", "running", known.midnight(last), until, "clock", found, numbers)]


def _week_used(known: DayContext, week: WeekSoFar) -> Reason:
    until = known.midnight(week.first + timedelta(days=7))
    findings = [
        finding
        for finding in known.findings
        if finding.rule == "weekly_running" and week.first <= finding.date <= known.on
    ]
    numbers = {"done": round(week.done), "allowed": round(week.allowed or 0), "share": week.share}
    since = known.midnight(week.first)
    return Reason("week_share", "running", since, until, "clock", findings[-1].id if findings else None, numbers)


def minutes_left(week: WeekSoFar) -> int | None:
    """Whole minutes of running left in a week; None where the usual week is not known."""
    return None if week.allowed is None else max(0, int(week.allowed - week.done + 0.5))


def _tolerated_before(known: DayContext, runs: Sequence[Session]) -> bool:
    """Whether the one short run of the end of cross-training has been run."""
    days = (known.plan.allowance_on(known.facts.days[run.key]) for run in runs)
    return any(day.running == "tolerated" for day in days)


def _running(allowed: Allowance, reasons: Sequence[Reason]) -> str:
    kinds = {reason.kind for reason in reasons}
    if any(reason.forbids != "running" for reason in reasons) or kinds & {"week_share", "tolerated_used"}:
        return "none"
    return "rest day" if "rest_day" in kinds else allowed.running


def _run_minutes(allowed: Allowance, reasons: Sequence[Reason], used: float, week: WeekSoFar | None) -> int | None:
    """The longest run still to be had today; 0 where there is to be none, None where no length is set."""
    if _running(allowed, reasons) in {"none", "rest day"}:
        return 0
    left = None if allowed.day_cap_min is None else max(0, int(allowed.day_cap_min - used + 0.5))
    caps = (allowed.run_cap_min, allowed.tolerated_run_min, left, minutes_left(week) if week else None)
    return min((cap for cap in caps if cap is not None), default=None)


def _easy_pace(facts: Ordered, plan: Plan, allowed: Allowance, limits: Limits) -> float | None:
    """Seconds a kilometre that an easy run is not faster than, where running is allowed and a threshold known."""
    if allowed.running == "none" or allowed.ceiling_open:
        return None
    threshold = threshold_of(facts.athlete, facts.sessions, plan.race.finish, limits)
    if threshold is None:
        return None
    return round(1000 / (threshold.speed_mps * limits.today.easy_speed_share))


# Who reads it, and whether the heart rate of an athlete can be gone by.

MISLEADING = frozenset({"beta_blocker", "pacemaker", "insulin"})


def heart_rate_misleads(athlete: Athlete) -> bool:
    """Whether a ceiling in beats reassures falsely, so that effort and time go before it."""
    return bool(MISLEADING & set(athlete.health))


def is_young(athlete: Athlete, year: int, limits: Limits) -> bool:
    """Whether the athlete is under 18; by the year of birth alone, the younger of the two ages it leaves open."""
    young = athlete.born is not None and year - athlete.born <= limits.remarks.grown_up_age
    return "under_18" in athlete.health or young


Clock = Callable[[datetime], str]


def day_and_clock(moment: datetime) -> str:
    """ "Tue 11:58"."""
    return f"{moment:%a %H:%M}"


@dataclass(frozen=True, slots=True)
class Audience:
    """Who reads it: the athlete or the coach, whether the athlete has a coach, and how moments are written.

    Without `body` it may be read over a shoulder: what is allowed is said, and no reason that tells of the body.
    """

    role: Literal["athlete", "coach"] = "athlete"
    coached: bool = True
    clock: Clock = day_and_clock
    body: bool = True


ATHLETE = Audience()
COACH = Audience("coach")


def audience_of(decision: Decision, role: Literal["athlete", "coach"] = "athlete") -> Audience:
    return Audience(role, decision.athlete.coached)
