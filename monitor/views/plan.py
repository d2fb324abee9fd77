"""A plan in the shape of `plan --json`."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from monitor.views.moments import local
from rules.facts import Athlete, Hold, Race
from rules.judge import Judgement
from rules.plan import GateRecord, Plan, PlannedStage
from rules.summary import summary


def plan_view(athlete: Athlete, judgement: Judgement, now: datetime) -> dict[str, Any]:
    """The plan that rules now, else the last that is done, else the next; empty where there is no race."""
    plan = judgement.current
    today = athlete.local_date(now)
    if plan is None:
        return {
            "athlete": athlete.id,
            "race": None,
            "stages": [],
            "today": {"date": today.isoformat(), "day": None, "stage": None},
            "gates": [],
            "holds": [],
            "estimated": [],
            "thin": [],
            "other_races": [],
            "summary": [],
        }
    return {
        "athlete": athlete.id,
        "race": race_view(plan),
        "stages": [stage_view(stage) for stage in plan.stages],
        "today": {"date": today.isoformat(), "day": plan.day_of(today), "stage": plan.stage_at(now)},
        "gates": [gate_view(gate) for gate in plan.gates],
        "holds": [hold_view(hold, athlete) for hold in plan.holds],
        "estimated": list(plan.estimated),
        "thin": list(judgement.thin),
        "other_races": [_other(race) for race in athlete.races if race != plan.race],
        "summary": list(summary(judgement, plan).sentences) if plan.stage_at(now) == "done" else [],
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


def _other(race: Race) -> dict[str, Any]:
    return {"event": race.event, "finish": race.finish.isoformat()}
