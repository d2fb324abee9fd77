"""`no_running` and `run_spacing`: whether and on which days there may be running."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, timedelta
from typing import Any

from rules.evidence import RUNNING_SIGNALS, heard_again, severity_of, shown
from rules.exercise import RUNNING, has_running, local_day, running_seconds
from rules.facts import Athlete, Session
from rules.findings import Breach, Severity
from rules.limits import Limits
from rules.plan import Allowance
from rules.wording import minutes


def no_running(
    session: Session, allowed: Allowance, *, ceiling_broken: bool, run_before: bool, limits: Limits
) -> Breach | None:
    """Running where the stage has none; one short run under the ceiling near the end of cross-training is a note.

    As grave as the signals' evidence for running; a digest made before they were kept counts as good evidence.
    """
    if allowed.running not in {"none", "tolerated"} or not has_running(session, limits):
        return None
    heard = heard_again(session.digest.notes.get(RUNNING_SIGNALS, ()))
    severity = severity_of(heard) if heard else Severity.STOP
    if severity is None:
        return None
    seconds = running_seconds(session)
    evidence: dict[str, Any] = {
        "running_minutes": round(seconds / 60, 1),
        "label": session.sport,
        "why_running": session.digest.sport_reason,
    }
    if session.digest.running_m is not None:
        evidence["running_m"] = round(session.digest.running_m)
    if heard:
        evidence["signals"] = shown(heard)
    cap = allowed.tolerated_run_min
    slack = limits.no_running.tolerated_slack_seconds
    short = cap is not None and seconds <= cap * 60 + slack
    if cap is not None and short and not ceiling_broken and not run_before:
        if not session.digest.hr_known_s:
            evidence["assumed"] = ["no heart rate was recorded: taken to be under the ceiling"]
        text = f"A run of {minutes(seconds)} near the end of cross-training: one of up to {cap} min is tolerated"
        return Breach("no_running", Severity.NOTE, text, round(seconds / 60, 1), float(cap), "min", evidence)
    if cap is not None:
        evidence["not_tolerated"] = _why_not(short=short, ceiling_broken=ceiling_broken, cap=cap)
    said = _words(session, seconds) if severity == Severity.STOP else _asked(session, seconds)
    return Breach("no_running", severity, said, round(seconds / 60, 1), float(cap or 0), "min", evidence)


def _why_not(*, short: bool, ceiling_broken: bool, cap: int) -> str:
    if not short:
        return f"longer than the {cap} min that are tolerated"
    return "over the ceiling" if ceiling_broken else "there was a tolerated run in this stage already"


def _words(session: Session, seconds: float) -> str:
    if session.digest.sport == RUNNING:
        return f"A run of {minutes(seconds)} in a stage without running"
    return (
        f"{minutes(seconds)} of running in a session labelled {session.sport or 'unknown'}, in a stage without running"
    )


def _asked(session: Session, seconds: float) -> str:
    label = f" in a session labelled {session.sport or 'unknown'}" if session.digest.sport != RUNNING else ""
    return f"Looks like {minutes(seconds)} of running{label}, in a stage without running; was it?"


def run_spacing(
    session: Session, allowed: Allowance, runs: Sequence[Session], athlete: Athlete, limits: Limits
) -> Breach | None:
    """A run on the day after a run, or a second one on the same day; `runs` are those before it since the race."""
    if not allowed.rest_day_between_runs or not has_running(session, limits):
        return None
    today = local_day(session, athlete)
    gap = timedelta(minutes=limits.run_spacing.same_run_gap_minutes)
    for run in reversed(runs):
        day = local_day(run, athlete)
        apart = session.start.astimezone(UTC) - run.end.astimezone(UTC)
        if day == today - timedelta(days=1) or (day == today and apart > gap):
            return _spacing_breach(day, today)
    return None


def _spacing_breach(before: date, today: date) -> Breach:
    when = "earlier today" if before == today else f"the day before, {before}"
    text = f"A run after a run {when}: this stage asks for a day of rest from running between runs"
    days = float((today - before).days)
    return Breach("run_spacing", Severity.CAUTION, text, days, 2.0, "days", {"run_before": before.isoformat()})
