"""From a breach to a finding: athlete, place in the plan, subject, stable id, advice."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from rules.catalogue import gravest_class, what_now
from rules.facts import Athlete, Session
from rules.findings import Breach, Finding, SubjectKind, finding_id
from rules.limits import Limits
from rules.plan import Allowance, Plan

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


def finding(breach: Breach, subject: Subject, place: Place, limits: Limits) -> Finding:
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
        advice=what_now(
            breach.rule,
            breach.severity,
            place.allowed.stage,
            limits,
            about=gravest_class(breach.evidence),
            coached=athlete.coached,
        ),
    )


def _sport(rule: str, session: Session | None) -> str | None:
    if session is None:
        return None
    return "running" if rule in OF_RUNNING else session.digest.sport
