"""The open reasons that take something away from a day: what it is, since when, until when, what ends it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Literal

from rules.body.checkins import FlagSpan, flag_spans
from rules.body.mornings import mornings_up, resting_limit, variability_on
from rules.body.red_flags import CLASSES
from rules.facts import CheckIn, Hold, Session
from rules.findings import Finding, Severity, finding_id
from rules.history import STOPPING, Ordered, ln_rmssd_normal
from rules.limits import Limits
from rules.plan import Plan
from rules.plan.days import answered_by_release, answers_of

Kind = Literal[
    "red_flag", "rest_hours", "stop", "pain", "stairs", "squat", "resting_hr", "hrv",
    "time_used", "rest_day", "week_share", "tolerated_used",
]  # fmt: skip
Forbids = Literal["everything", "sport", "running"]
Ends = Literal["clock", "answer", "check-in", "morning"]

KINDS: tuple[Kind, ...] = (
    "red_flag", "rest_hours", "stop", "pain", "stairs", "squat", "resting_hr", "hrv",
    "time_used", "rest_day", "week_share", "tolerated_used",
)  # fmt: skip
"""The strictest first."""

REST: frozenset[Kind] = frozenset({"red_flag", "rest_hours", "stop", "pain", "stairs", "squat", "resting_hr", "hrv"})
"""Reasons by which rest is advised: walking only, or after a red flag nothing at all."""


OF_THE_BODY = frozenset({"red_flag", "pain", "stairs", "squat", "resting_hr", "hrv", "stairs_test"})
"""Kinds of reasons, and rules of a stop, that tell of the athlete's body and not only of what was done."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason. `since` and `until` are local; `until` None: it stands until `ends` comes, not until a time.

    `forbids`: everything (a red flag: no sport, and a walk is not advised either), sport (walking only), or running.
    `ends`: by the clock, by an answer (gone, seen by a doctor, a release), by a check-in with better news, or by a
    morning's values. `numbers` are JSON-ready and hold what the words need. `finding`: id of the finding behind it.
    """

    kind: Kind
    forbids: Forbids
    since: datetime
    until: datetime | None
    ends: Ends
    finding: str | None = None
    numbers: Mapping[str, Any] = field(default_factory=dict)

    @property
    def of_the_body(self) -> bool:
        return self.kind in OF_THE_BODY or self.numbers.get("rule") in OF_THE_BODY

    @property
    def rank(self) -> tuple[int, int]:
        grade = CLASSES.index(self.numbers["class"]) if self.kind == "red_flag" else 0
        return KINDS.index(self.kind), grade


@dataclass(frozen=True, slots=True)
class DayContext:
    """All that reasons look at, up to `now`: active plans, findings, check-ins since the race, holds and releases."""

    facts: Ordered
    plans: tuple[Plan, ...]
    plan: Plan  # the one that rules
    now: datetime
    on: date
    findings: tuple[Finding, ...]
    checkins: tuple[CheckIn, ...]
    releases: tuple[Hold, ...]
    limits: Limits

    def midnight(self, day: date) -> datetime:
        """Local beginning of a day."""
        return datetime.combine(day, time.min, self.facts.athlete.zone)

    def local(self, moment: datetime) -> datetime:
        return moment.astimezone(self.facts.athlete.zone)

    def id_of(self, rule: str, kind: str, subject: str) -> str | None:
        """Id of a finding, where it stands."""
        name = finding_id(self.facts.athlete.id, rule, kind, subject)
        return name if any(finding.id == name for finding in self.findings) else None


def rest_reasons(known: DayContext) -> list[Reason]:
    """Those that advise rest, in the order of `KINDS`."""
    return [*_red_flags(known), *_rest_hours(known), *_stops(known), *_checkins(known), *_mornings(known)]


def standing_flags(plans: Sequence[Plan], facts: Ordered, now: datetime) -> tuple[FlagSpan, ...]:
    """Red flags of the active plans that nobody has answered by now."""
    active = [plan for plan in plans if plan.is_active(now)]
    if not active:
        return ()
    begins, on = min(plan.begins for plan in active), facts.athlete.local_date(now)
    told = by_now([checkin for checkin in facts.checkins if begins.timestamp() <= checkin.order], on, now)
    releases = releases_by(facts.holds, min(plan.day0 for plan in active), now)
    spans = flag_spans(told, releases, min(plan.day0 for plan in active))
    return tuple(span for span in spans if span.stands_at(now.timestamp()))


def by_now(checkins: Sequence[CheckIn], on: date, now: datetime) -> list[CheckIn]:
    """Those up to today. One of today whose time lies ahead (none given, a telephone of another zone) counts as now."""
    latest = now.timestamp()
    return [replace(checkin, order=min(checkin.order, latest)) for checkin in checkins if checkin.date <= on]


def releases_by(holds: Sequence[Hold], day0: date, now: datetime) -> tuple[Hold, ...]:
    """Releases since a race that were given by now."""
    return tuple(hold for hold in holds if hold.kind == "release" and hold.on >= day0 and hold.at <= now)


def _red_flags(known: DayContext) -> Iterator[Reason]:
    for span in standing_flags(known.plans, known.facts, known.now):
        since = datetime.fromtimestamp(span.since, known.facts.athlete.zone)
        numbers = {
            "flag": span.flag.id, "name": span.flag.name, "told": span.told, "class": span.flag.klass,
            "on": span.day.isoformat(), "say": span.flag.say,
        }  # fmt: skip
        found = known.id_of("see_a_doctor", "checkin", span.day.isoformat())
        yield Reason("red_flag", "everything", since, None, "answer", found, numbers)


def _rest_hours(known: DayContext) -> Iterator[Reason]:
    finish = max((plan.begins for plan in known.plans), default=known.plan.begins)
    hours = known.limits.rest_hours.caution_hours
    until = finish + timedelta(hours=hours)
    if known.now < until:
        yield Reason("rest_hours", "sport", known.local(finish), known.local(until), "clock", None, {"hours": hours})


def rest_until(finding: Finding, known: DayContext) -> datetime:
    """Local end of the rest that follows a `stop`.

    65 h from the end of a run or of speed work that the stage has not; to the end of the day after one that was far too
    long; for the rest of the day after any other.
    """
    limits = known.limits
    if finding.rule in STOPPING:
        return known.local(finding.subject_end + timedelta(hours=limits.gates.stop_hours))
    days = limits.rest.days_after_far_too_long if finding.rule == "duration_cap" else 0
    return known.midnight(known.facts.athlete.local_date(finding.subject_start) + timedelta(days=1 + days))


def _stops(known: DayContext) -> Iterator[Reason]:
    """The latest to end of each rule's stops."""
    begins = min(plan.begins for plan in known.plans)
    latest: dict[str, tuple[datetime, Finding]] = {}
    for finding in known.findings:
        if finding.severity < Severity.STOP or finding.session_end is None or finding.rule == "see_a_doctor":
            continue
        end = finding.session_end
        if not begins <= end.astimezone(UTC) <= known.now or _released_after(end, finding.date, known):
            continue
        until = rest_until(finding, known)
        if known.now < until and (finding.rule not in latest or until > latest[finding.rule][0]):
            latest[finding.rule] = (until, finding)
    for rule, (until, finding) in sorted(latest.items(), key=lambda item: (item[1][0], item[0]), reverse=True):
        ended = known.local(finding.session_end or finding.subject_end)
        numbers: dict[str, Any] = {"rule": rule, "on": finding.date.isoformat()}
        if rule in STOPPING:
            numbers["hours"] = known.limits.gates.stop_hours
        yield Reason("stop", "sport", ended, until, "clock", finding.id, numbers)


def _released_after(moment: datetime, day: date, known: DayContext) -> bool:
    return any(day <= release.on <= known.on and release.at >= moment for release in known.releases)


def _checkins(known: DayContext) -> Iterator[Reason]:
    kinds: dict[str, tuple[Kind, str]] = {
        "pain": ("pain", "pain"),
        "stairs": ("stairs", "stairs_test"),
        "squat": ("squat", "stairs_test"),
    }
    answers = answers_of(known.checkins, known.limits)
    for name, (kind, rule) in kinds.items():
        told = answers[name]
        if not told or not told[-1].bad:
            continue
        last = told[-1]
        if answered_by_release(last.day, last.moment, known.on, known.releases) or not _fresh(last.day, known):
            continue
        since = datetime.fromtimestamp(last.moment, known.facts.athlete.zone)
        numbers = {"on": last.day.isoformat(), "value": last.value, "least": known.limits.gates.pain}
        found = known.id_of(rule, "checkin", last.day.isoformat())
        yield Reason(kind, "sport", since, None, "check-in", found, numbers)


def _fresh(day: date, known: DayContext) -> bool:
    """Whether news of a check-in or a morning still counts: some days, and as long as it keeps a gate shut."""
    if known.on < day + timedelta(days=known.limits.gates.data_days_at_most):
        return True
    shut = [shut for plan in known.plans for gate in plan.gates if gate.until is None for shut in gate.reasons]
    return any(shutting.by in {"check-in", "morning"} and shutting.since == day for shutting in shut)


def _mornings(known: DayContext) -> Iterator[Reason]:
    yield from _resting(known)
    yield from _variability(known)


def _resting(known: DayContext) -> Iterator[Reason]:
    plan, values = known.plan, known.facts.resting
    limit = resting_limit(plan.resting, known.limits)
    last = max((day for day in values if day <= known.on), default=None)
    if last is None or last not in mornings_up(values, plan.day0, limit, known.limits) or not _fresh(last, known):
        return
    since = known.midnight(last)
    if answered_by_release(last, since.timestamp(), known.on, known.releases):
        return
    usual = plan.resting.middle if plan.resting else None
    numbers = {"on": last.isoformat(), "value": values[last], "usual": usual, "limit": limit}
    found = known.id_of("resting_hr_up", "morning", last.isoformat())
    yield Reason("resting_hr", "sport", since, None, "morning", found, numbers)


def _variability(known: DayContext) -> Iterator[Reason]:
    """As of today, while the latest morning is no older than news may be."""
    plan, values = known.plan, {day: value for day, value in known.facts.ln_rmssd.items() if day <= known.on}
    last = max((day for day in values if day > plan.day0), default=None)
    normal = ln_rmssd_normal(known.facts, plan, known.limits)
    if last is None or not _fresh(last, known):
        return
    breach = variability_on(values, known.on, plan.day0, normal, known.limits)
    if breach is None or breach.severity < Severity.CAUTION:
        return
    since = known.midnight(last)
    if answered_by_release(last, since.timestamp(), known.on, known.releases):
        return
    findings = [
        finding for finding in known.findings if finding.rule == "hrv_down" and plan.day0 < finding.date <= known.on
    ]
    found = max(findings, key=lambda finding: finding.date).id if findings else None
    numbers = {"on": last.isoformat(), "value": breach.observed, "limit": breach.limit}
    yield Reason("hrv", "sport", since, None, "morning", found, numbers)


def in_force(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """The strictest first; of one kind the one that lasts longest first."""

    def order(reason: Reason) -> tuple[int, int, float]:
        return *reason.rank, -(reason.until.timestamp() if reason.until else float("inf"))

    return tuple(sorted(reasons, key=order))


def ran_on(runs: Sequence[Session], facts: Ordered, day: date) -> bool:
    return any(facts.days[run.key] == day for run in runs)
