"""Where every athlete stands, in the shape of `status --json`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from datetime import datetime, timedelta
from typing import Any

import duckdb

from monitor.judging.judge import View, view
from monitor.roster import Roster, RosterAthlete
from monitor.store import findings
from monitor.views.plan import decision_of, decision_view, shut_gates
from monitor.views.questions import looks_like_races
from monitor.views.triage import FindingAnswers, first_word, next_stage, open_since
from monitor.words import local, short_moment
from rules.day import answer
from rules.findings import Finding
from rules.limits import Limits
from rules.summary import looked_back

COLUMNS = (
    "athlete", "name", "day", "stage", "stage_ends", "last_session", "last_session_sport", "last_session_min",
    "last_file_at", "open_findings", "open_worst", "need", "why", "do", "today", "next_stage", "next_date",
)  # fmt: skip
DAY = timedelta(days=1)


def status_view(
    con: duckdb.DuckDBPyConnection, roster: Roster, athletes: Collection[RosterAthlete], now: datetime, limits: Limits
) -> list[dict[str, Any]]:
    """One entry an athlete, in the order of the roster."""
    answers = FindingAnswers(findings.marks(con), findings.made_at(con))
    entries = []
    for athlete in athletes:
        made = view(con, roster, athlete, now, limits)
        standing = [one for one in findings.standing(con, athlete.id) if one.subject_start <= now + DAY]
        asked = looks_like_races(made, answers.marks, now, limits)
        entries.append(
            {
                **status_entry(made, standing, answers.marks, now, limits),
                "looks_like_a_race": asked,
                "summary": _looked_back(made, now, limits),
                **_need(made, standing, answers, now, roster.alerts.late_after_days, limits),
            }
        )
    return entries


def _need(
    made: View, standing: Sequence[Finding], answers: FindingAnswers, now: datetime, news_days: float, limits: Limits
) -> dict[str, Any]:
    """What the board's line says: how urgent, why, what to do, what today allows, what comes next and when."""
    decision = decision_of(made, now, limits)
    word = first_word(made, standing, decision, answers, now, news_days, limits)
    following = next_stage(made.judgement.current, now)
    return {
        "need": word.need,
        "need_rank": list(word.rank),
        "why": word.why,
        "do": word.do,
        "why_finding": word.finding or None,
        "today": answer(decision, short_moment(made.athlete.clock)),
        "next_stage": following[0] if following else None,
        "next_date": following[1].isoformat() if following else None,
    }


def status_entry(
    made: View, standing: Sequence[Finding], seen: Collection[str], now: datetime, limits: Limits
) -> dict[str, Any]:
    """Where one athlete stands, by a judgement of now and the findings that stand."""
    athlete, plan = made.athlete.athlete, made.judgement.current
    today = athlete.local_date(now)
    stage = plan.planned_stage(today) if plan else None
    last = next((one for one in reversed(made.history.sessions) if one.start <= now), None)  # they come by start
    since = open_since(made)
    unseen = [one for one in standing if one.id not in seen and (since is None or one.date >= since)]
    counted = Counter(str(one.severity) for one in unseen)
    return {
        "athlete": athlete.id,
        "name": athlete.name,
        "day": plan.day_of(today) if plan else None,
        "stage": plan.stage_at(now) if plan else None,
        "stage_ends": stage.last_date.isoformat() if stage else None,
        "last_session": local(last.start, athlete.zone) if last else None,
        "last_session_sport": last.digest.sport if last else None,
        "last_session_min": round(last.timer_s / 60, 1) if last else None,
        "last_file_at": local(made.history.last_file_at, athlete.zone),
        "open_findings": {word: counted[word] for word in ("note", "caution", "stop")},
        "open_worst": str(max(one.severity for one in unseen)) if unseen else None,
        "gates": shut_gates(plan.gates) if plan else [],
        "plan_ends": plan.last_date.isoformat() if plan else None,
        "thin": list(made.judgement.thin),
        "decision": decision_view(decision_of(made, now, limits)),
    }


def _looked_back(made: View, now: datetime, limits: Limits) -> list[str]:
    """The reverse taper summed up, for some days after its end."""
    plan, told = made.judgement.current, looked_back(made.judgement, now)
    if plan is None:
        return []
    days = (made.athlete.athlete.local_date(now) - plan.last_date).days
    return list(told) if days <= limits.status.summary_days else []
