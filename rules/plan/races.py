"""Several races: which plan rules a day, and which recordings are a race itself.

Each race has its own plan. Where plans overlap the stricter stage rules the day; between equal stages the one with the
closed ceiling, then the smaller share of running, then the later race. Between plans there is no limit.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, timedelta

from rules.facts import Race, Session
from rules.limits import Limits
from rules.plan.build import Plan
from rules.plan.days import Allowance
from rules.plan.stages import strictness


def ruling_at(plans: Iterable[Plan], moment: datetime) -> Plan | None:
    """The plan that rules a moment; None where none is active."""
    active = [plan for plan in plans if plan.is_active(moment)]
    return _strictest([(plan, plan.allowance_on(plan.athlete.local_date(moment))) for plan in active])


def ruling_on(plans: Iterable[Plan], day: date) -> Plan | None:
    """The plan that rules a whole day after the day of its race; None where none does."""
    return _strictest([(plan, plan.allowance_on(day)) for plan in plans if plan.day0 < day <= plan.last_date])


def _strictest(candidates: list[tuple[Plan, Allowance]]) -> Plan | None:
    if len(candidates) <= 1:
        return candidates[0][0] if candidates else None
    return min(candidates, key=_strictness)[0]


def _strictness(candidate: tuple[Plan, Allowance]) -> tuple[int, bool, float, float]:
    plan, allowed = candidate
    share = 1.0 if allowed.weekly_share is None else allowed.weekly_share
    return strictness(allowed.stage), allowed.ceiling_open, share, -plan.race.finish.timestamp()


def current_plan(plans: Sequence[Plan], now: datetime) -> Plan | None:
    """The plan to show: the one that rules now, else the last that is done, else the first that is to come."""
    ruling = ruling_at(plans, now)
    if ruling is not None:
        return ruling
    finished = [plan for plan in plans if plan.stage_at(now) == "done"]
    if finished:
        return max(finished, key=lambda plan: plan.race.finish.timestamp())
    return min(plans, key=lambda plan: plan.race.finish.timestamp(), default=None)


def own_files(sessions: Sequence[Session], races: Iterable[Race], limits: Limits) -> frozenset[str]:
    """Keys of the recordings that are a race: around its finish, and those that lead up to it without a gap."""
    found: set[str] = set()
    for race in races:
        found.update(session.key for session in race_recordings(sessions, race, limits))
    return frozenset(found)


def race_recordings(sessions: Sequence[Session], race: Race, limits: Limits) -> list[Session]:
    """The recordings of one race in order; the last runs at the finish, with the slack of clocks and typed times."""
    slack = timedelta(minutes=limits.race_file.slack_minutes)
    gap = timedelta(minutes=limits.race_file.gap_minutes)
    finish = race.finish.astimezone(UTC)
    before = [session for session in sessions if session.start.astimezone(UTC) < finish]
    chain: list[Session] = []
    begins = finish - slack
    reach = timedelta(0)
    for session in sorted(before, key=lambda each: each.end, reverse=True):
        if session.end.astimezone(UTC) < begins - reach:
            break
        chain.append(session)
        begins = min(begins, session.start.astimezone(UTC)) if len(chain) > 1 else session.start.astimezone(UTC)
        reach = gap
    return sorted(chain, key=lambda each: (each.start, each.key))
