"""What sessions break: every rule that is about a session, merged to one breach a rule."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, date
from itertools import groupby

from rules.facts import Session
from rules.findings import Breach, Finding, Severity
from rules.judgement.finding import Place, finding, of_session
from rules.judgement.history import Ordered
from rules.judgement.plan_fixpoint import Placed
from rules.limits import Limits
from rules.plan import Allowance, Plan
from rules.running import UsualWeek, long_run_jump, run_spacing, usual_week, weekly_running
from rules.session.sport import has_running, known_duration
from rules.session_rules import duration_cap, no_strength, rest_hours


def session_findings(facts: Ordered, plans: list[Plan], placed: list[Placed], limits: Limits) -> list[Finding]:
    """Findings of all sessions inside plans."""
    durations = _durations(facts, placed, limits)
    usual: dict[date, UsualWeek] = {}
    runs: list[Session] = []
    found: list[Finding] = []
    for each in placed:
        session, place = each.session, each.place
        since = [run for run in runs if run.start.astimezone(UTC) >= place.plan.race.finish.astimezone(UTC)]
        breaches = [
            rest_hours(session, _since_finish(session, plans), limits),
            each.running,
            no_strength(session, place.allowed, limits),
            durations.get(session.key),
            run_spacing(session, place.allowed, since, facts.athlete, limits),
            long_run_jump(session, place.allowed, since, facts.athlete, limits),
            not_judged(session, place.allowed, limits),
            *each.samples,
        ]
        if has_running(session, limits):
            runs.append(session)
            breaches.append(_weekly(facts, [*since, session], place, usual, limits))
        subject = of_session(session, facts.days[session.key])
        found += [finding(breach, subject, place, limits) for breach in merged(each for each in breaches if each)]
    return found


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
        text = f"{first.summary}. {second.summary}" if first.rule == "not_judged" else first.summary
        found[breach.rule] = replace(
            first, summary=text, evidence={**second.evidence, **first.evidence, "also_said": also}
        )
    return list(found.values())


def _durations(facts: Ordered, placed: list[Placed], limits: Limits) -> dict[str, Breach]:
    found: dict[str, Breach] = {}
    for _, group in groupby(placed, key=lambda each: (facts.days[each.session.key], each.place.allowed)):
        day = list(group)
        found.update(duration_cap([each.session for each in day], day[0].place.allowed, limits))
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
        missing.append("how long it took")
    if session.digest.sport == "unknown":
        missing.append("what sport it was")
    if not missing:
        return None
    text = f"The file does not say {' or '.join(missing)}: not held against the limits on running and time"
    return Breach("not_judged", Severity.NOTE, text, evidence={"missing": missing, "label": session.sport})
