"""Plans and stops, settled together: a stop holds a gate, a held stage changes what later sessions were allowed.

What a session was allowed depends only on days before it, so going over the plans again comes to rest.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date

from rules.facts import SampleContext, Session, Threshold
from rules.findings import Breach, Finding, Severity
from rules.judgement.finding import Place
from rules.judgement.history import Ordered
from rules.limits import Limits
from rules.plan import Plan, Stop, build_plan
from rules.plan.build import ruling_at
from rules.plan.stages import believable_bpm
from rules.running import no_running
from rules.session.labels import NO_EXERCISE, has_running
from rules.session.threshold import choose

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
            Stop(each.session.key, facts.days[each.session.key], each.session.end) for each in placed if each.stops
        )
        if found == stops:
            return plans, placed
        stops = found


def stops_among(found: Iterable[Finding]) -> tuple[Stop, ...]:
    """The sessions among findings that hold the next gate."""
    stops = {
        each.subject: Stop(each.subject, each.date, each.subject_end)
        for each in found
        if each.rule in STOPPING and each.severity == Severity.STOP and each.subject_kind == "session"
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
        race.finish.timestamp(): choose(facts.athlete, facts.sessions, race.finish, limits)
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
