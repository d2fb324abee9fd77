"""From a race to the days after it: stages, gates, holds, and what each day allows."""

from rules.plan.build import GateRecord, Plan, PlannedStage, build_plan
from rules.plan.days import Allowance, PlanDay, Shut, Stop
from rules.plan.stages import STAGES, Ceilings, Length, StageName, ceilings, plan_length, stage_lengths

__all__ = [
    "STAGES",
    "Allowance",
    "Ceilings",
    "GateRecord",
    "Length",
    "Plan",
    "PlanDay",
    "PlannedStage",
    "Shut",
    "StageName",
    "Stop",
    "build_plan",
    "ceilings",
    "plan_length",
    "stage_lengths",
]
