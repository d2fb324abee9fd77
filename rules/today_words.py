"""Today in sentences, from `today.toml` and the figures of the day."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from datetime import date
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

from rules.plan import Plan

if TYPE_CHECKING:
    from rules.judge import Judgement
    from rules.today import DayFacts

MASTERS_AGE = 40
STAGE_WORDS = {
    "days_off": "days off",
    "cross_training": "cross-training",
    "test_runs": "test runs",
    "on_ramp": "on-ramp",
    "done": "done",
}


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(resources.files("rules").joinpath("today.toml").read_text("utf-8"))


def caution_of(about: str, day: int) -> str:
    """One caution that fits the stage, or the hours after the finish or a stop; another each day."""
    said = _table()["caution"].get(about, ())
    return str(said[day % len(said)]) if said else ""


def caution_today(day: DayFacts) -> str:
    """The one that fits the day best."""
    about = "first_hours" if day.rest_until else "after_a_stop" if day.stop_rest_until else day.stage
    return caution_of(about, day.allowed.day)


def asked(plans: Sequence[Plan], on: date, *, reasons: bool) -> tuple[str, ...]:
    """Why gates are shut today, or what would open them."""
    shut = [gate for plan in plans for gate in plan.gates if gate.until is None and plan.day0 <= on <= plan.last_date]
    said = [text for gate in shut for text in ([each.reason for each in gate.reasons] if reasons else gate.asks)]
    return tuple(dict.fromkeys(said))


def forbidden(day: DayFacts) -> tuple[str, ...]:
    """What today does not allow."""
    allowed = day.allowed
    found = ["training of any kind"] if day.for_a_doctor else []
    if day.rest_until is not None:
        found.append(f"anything but walking and mobility until {day.rest_until:%a %H:%M}")
    if allowed.running == "none" or day.rest_day or day.tolerated_used:
        found.append("running")
    if allowed.strength == "none":
        found.append("strength work")
    if allowed.speed_work == "none":
        found.append("fast running of any kind")
    if allowed.easy_ground:
        found.append("long or steep ups and downs on foot")
    return tuple(found)


def notes_of(day: DayFacts) -> tuple[str, ...]:
    """What fits this athlete and race beyond the stage."""
    if day.stage in {"before", "done"}:
        return ()
    words, plan, allowed = _table()["note"], day.plan, day.allowed
    found = []
    if plan.race.event.startswith("tri") and allowed.running != "share":
        found.append(words["triathlon" if day.rest_until is None else "triathlon_rest"])
    if day.run_walker and allowed.running != "none":
        found.append(words["run_walk"])
    if allowed.ceiling is None and not allowed.ceiling_open:
        found.append(words["no_heart_rate"].format(effort=allowed.effort))
    if allowed.ceiling is not None and allowed.ceiling.estimated:
        found.append(words["estimated"])
    if plan.athlete.born is not None and day.on.year - plan.athlete.born >= MASTERS_AGE:
        found.append(words["masters"])
    if plan.race.effort == "controlled":
        found.append(words["controlled"])
    return tuple(found)


def sentences(day: DayFacts, judgement: Judgement) -> tuple[str, ...]:
    """The day in plain sentences, most needful first."""
    if day.stage == "before":
        days = -day.plan.day_of(day.on)
        when = "today" if days <= 0 else f"in {days} day{'s' * (days > 1)}"
        return (f"The race is {when}; {day.plan.length_days} days of reverse taper follow it.", caution_of("before", 0))
    if day.stage == "done":
        from rules.summary import summary  # noqa: PLC0415 - only after the last day

        return (*summary(judgement, day.plan).sentences, caution_of("done", 0))
    if day.for_a_doctor:
        return (*_where(day), f"{day.for_a_doctor}.", str(_table()["for_a_doctor"]), *day.mornings)
    return (
        *_where(day),
        *_rest(day),
        *([] if day.resting_all_day else [*_allowed(day), *_not_today(day)]),
        *_week(day),
        *day.mornings,
        *notes_of(day),
        caution_today(day),
    )


def _rest(day: DayFacts) -> list[str]:
    """The hours after the finish that come before anything else."""
    if day.rest_until is None:
        return _after_a_stop(day)
    hours = (day.rest_until - day.plan.begins).total_seconds() / 3600
    said = f"Until {day.rest_until:%a %H:%M} walking and mobility only: {hours:g} h of rest after the finish"
    return [f"{said}, without sport of any kind." if day.resting_all_day else f"{said}. After that:"]


def _after_a_stop(day: DayFacts) -> list[str]:
    if day.stop_rest_until is None:
        return []
    until = f"{day.stop_rest_until:%a %H:%M}"
    return [f"After a stop rest is advised until {until}. Beyond walking the stage has, at the very most:"]


def _not_today(day: DayFacts) -> list[str]:
    said = [each for each in forbidden(day) if not each.startswith("anything but")]
    if "running" in said:
        said = [each for each in said if each != "fast running of any kind"]
    return [f"Not today: {', '.join(said)}."] if said else []


def _where(day: DayFacts) -> list[str]:
    row = day.plan.planned_stage(day.on)
    ends = f", to {row.last_date:%a %Y-%m-%d}" if row else ""
    said = [f"Day {day.allowed.day} of {day.plan.last_day}: {STAGE_WORDS[day.stage]}{ends}."]
    if day.gates:
        asks = f" It asks for {', '.join(day.asks)}." if day.asks else ""
        said.append(f"The next stage waits: {'; '.join(day.gates)}.{asks}")
    return said


def _allowed(day: DayFacts) -> list[str]:
    allowed = day.allowed
    said = []
    if allowed.day_cap_min is not None:
        left = max(0, round(allowed.day_cap_min - day.used_min))
        used = f", {left} min of them left" if day.used_min >= 1 else ""
        said.append(f"Allowed: {allowed.day_cap_min} min in all{used}; walks, with sticks or without, come on top.")
    if allowed.ceiling is not None:
        said.append(f"Heart rate up to {allowed.ceiling.bpm}; {allowed.effort}.")
    elif not allowed.ceiling_open:
        said.append(f"{allowed.effort[:1].upper()}{allowed.effort[1:]}.")
    return [*said, *_running(day)]


def _running(day: DayFacts) -> list[str]:
    allowed = day.allowed
    pace = "" if day.pace_s_per_km is None else f", not faster than {_pace(day.pace_s_per_km)} a km on the level"
    if day.rest_day:
        return ["A rest day from running: you ran today or yesterday."]
    if allowed.running == "test":
        return [f"A run of up to {allowed.run_cap_min} min is fine{pace}, with a day without running after it."]
    if allowed.running == "tolerated" and not day.tolerated_used:
        return [f"Should you run, once and for {allowed.tolerated_run_min} min at most{pace}; it is noted."]
    if allowed.running == "share":
        strides = " Strides are fine." if allowed.speed_work == "strides" else ""
        return [f"Running by the week's share{pace}.{strides}"]
    return []


def _pace(seconds: float) -> str:
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"


def _week(day: DayFacts) -> list[str]:
    week = day.week
    if week is None:
        return []
    if week.allowed is None:
        return [f"Running this week so far: {week.done:.0f} min; the history is too thin to say how much is usual."]
    left = max(0.0, week.allowed - week.done)
    return [
        f"Running this week: {week.done:.0f} of {week.allowed:.0f} min, {left:.0f} left ({week.share * 100:.0f} %)."
    ]
