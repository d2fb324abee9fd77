"""What today allows in one short line."""

from __future__ import annotations

from rules.plan import Plan
from rules.today import Today


def allowed_line(today: Today, plan: Plan | None) -> str:
    """ "60 min to 146 bpm, no running"."""
    if plan is None or today.stage in (None, "before", "done"):
        return "no limit"
    if today.rest_until is not None:
        return f"walking and mobility only, until {today.rest_until:%a %H:%M}"
    time = f"{today.allowed_min} min" if today.allowed_min is not None else "no cap on time"
    heart = f"to {today.ceiling_bpm} bpm" if today.ceiling_bpm else (today.effort or "no ceiling")
    run = {
        "none": "no running",
        "rest day": "a rest day from running",
        "tolerated": f"at most one run of {today.run_allowed_min} min",
        "test": f"a run of up to {today.run_allowed_min} min",
        "share": "running by the week's share",
    }.get(today.running, "running")
    return f"{time} {heart}, {run}" if today.ceiling_bpm else f"{time}, {heart}, {run}"
