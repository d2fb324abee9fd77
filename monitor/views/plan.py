"""A plan, its day's decision, what today allows and what the plan asks back, in the shape of `--json`."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import asdict
from datetime import date, datetime
from typing import Any

from monitor import words
from monitor.judging import View
from monitor.plain_text import local
from rules import words as rule_words
from rules.day import Decision, audience_of, decide
from rules.day_rules import usual_week
from rules.facts import Athlete, Hold, Race
from rules.findings import finding_id
from rules.history import in_order
from rules.limits import Limits
from rules.plan import GateRecord, Plan, PlannedStage
from rules.race_file import LooksLikeARace, looks_like_a_race, race_file
from rules.today import Today, today


# The decision of the day, as plan, status and board show it.
def decision_of(made: View, now: datetime, limits: Limits) -> Decision:
    """What today allows one athlete by a judgement of now."""
    return decide(made.judgement, in_order(made.history, limits), now, limits)


def decision_view(decision: Decision) -> dict[str, Any]:
    """The decision as numbers, reasons and sentences; JSON-ready."""
    zone, audience = decision.athlete.zone, audience_of(decision)
    return {
        "answer": rule_words.day.answer(decision),
        "movement": decision.movement,
        "rest": decision.rest,
        "walking_only_until": local(decision.walking_only_until, zone),
        "allowed_min": decision.allowed_min,
        "left_min": decision.left_min,
        "running": decision.running,
        "run_allowed_min": decision.run_allowed_min,
        "week_left_min": decision.week_left_min,
        "reasons": [
            {
                "kind": reason.kind,
                "forbids": reason.forbids,
                "since": local(reason.since, zone),
                "until": local(reason.until, zone),
                "ends": reason.ends,
                "finding": reason.finding,
                "text": rule_words.day.reason_words(reason, audience),
                "ends_text": rule_words.day.ends_words(reason, audience),
            }
            for reason in decision.reasons
        ],
        "sentences": list(rule_words.day.now_words(decision, audience)),
    }


# A plan in the shape of `plan --json`.


def plan_view(made: View, now: datetime, limits: Limits, *, race: Race | None = None) -> dict[str, Any]:
    """The plan after `race`; else the one that rules now, the last that is done, or the next; empty without any."""
    athlete, judgement = made.athlete.athlete, made.judgement
    plan = next((other for other in judgement.plans if other.race == race), None) if race else judgement.current
    today = athlete.local_date(now)
    if plan is None:
        return _without_plan(athlete, today)
    return {
        "athlete": athlete.id,
        "race": race_view(plan),
        "stages": [stage_view(stage) for stage in plan.stages],
        "today": {"date": today.isoformat(), "day": plan.day_of(today), "stage": plan.stage_at(now)},
        "decision": decision_view(decision_of(made, now, limits)),
        "gates": [gate_view(gate) for gate in plan.gates],
        "holds": [hold_view(hold, athlete) for hold in plan.holds],
        "estimated": list(map(rule_words.said, plan.estimated)),
        "thin": list(map(rule_words.said, judgement.thin)) if plan is judgement.current else [],
        "other_races": [
            {"number": number, "event": other.event, "finish": other.finish.isoformat()}
            for number, other in enumerate(in_turn(athlete), start=1)
            if other != plan.race
        ],
        "usual_week": _usual(made, plan, limits),
        "race_file": race_file_view(made, plan.race, limits),
        "summary": list(rule_words.report.summary(judgement, plan).sentences) if plan.stage_at(now) == "done" else [],
    }


def in_turn(athlete: Athlete) -> list[Race]:
    """The athlete's races by finish, as they are numbered from 1."""
    return sorted(athlete.races, key=lambda race: race.finish.timestamp())


def _without_plan(athlete: Athlete, today: date) -> dict[str, Any]:
    lists = ("stages", "gates", "holds", "estimated", "thin", "other_races", "summary")
    return {
        "athlete": athlete.id,
        "race": None,
        "today": {"date": today.isoformat(), "day": None, "stage": None},
        **{name: [] for name in lists},
        "decision": None,
        "usual_week": None,
        "race_file": None,
    }


def _usual(made: View, plan: Plan, limits: Limits) -> dict[str, Any] | None:
    """The usual running week that an on-ramp is measured by; `minutes` is null, and `reason` says why, without one."""
    if not any(row.stage == "on_ramp" for row in plan.stages):
        return None
    usual = usual_week(made.history.sessions, plan, limits)
    shares = limits.on_ramp.weekly_shares
    allowed = None if usual.minutes is None else [round(share * usual.minutes) for share in shares]
    return {
        "minutes": usual.minutes,
        "shares": list(shares),
        "allowed_min": allowed,
        "reason": rule_words.said(usual.reason),
    }


def race_view(plan: Plan) -> dict[str, Any]:
    """The race, how long its reverse taper is and why; `last_day` and `last_date` as gates and holds moved them."""
    race = plan.race
    return {
        "event": race.event,
        "finish": race.finish.isoformat(),
        "length_days": plan.length_days,
        "last_day": plan.last_day,
        "last_date": plan.last_date.isoformat(),
        "distance_km": race.distance_km,
        "conditions": list(race.conditions),
        "effort": race.effort,
        "reasons": list(plan.length.reasons),
    }


def stage_view(stage: PlannedStage) -> dict[str, Any]:
    return {
        "stage": stage.stage,
        "first_day": stage.first_day,
        "last_day": stage.last_day,
        "first_date": stage.first_date.isoformat(),
        "last_date": stage.last_date.isoformat(),
        "running": stage.running,
        "duration_cap_min": stage.duration_cap_min,
        "ceiling_bpm": stage.ceiling_bpm,
        "strength": stage.strength,
        "speed_work": stage.speed_work,
        "reasons": list(stage.reasons),
        "run_cap_min": stage.run_cap_min,
        "tolerated_run_min": stage.tolerated_run_min,
        "effort": stage.effort,
        "planned_days": stage.planned_days,
        "held_days": stage.held_days,
    }


def stage_lines(stage: dict[str, Any], *, beats: bool = True) -> list[tuple[str, str]]:
    """What a stage of `stage_view` allows, as labels and words; without `beats` effort stands for heart rates."""
    run = words.status.RUN_CAP.format(run_cap_min=stage["run_cap_min"]) if stage["run_cap_min"] else ""
    cap = (
        words.status.DAY_CAP.format(duration_cap_min=stage["duration_cap_min"])
        if stage["duration_cap_min"]
        else "no cap"
    )
    ceiling = (
        words.status.CEILING.format(ceiling_bpm=stage["ceiling_bpm"])
        if stage["ceiling_bpm"]
        else f"by feel: {stage['effort']}"
    )
    return [
        ("running", stage["running"] + run),
        (words.status.TIME_DAY, cap),
        ("heart rate", ceiling) if beats else ("effort", stage["effort"]),
        ("strength", stage["strength"]),
        ("speed work", stage["speed_work"]),
    ]


def gate_view(gate: GateRecord) -> dict[str, Any]:
    """A gate that was or is shut; `until` is null while it is."""
    return {
        "before": gate.before,
        "since": gate.since.isoformat(),
        "until": gate.until.isoformat() if gate.until else None,
        "reasons": [shut.reason for shut in gate.reasons],
        "asks": list(gate.asks),
    }


def shut_gates(gates: Sequence[GateRecord]) -> list[dict[str, Any]]:
    """Those that are shut now."""
    return [gate_view(gate) for gate in gates if gate.until is None]


def hold_view(hold: Hold, athlete: Athlete) -> dict[str, Any]:
    return {
        "kind": hold.kind,
        "on": hold.on.isoformat(),
        "days": hold.days,
        "why": hold.why,
        "by": hold.by,
        "at": local(hold.at, athlete.zone),
    }


# What today allows, in the shape of `today --json`.


def today_of(made: View, now: datetime, limits: Limits) -> Today:
    """The day of one athlete by a judgement of now."""
    return today(made.judgement, made.history, now, limits)


def today_view(made: View, now: datetime, limits: Limits) -> dict[str, Any]:
    """Every limit of the day as a number, and all of it as sentences."""
    day = today_of(made, now, limits)
    return {**{key: _plain(value) for key, value in asdict(day).items()}, "name": made.athlete.athlete.name}


def _plain(value: Any) -> Any:
    if isinstance(value, date | datetime):
        return value.isoformat()
    if isinstance(value, tuple | list):
        return [_plain(part) for part in value]
    if isinstance(value, dict):
        return {key: _plain(part) for key, part in value.items()}
    return value


# Questions to the coach: conditions that a race file suggests, runs that look like a race.


def race_file_view(made: View, race: Race, limits: Limits) -> dict[str, Any] | None:
    """The race as recorded and what it suggests; null where no recording of it is known."""
    file = race_file(made.history.sessions, race, limits)
    if file is None:
        return None
    return {
        "sources": list(file.sources),
        "distance_m": file.distance_m,
        "moving_s": file.moving_s,
        "elapsed_s": file.elapsed_s,
        "result_s": race.result_seconds,
        "ascent_m": file.ascent_m,
        "descent_m": file.descent_m,
        "altitude_m": file.altitude_m,
        "temperature_c": file.temperature_c,
        "doubt": file.doubt or None,
        "more_days": file.more_days,
        "suggestions": [
            {"condition": suggestion.condition, "reason": suggestion.reason, "more_days": suggestion.more_days}
            for suggestion in file.suggestions
        ],
        "sentences": list(rule_words.report.race_words(file, race)),
    }


def looks_like_races(made: View, seen: Collection[str], now: datetime, limits: Limits) -> list[dict[str, Any]]:
    """Runs that look like a race of which the roster knows nothing, until it does or somebody has seen the question."""
    asked = [
        _question(made, question)
        for question in looks_like_a_race(made.history.sessions, made.athlete.athlete, now, limits)
    ]
    return [question for question in asked if question["id"] not in seen]


def question_words(asked: dict[str, Any]) -> str:
    """The question in a sentence, with what to do for either answer."""
    return words.status.RACE_QUESTION.format(
        moment=asked["session_start"][:16].replace("T", " "),
        reason=asked["reason"],
        session_end=asked["session_end"][:19],
        id=asked["id"],
    )


def _question(made: View, one: LooksLikeARace) -> dict[str, Any]:
    athlete = made.athlete.athlete
    ended = local(one.session.end, athlete.zone)
    return {
        "id": finding_id(athlete.id, "looks_like_a_race", "session", one.session.key),
        "session_start": local(one.session.start, athlete.zone),
        "session_end": ended,
        "source": one.session.source,
        "reason": one.reason,
    }
