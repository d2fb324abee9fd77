"""An athlete's history in order, under the plans that its stops settle; from a breach to a finding in its place."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from math import isfinite
from statistics import fmean

from rules.body.checkins import HeartRecovery, by_day, easy_shares, in_time, since_race
from rules.body.mornings import Baseline, baseline, by_date, ln_rmssd, resting_hr, slept
from rules.day_rules import no_running
from rules.facts import Athlete, CheckIn, History, Hold, Morning, SampleContext, Session, Threshold, threshold_of
from rules.findings import Breach, Finding, Severity, SubjectKind, finding_id
from rules.limits import Limits
from rules.plan import Allowance, Plan, Stop, build_plan
from rules.plan.build import own_files, ruling_at
from rules.plan.stages import believable_bpm
from rules.session.labels import NO_EXERCISE, has_running


# An athlete's history put in order once, so that the order of arrival cannot matter.
@dataclass(frozen=True, slots=True)
class Ordered:
    """Facts by time. `races` are the keys of the recordings that are a race, `days` the local date of each session."""

    athlete: Athlete
    sessions: tuple[Session, ...]
    days: dict[str, date]
    races: frozenset[str]
    mornings: tuple[Morning, ...]
    resting: dict[date, float]
    ln_rmssd: dict[date, float]
    asleep: dict[date, float]
    morning_files: dict[date, str | None]
    night_files: dict[date, str | None]
    checkins: tuple[CheckIn, ...]
    holds: tuple[Hold, ...]
    last_file_at: datetime | None
    watched_since: datetime | None


def in_order(history: History, limits: Limits) -> Ordered:
    athlete = history.athlete
    sessions = tuple(sorted(history.sessions, key=lambda session: (session.start, session.key)))
    mornings = tuple(sorted(history.mornings, key=lambda fact: (fact.date, fact.source or "")))
    nights = sorted(history.nights, key=lambda fact: (fact.date, fact.source or ""))
    return Ordered(
        athlete=athlete,
        sessions=sessions,
        days={session.key: athlete.local_date(session.start) for session in sessions},
        races=own_files(sessions, athlete.races, limits),
        mornings=mornings,
        resting=by_date(mornings, resting_hr),
        ln_rmssd=by_date(mornings, ln_rmssd),
        asleep=slept(nights),
        morning_files={morning.date: morning.source for morning in mornings},
        night_files={night.date: night.source for night in nights},
        checkins=tuple(in_time(sorted(history.checkins, key=repr))),
        holds=history.holds,
        last_file_at=history.last_file_at,
        watched_since=history.watched_since,
    )


def heart_recovery(facts: Ordered, plan: Plan, limits: Limits) -> HeartRecovery:
    """Mornings with the normals of one plan."""
    return HeartRecovery(
        facts.resting, plan.resting, facts.ln_rmssd, ln_rmssd_normal(facts, plan, limits), _easy_shares(facts, plan)
    )


def _easy_shares(facts: Ordered, plan: Plan) -> dict[date, float]:
    """How hard the heart works on easy runs since the race, against those before it."""
    easy = [(session, session.digest.easy_hr_per_mps) for session in facts.sessions if session.key not in facts.races]
    before = [value for run, value in easy if value is not None and run.start < plan.begins]
    since = {facts.days[run.key]: value for run, value in easy if value is not None and run.start >= plan.begins}
    return easy_shares(before, since)


def ln_rmssd_normal(facts: Ordered, plan: Plan, limits: Limits) -> Baseline | None:
    return baseline(facts.ln_rmssd, plan.day0, plan.other_races, limits)


def plan_checkins(facts: Ordered, plan: Plan) -> dict[date, CheckIn]:
    """Check-ins since the finish, one a day."""
    return by_day(checkin for checkin in facts.checkins if since_race(checkin, plan.race.finish, plan.day0))


# What one reverse taper came to: sessions, hours, runs and mornings, for looking back on it.


@dataclass(frozen=True, slots=True)
class PlanTotals:
    """Counts over the days of a plan; `resting_last` is the mean of the last mornings in it."""

    sessions: int
    hours: float
    runs: int
    mornings: int
    resting_last: float | None
    resting_usual: float | None


def plan_totals(facts: Ordered, plan: Plan, limits: Limits) -> PlanTotals:
    """Over the days of one plan, from the finish to the end of its last day."""
    inside = [
        session
        for session in facts.sessions
        if session.start >= plan.begins
        and facts.days[session.key] <= plan.last_date
        and session.key not in facts.races
        and session.digest.sport not in NO_EXERCISE
    ]
    resting = [value for day, value in sorted(facts.resting.items()) if plan.day0 < day <= plan.last_date]
    heart = {day for day in (*facts.resting, *facts.ln_rmssd) if plan.day0 < day <= plan.last_date}
    usual = plan.resting.middle if plan.resting is not None and plan.resting.enough else None
    return PlanTotals(
        sessions=len(inside),
        hours=sum(session.timer_s for session in inside if isfinite(session.timer_s)) / 3600,
        runs=sum(has_running(session, limits) for session in inside),
        mornings=len(heart),
        resting_last=fmean(resting[-limits.status.last_mornings :]) if resting else None,
        resting_usual=usual,
    )


# Plans and stops, settled together: a stop holds a gate, a held stage changes what later sessions were allowed. What
# a session was allowed depends only on days before it, so going over the plans again comes to rest.

JudgeOne = Callable[[Session, SampleContext], tuple[Breach, ...]]
STOPPING = frozenset({"no_running", "no_speed_work"})


@dataclass(frozen=True, slots=True)
class PlacedSession:
    """A session with its place, and what it broke of running and by its samples."""

    session: Session
    place: Place
    running: Breach | None
    samples: tuple[Breach, ...]

    @property
    def stops(self) -> bool:
        """Whether it holds the next gate."""
        breaches = (*self.samples, *((self.running,) if self.running else ()))
        return any(breach.rule in STOPPING and breach.severity == Severity.STOP for breach in breaches)


class Samples:
    """Verdicts on samples, asked for once for a session and a context."""

    def __init__(self, judge_one: JudgeOne) -> None:
        self._judge_one = judge_one
        self._known: dict[tuple[str, SampleContext], tuple[Breach, ...]] = {}

    def of(self, session: Session, context: SampleContext) -> tuple[Breach, ...]:
        name = (session.key, context)
        if name not in self._known:
            self._known[name] = tuple(self._judge_one(session, context))
        return self._known[name]


def fixpoint(
    facts: Ordered, as_of: date, limits: Limits, judge_one: JudgeOne
) -> tuple[list[Plan], list[PlacedSession]]:
    """Plans by finish and the sessions inside them, in order, such that each agrees with the other."""
    samples = Samples(judge_one)
    thresholds = _thresholds(facts, limits)
    stops: tuple[Stop, ...] = ()
    while True:
        plans = plans_of(facts, as_of, stops, limits)
        placed = _placed(facts, plans, thresholds, samples, limits)
        found = tuple(
            Stop(item.session.key, facts.days[item.session.key], item.session.end) for item in placed if item.stops
        )
        if found == stops:
            return plans, placed
        stops = found


def stops_among(found: Iterable[Finding]) -> tuple[Stop, ...]:
    """The sessions among findings that hold the next gate."""
    stops = {
        breach.subject: Stop(breach.subject, breach.date, breach.subject_end)
        for breach in found
        if breach.rule in STOPPING and breach.severity == Severity.STOP and breach.subject_kind == "session"
    }
    return tuple(stops.values())


def plans_of(facts: Ordered, as_of: date, stops: tuple[Stop, ...], limits: Limits) -> list[Plan]:
    """A plan a race, in order of finish."""
    return [
        build_plan(
            race,
            facts.athlete,
            limits,
            as_of=as_of,
            checkins=facts.checkins,
            mornings=facts.mornings,
            stops=stops,
            holds=facts.holds,
        )
        for race in sorted(facts.athlete.races, key=lambda race: race.finish.timestamp())
    ]


def _thresholds(facts: Ordered, limits: Limits) -> dict[float, Threshold | None]:
    """Threshold speed before each race, by its finish."""
    return {
        race.finish.timestamp(): threshold_of(facts.athlete, facts.sessions, race.finish, limits)
        for race in facts.athlete.races
    }


def _placed(
    facts: Ordered,
    plans: list[Plan],
    thresholds: dict[float, Threshold | None],
    samples: Samples,
    limits: Limits,
) -> list[PlacedSession]:
    placed: list[PlacedSession] = []
    begins = min((plan.begins for plan in plans), default=None)
    tolerated: set[tuple[float, str]] = set()
    for session in facts.sessions:
        if begins is None or session.start < begins:
            continue
        if session.key in facts.races or session.digest.sport in NO_EXERCISE:
            continue
        plan = ruling_at(plans, session.start)
        if plan is None:
            continue
        race = plan.race.finish.timestamp()
        allowed = plan.allowance_on(facts.days[session.key])
        highest = believable_bpm(facts.athlete, plan.race.finish.year, limits)
        context = SampleContext(allowed.ceiling, allowed.speed_work, allowed.easy_ground, thresholds[race], highest)
        breaches = samples.of(session, context)
        window = (race, allowed.stage)
        running = no_running(
            session,
            allowed,
            ceiling_broken=any(breach.rule == "intensity_ceiling" for breach in breaches),
            run_before=window in tolerated,
            limits=limits,
        )
        if allowed.running == "tolerated" and has_running(session, limits):
            tolerated.add(window)
        placed.append(PlacedSession(session, Place(plan, allowed), running, breaches))
    return placed


# From a breach to a finding: athlete, place in the plan, subject, stable id.

OF_RUNNING = frozenset({"no_running", "no_speed_work", "run_spacing", "weekly_running", "long_run_jump"})
"""Rules that only running can break: the sport of such a finding is running, whatever the rest of the session was."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a fact stands: the plan that rules it and what its day allows."""

    plan: Plan
    allowed: Allowance


@dataclass(frozen=True, slots=True)
class Subject:
    """What broke the rule, named by its time and never by a file."""

    kind: SubjectKind
    name: str
    day: date
    start: datetime
    end: datetime
    source: str | None = None
    session: Session | None = None


def of_session(session: Session, day: date) -> Subject:
    return Subject("session", session.key, day, session.start, session.end, session.source, session)


def of_day(
    kind: SubjectKind, day: date, athlete: Athlete, source: str | None = None, session: Session | None = None
) -> Subject:
    """A whole local day: a morning, a night, a check-in."""
    start = datetime.combine(day, time.min, athlete.zone).astimezone(UTC)
    end = datetime.combine(day + timedelta(days=1), time.min, athlete.zone).astimezone(UTC)
    return Subject(kind, day.isoformat(), day, start, end, source, session)


def finding(breach: Breach, subject: Subject, place: Place) -> Finding:
    athlete, session = place.plan.athlete, subject.session
    return Finding(
        id=finding_id(athlete.id, breach.rule, subject.kind, subject.name),
        athlete=athlete.id,
        rule=breach.rule,
        severity=breach.severity,
        stage=place.allowed.stage,
        day=place.allowed.day,
        date=subject.day,
        subject_kind=subject.kind,
        subject=subject.name,
        subject_start=subject.start,
        subject_end=subject.end,
        session_start=session.start if session else None,
        session_end=session.end if session else None,
        sport=_sport(breach.rule, session),
        source=subject.source,
        observed=breach.observed,
        limit=breach.limit,
        unit=breach.unit,
        summary=breach.summary,
        evidence=breach.evidence,
    )


def _sport(rule: str, session: Session | None) -> str | None:
    if session is None:
        return None
    return "running" if rule in OF_RUNNING else session.digest.sport
