"""The judge: facts of one athlete in, plans and findings out. Pure; the order of the facts changes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

from rules.body.checkins import HeartRecovery, feels_too_good, impact_share, pain, see_a_doctor, stairs_test
from rules.body.mornings import hrv_down, resting_hr_up, short_sleep
from rules.day_rules import (
    UsualWeek,
    duration_cap,
    long_run_jump,
    no_strength,
    rest_hours,
    run_spacing,
    usual_week,
    weekly_running,
)
from rules.facts import CheckIn, History, Session
from rules.findings import Breach, Finding, Severity, Statement, SubjectKind, say
from rules.history import (
    JudgeOne,
    Ordered,
    Place,
    PlacedSession,
    PlanTotals,
    finding,
    fixpoint,
    heart_recovery,
    in_order,
    ln_rmssd_normal,
    of_day,
    of_session,
    plan_checkins,
    plan_totals,
    plans_of,
    stops_among,
)
from rules.limits import Limits
from rules.plan import Allowance, Plan
from rules.plan.build import current_plan, ruling_at, ruling_on
from rules.session.labels import has_running, is_training, known_duration

__all__ = ["JudgeOne", "Judgement", "judge", "judgement_of_findings"]


@dataclass(frozen=True, slots=True)
class Judgement:
    """Plans by finish, the one to show, findings by time, and in statements what data are too thin to judge by.

    `plan_totals` sums up each of the plans, in their order.
    """

    plans: tuple[Plan, ...]
    current: Plan | None
    findings: tuple[Finding, ...]
    thin: tuple[Statement, ...]
    plan_totals: tuple[PlanTotals, ...] = ()
    silence_changes_at: datetime | None = None  # before then the clock alone changes no silence

    def totals_of(self, plan: Plan) -> PlanTotals | None:
        """The totals of one of the plans."""
        return next(
            (one for each, one in zip(self.plans, self.plan_totals, strict=False) if each.race == plan.race), None
        )


def judge(history: History, now: datetime, limits: Limits, silent_after_hours: float, judge_one: JudgeOne) -> Judgement:
    """Judge everything that is known. `judge_one` gives the verdict on one session's samples."""
    facts = in_order(history, limits)
    plans, placed = fixpoint(facts, history.athlete.local_date(now), limits, judge_one)
    found = [
        *session_findings(facts, plans, placed, limits),
        *body_findings(facts, plans, placed, limits),
        *silence_findings(facts, plans, now, silent_after_hours, limits),
    ]
    found.sort(key=lambda breach: (breach.subject_start, breach.rule, breach.subject_kind, breach.subject))
    silence = silence_changes_at(facts, plans, now, silent_after_hours)
    return replace(_judgement(facts, plans, found, now, limits), silence_changes_at=silence)


def judgement_of_findings(facts: Ordered, now: datetime, limits: Limits, found: Sequence[Finding]) -> Judgement:
    """The judgement that gave these findings, without looking at a single sample again."""
    plans = plans_of(facts, facts.athlete.local_date(now), stops_among(found), limits)
    ordered = sorted(found, key=lambda breach: (breach.subject_start, breach.rule, breach.subject_kind, breach.subject))
    return _judgement(facts, plans, ordered, now, limits)


def _judgement(
    facts: Ordered, plans: Sequence[Plan], found: Sequence[Finding], now: datetime, limits: Limits
) -> Judgement:
    current = current_plan(plans, now)
    thin = _thin(facts, current, limits) if current is not None else ()
    totals = tuple(plan_totals(facts, plan, limits) for plan in plans)
    return Judgement(tuple(plans), current, tuple(found), thin, totals)


def _thin(facts: Ordered, plan: Plan, limits: Limits) -> tuple[Statement, ...]:
    """What cannot be judged for want of data."""
    told = []
    needed = limits.body.baseline_mornings
    for name, normal in (("resting_hr", plan.resting), ("hrv", ln_rmssd_normal(facts, plan, limits))):
        if normal is None or not normal.enough:
            count = 0 if normal is None else normal.mornings
            told.append(say("thin_mornings", what=say(name), count=count, needed=needed))
    if any(row.stage == "on_ramp" for row in plan.stages):
        usual = usual_week(facts.sessions, plan, limits)
        if usual.minutes is None:
            told.append(say("thin_week", reason=usual.reason))
    if plan.ceilings.zone1 is None:
        told.append(say("thin_heart", reasons=list(plan.ceilings.reasons)))
    return tuple(told)


# What sessions break, merged to one breach a rule.


def session_findings(facts: Ordered, plans: list[Plan], placed: list[PlacedSession], limits: Limits) -> list[Finding]:
    """Findings of all sessions inside plans."""
    durations = _durations(facts, placed, limits)
    usual: dict[date, UsualWeek] = {}
    runs: list[Session] = []
    findings: list[Finding] = []
    for item in placed:
        session, place = item.session, item.place
        since = [run for run in runs if run.start.astimezone(UTC) >= place.plan.race.finish.astimezone(UTC)]
        breaches = [
            rest_hours(session, _since_finish(session, plans), limits),
            item.running,
            no_strength(session, place.allowed, limits),
            durations.get(session.key),
            run_spacing(session, place.allowed, since, facts.athlete, limits),
            long_run_jump(session, place.allowed, since, facts.athlete, limits),
            not_judged(session, place.allowed, limits),
            *item.samples,
        ]
        if has_running(session, limits):
            runs.append(session)
            breaches.append(_weekly(facts, [*since, session], place, usual, limits))
        subject = of_session(session, facts.days[session.key])
        findings += [finding(breach, subject, place) for breach in merged(breach for breach in breaches if breach)]
    return findings


def merged(breaches: Iterable[Breach]) -> list[Breach]:
    """One breach a rule: the gravest, with what the others say in its evidence."""
    found: dict[str, Breach] = {}
    for breach in breaches:
        before = found.get(breach.rule)
        if before is None:
            found[breach.rule] = breach
            continue
        first, second = (breach, before) if breach.severity > before.severity else (before, breach)
        also = [*first.evidence.get("also_said", []), second.summary]
        both = say("both", first=first.summary, second=second.summary)
        found[breach.rule] = replace(
            first,
            summary=both if first.rule == "not_judged" else first.summary,
            evidence={**second.evidence, **first.evidence, "also_said": also},
        )
    return list(found.values())


def _durations(facts: Ordered, placed: list[PlacedSession], limits: Limits) -> dict[str, Breach]:
    found: dict[str, Breach] = {}
    for _, group in groupby(placed, key=lambda item: (facts.days[item.session.key], item.place.allowed)):
        day = list(group)
        found.update(duration_cap([item.session for item in day], day[0].place.allowed, limits))
    return found


def _since_finish(session: Session, plans: list[Plan]) -> float:
    """Seconds since the latest finish before the session."""
    start = session.start.astimezone(UTC)
    since = [(start - plan.race.finish.astimezone(UTC)).total_seconds() for plan in plans]
    return min((seconds for seconds in since if seconds >= 0), default=-1.0)


def _weekly(
    facts: Ordered, runs: list[Session], place: Place, usual: dict[date, UsualWeek], limits: Limits
) -> Breach | None:
    if place.allowed.running != "share":
        return None
    plan = place.plan
    if plan.day0 not in usual:
        usual[plan.day0] = usual_week(facts.sessions, plan, limits)
    return weekly_running(runs, place.allowed, plan, usual[plan.day0], limits)


def not_judged(session: Session, allowed: Allowance, limits: Limits) -> Breach | None:
    """A session in a stage with limits on sport and time that lacks either."""
    if allowed.day_cap_min is None or 0 < session.elapsed_s < limits.not_judged.least_seconds:
        return None
    missing = []
    if not known_duration(session):
        missing.append(say("how_long"))
    if session.digest.sport == "unknown":
        missing.append(say("what_sport"))
    if not missing:
        return None
    text = say("not_told", missing=missing)
    return Breach("not_judged", Severity.NOTE, text, evidence={"missing": missing, "label": session.sport})


# What mornings, nights, check-ins and silence break.


def body_findings(facts: Ordered, plans: list[Plan], placed: list[PlacedSession], limits: Limits) -> list[Finding]:
    """Findings of all mornings, nights and check-ins inside plans."""
    findings: list[Finding] = []
    for plan in plans:
        heart = heart_recovery(facts, plan, limits)
        resting = resting_hr_up(facts.resting, plan.day0, heart.resting_normal, limits)
        variability = hrv_down(facts.ln_rmssd, plan.day0, heart.ln_rmssd_normal, limits)
        nights = short_sleep(facts.asleep, plan.day0, limits)
        for breaches, files in (
            (resting, facts.morning_files),
            (variability, facts.morning_files),
            (nights, facts.night_files),
        ):
            findings += _of_days("morning", breaches, files, plan, plans, facts)
        findings += _checkin_findings(facts, plan, plans, placed, limits)
        findings += _too_good_findings(facts, plan, plans, heart, limits)
    return findings


def _of_days(
    kind: SubjectKind,
    breaches: dict[date, Breach],
    files: dict[date, str | None],
    plan: Plan,
    plans: list[Plan],
    facts: Ordered,
) -> list[Finding]:
    return [
        finding(breach, of_day(kind, day, facts.athlete, files.get(day)), Place(plan, plan.allowance_on(day)))
        for day, breach in sorted(breaches.items())
        if ruling_on(plans, day) is plan
    ]


def _rules(plan: Plan, plans: list[Plan], day: date) -> bool:
    """Whether a plan rules a check-in's day; what is left of the day of the race counts."""
    if day == plan.day0:
        return ruling_at(plans, plan.race.finish) is plan
    return ruling_on(plans, day) is plan


def _checkin_findings(
    facts: Ordered, plan: Plan, plans: list[Plan], placed: list[PlacedSession], limits: Limits
) -> list[Finding]:
    findings: list[Finding] = []
    until: list[CheckIn] = []
    for day, checkin in plan_checkins(facts, plan).items():
        until.append(checkin)
        if not _rules(plan, plans, day):
            continue
        training = [
            item.session for item in placed if facts.days[item.session.key] == day and is_training(item.session, limits)
        ]
        place = Place(plan, plan.allowance_on(day))
        stairs = stairs_test(checkin, training, limits)
        if stairs is not None:
            session = training[0] if training else None
            subject = of_day("checkin", day, facts.athlete, checkin.source, session)
            findings.append(finding(stairs, subject, place))
        subject = of_day("checkin", day, facts.athlete, checkin.source)
        others = (pain(until, limits), see_a_doctor(checkin, place.allowed.day))
        findings += [finding(breach, subject, place) for breach in others if breach is not None]
    return findings


def _too_good_findings(
    facts: Ordered, plan: Plan, plans: list[Plan], heart: HeartRecovery, limits: Limits
) -> list[Finding]:
    """At most one a stage, on the first day on which it holds."""
    checkins = plan_checkins(facts, plan)
    told: set[str] = set()
    findings: list[Finding] = []
    for day in sorted({*facts.resting, *facts.ln_rmssd}):
        if ruling_on(plans, day) is not plan:
            continue
        place = Place(plan, plan.allowance_on(day))
        checkin = checkins.get(day) or checkins.get(day - timedelta(days=1))
        breach = feels_too_good(day, plan.day0, place.allowed.stage, checkin, heart, limits)
        if breach is None or place.allowed.stage in told:
            continue
        told.add(place.allowed.stage)
        subject = of_day("day", day, facts.athlete, facts.morning_files.get(day))
        share = impact_share(subject.start, facts.sessions, plan.race.finish, limits)
        if share is not None:
            breach.evidence["impact_share_of_usual"] = round(share, 2)
        findings.append(finding(breach, subject, place))
    return findings


# `gone_quiet`: no file while a plan is active.


def quiet_since(last_file_at: datetime | None, finish: datetime, watched_since: datetime | None = None) -> datetime:
    """Where the silence begins: the latest of the finish, the last file and the first look at the folder."""
    known = (finish, last_file_at, watched_since)
    return max(moment.astimezone(UTC) for moment in known if moment is not None)


def gone_quiet(
    since: datetime,
    now: datetime,
    silent_after_hours: float,
    zone: ZoneInfo,
    *,
    ever: bool = True,
    coached: bool = True,
) -> Breach | None:
    """A note to the athlete, a caution to the coach; `ever`: whether a file has ever come."""
    seconds = (now.astimezone(UTC) - since.astimezone(UTC)).total_seconds()
    if seconds < silent_after_hours * 3600:
        return None
    told = since.astimezone(zone)
    then = say("coach_is_told" if coached else "somebody_should_ask")
    text = say("gone_quiet", since=told, after=silent_after_hours, then=then)
    if not ever:
        text = say("never_came", since=told.date(), after=silent_after_hours, then=then)
    whole_days = float(seconds // 86400 * 24)  # so that it changes once a day, not with every look
    evidence = {
        "since": since.astimezone(UTC).isoformat(),
        "ever": ever,
        "severity_for": {"athlete": "note", "coach": "caution"},
    }
    return Breach("gone_quiet", Severity.CAUTION, text, whole_days, silent_after_hours, "h", evidence)


def silence_changes_at(facts: Ordered, plans: list[Plan], now: datetime, silent_after_hours: float) -> datetime | None:
    """The moment (UTC) before which the clock alone changes no silence; None where no plan is active.

    It begins after so many hours, and then tells of a day more each day.
    """
    if ruling_at(plans, now) is None:
        return None
    since, now = _quiet_in_plan(facts, plans, now), now.astimezone(UTC)
    begins = since + timedelta(hours=silent_after_hours)
    return begins if now < begins else since + timedelta(days=(now - since) // timedelta(days=1) + 1)


def _quiet_in_plan(facts: Ordered, plans: list[Plan], now: datetime) -> datetime:
    """Since when there is no file within the active plans, of which there is one."""
    finish = min((plan.race.finish for plan in plans if plan.is_active(now)), key=lambda moment: moment.timestamp())
    return quiet_since(facts.last_file_at, finish, facts.watched_since)


def silence_findings(
    facts: Ordered, plans: list[Plan], now: datetime, silent_after_hours: float, limits: Limits
) -> list[Finding]:
    """At most one: no file for long, while a plan is active."""
    plan = ruling_at(plans, now)
    if plan is None:
        return []
    since = _quiet_in_plan(facts, plans, now)
    ever = facts.last_file_at is not None
    breach = gone_quiet(since, now, silent_after_hours, facts.athlete.zone, ever=ever, coached=facts.athlete.coached)
    if breach is None:
        return []
    told = facts.athlete.local_date(since + timedelta(hours=silent_after_hours))
    subject = of_day("silence", facts.athlete.local_date(since), facts.athlete)
    place = Place(plan, plan.allowance_on(told))
    return [finding(breach, subject, place)]
