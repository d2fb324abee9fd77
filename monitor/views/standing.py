"""Where an athlete stands, in a few words each: the day, what comes next and when at the earliest, body, files."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta, tzinfo

from monitor.judging.judge import View
from monitor.views.words import counted, day, gate_words, number, race_name, stage_words, wait_words
from rules.facts import CheckIn
from rules.plan import Plan

ONE = timedelta(days=1)


def where_words(plan: Plan | None, now: datetime) -> str:
    """ "day 20 of 32, test runs"."""
    if plan is None:
        return "no plan"
    stage = plan.stage_at(now)
    number_of_day = plan.day_of(plan.athlete.local_date(now))
    if stage == "before":
        return f"{race_name(plan.race)} in {counted(-number_of_day, 'day')}" if number_of_day < 0 else "race today"
    if stage == "done":
        return f"done after {counted(plan.last_day, 'day')}"
    return f"day {number_of_day} of {plan.last_day}, {stage_words(stage)}"


def next_words(plan: Plan | None, now: datetime) -> str:
    """ "test runs from Sun 18 Oct"; while the gate is shut, that it waits and the earliest day by what is known."""
    following = next_stage(plan, now)
    if following is None:
        return ""
    stage, first, waits = following
    if waits:
        return f"{wait_words(stage)}, {day(first)} at the earliest"
    return f"{gate_words(stage)} from {day(first)}"


def next_stage(plan: Plan | None, now: datetime) -> tuple[str, date, bool] | None:
    """The stage after the one of now, the earliest day of it, and whether its gate is shut; None outside a plan."""
    if plan is None or plan.stage_at(now) in ("before", "done"):
        return None
    current = plan.planned_stage(plan.athlete.local_date(now))
    if current is None:
        return None
    first = current.last_date + ONE
    stage = plan.stage_on(first)
    return stage, first, any(gate.until is None and gate.before == stage for gate in plan.gates)


def body_words(checkins: Mapping[date, CheckIn], on: date) -> str:
    """Pain and stairs by the latest answers: "pain 2 left calf, stairs fine, Fri 9 Oct"."""
    told = [checkins[each] for each in sorted(checkins, reverse=True) if each <= on]
    if not told:
        return "no check-in"
    said = []
    hurts = next((each for each in told if each.pain is not None), None)
    if hurts is not None and hurts.pain is not None:
        where = f" {hurts.pain_where}" if hurts.pain_where and hurts.pain else ""
        said.append(f"pain {number(hurts.pain)}{where}")
    stairs = next((each.stairs_unaided for each in told if each.stairs_unaided is not None), None)
    if stairs is not None:
        said.append("stairs fine" if stairs else "stairs not unaided")
    return ", ".join([*(said or ["nothing on pain or stairs"]), day(told[0].date)])


def quiet_words(last_file_at: datetime | None, now: datetime, zone: tzinfo) -> str:
    """How many days no file has come: "a file today", "3 days without a file"."""
    if last_file_at is None:
        return "no file yet"
    days = quiet_days(last_file_at, now, zone)
    return "a file today" if days == 0 else f"{counted(days, 'day')} without a file"


def quiet_days(last_file_at: datetime, now: datetime, zone: tzinfo) -> int:
    return max((now.astimezone(zone).date() - last_file_at.astimezone(zone).date()).days, 0)


def open_since(made: View) -> date | None:
    """From which day findings are open: the finish of the race whose plan is shown, or of one that it lies within."""
    if made.judgement.current is None:
        return None
    return min((plan.day0 for plan in made.judgement.plans if _touch(plan, made)), default=made.judgement.current.day0)


def _touch(plan: Plan, made: View) -> bool:
    current = made.judgement.current
    return current is not None and plan.day0 <= current.day0 <= plan.last_date
