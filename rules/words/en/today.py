"""Today in sentences: the decision first, then what the stage has, the week, the mornings, what to look out for."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from rules import words as own
from rules.day import Decision, audience_of
from rules.day.decision import heart_rate_misleads
from rules.limits import default_limits
from rules.plan import Plan
from rules.words import texts
from rules.words.en.amounts import weekday
from rules.words.en.day import now_words

if TYPE_CHECKING:
    from rules.judge import Judgement
    from rules.today import DayFacts

STAGE_WORDS = {
    "days_off": "days off",
    "cross_training": "cross-training",
    "test_runs": "test runs",
    "on_ramp": "on-ramp",
    "done": "done",
}
NO_RACE = "No race is in the roster: nothing is limited."


def caution_of(about: str, day: int) -> str:
    """One caution that fits the stage, or the hours after the finish or rest; another each day."""
    said = texts("today")["caution"].get(about, ())
    return str(said[day % len(said)]) if said else ""


def caution_today(day: DayFacts) -> str:
    """The one that fits the day best; none beside a sign for a doctor, whose advice is all there is to say."""
    decision = day.decision
    if decision.flags:
        return ""
    if any(reason.kind == "rest_hours" for reason in decision.reasons):
        about = "first_hours"
    elif not decision.sport:
        about = "after_a_stop"
    else:
        about = "between_runs" if day.stage in {"test_runs", "on_ramp"} and not decision.runs else day.stage
    return caution_of(about, decision.day or 0)


def asked(plans: Sequence[Plan], on: date, *, reasons: bool) -> tuple[str, ...]:
    """Why gates are shut today, or what would open them."""
    shut = [gate for plan in plans for gate in plan.gates if gate.until is None and plan.day0 <= on <= plan.last_date]
    said = [text for gate in shut for text in ([reason.reason for reason in gate.reasons] if reasons else gate.asks)]
    return tuple(dict.fromkeys(said))


def forbidden(decision: Decision) -> tuple[str, ...]:
    """What the day does not allow."""
    allowed = decision.allowance
    if not decision.active or allowed is None:
        return ()
    found = ["training of any kind"] if decision.flags else []
    until = decision.walking_only_until
    if decision.movement == "walking":
        found.append("anything but walking and mobility" + (f" until {until:%a %H:%M}" if until else ""))
    if not decision.runs:
        found.append("running")
    if allowed.strength == "none" or not decision.sport:
        found.append("strength work")
    if allowed.speed_work == "none" or not decision.runs:
        found.append("fast running of any kind")
    if allowed.easy_ground:
        found.append("long or steep ups and downs on foot")
    return tuple(found)


def notes_of(day: DayFacts) -> tuple[str, ...]:
    """What fits this athlete and race beyond the stage."""
    decision, plan, allowed = day.decision, day.plan, day.decision.allowance
    if not decision.active or allowed is None or decision.flags:
        return ()
    notes, found = texts("today")["note"], []
    if (decision.day or 0) <= day.painkiller_days:
        found.append(notes["painkillers"])
    if plan.race.event.startswith("tri") and any(reason.kind == "rest_hours" for reason in decision.reasons):
        found.append(notes["triathlon_rest"])
    elif plan.race.event.startswith("tri") and allowed.running != "share" and decision.sport:
        found.append(notes["triathlon"])
    if decision.sport:
        found += _notes_of_sport(day)
    if plan.athlete.born is not None and day.on.year - plan.athlete.born >= default_limits().remarks.masters_age:
        found.append(notes["masters"])
    if plan.race.effort == "controlled":
        found.append(notes["controlled"])
    return tuple(found)


def _notes_of_sport(day: DayFacts) -> list[str]:
    notes, allowed = texts("today")["note"], day.decision.allowance
    found = []
    if day.run_walker and day.decision.runs:
        found.append(notes["run_walk"])
    if allowed is not None and allowed.ceiling is None and not allowed.ceiling_open:
        found.append(notes["no_heart_rate"].format(effort=allowed.effort))
    if allowed is not None and allowed.ceiling is not None and allowed.ceiling.estimated:
        off = default_limits().zones.estimated_ceiling_bpm
        found.append(notes["estimated"].format(bpm=f"{off:g}"))
    return found


def sentences(day: DayFacts, judgement: Judgement) -> tuple[str, ...]:
    """The day in plain sentences: what to do now first."""
    decision = day.decision
    if day.stage == "before":
        days = -day.plan.day_of(day.on)
        when = "today" if days <= 0 else f"in {days} day{'s' * (days > 1)}"
        return (f"The race is {when}; {day.plan.length_days} days of reverse taper follow it.", caution_of("before", 0))
    if day.stage == "done":
        return (*own.report.summary(judgement, day.plan).sentences, caution_of("done", 0))
    said = (
        *now_words(decision, audience_of(decision)),
        *_where(day),
        *stage_has(decision),
        *_week(day),
        *day.mornings,
        *notes_of(day),
        caution_today(day),
    )
    return tuple(text for text in said if text)


def stage_has(decision: Decision, *, body: bool = True) -> list[str]:
    """How long, how hard, and what has no place on the day; nothing where no sport has. `body`: heart rates too."""
    return [*_allowed(decision, body=body), *_not_today(decision)] if decision.active and decision.sport else []


def _not_today(decision: Decision) -> list[str]:
    """What of sport has no place today, where some sport has."""
    said = list(forbidden(decision))
    if "running" in said:
        said = [text for text in said if text != "fast running of any kind"]
    return [f"Not today: {', '.join(said)}."] if said else []


def _where(day: DayFacts) -> list[str]:
    row = day.plan.planned_stage(day.on)
    ends = f", to {weekday(row.last_date)}" if row else ""
    said = [f"Day {day.decision.day} of {day.plan.last_day}: {STAGE_WORDS[day.stage]}{ends}."]
    if day.gates:
        asks = f" It asks for {', '.join(day.asks)}." if day.asks else ""
        said.append(f"The next stage waits: {'; '.join(day.gates)}.{asks}")
    return said


def _allowed(decision: Decision, *, body: bool) -> list[str]:
    """How long and how hard, of what the decision lets through."""
    allowed = decision.allowance
    if allowed is None:
        return []
    said = []
    if decision.allowed_min is not None:
        used = f", {decision.left_min} min of them left" if decision.used_min >= 1 else ""
        said.append(f"Allowed: {decision.allowed_min} min in all{used}; walks, with sticks or without, come on top.")
    by_beats = body and not heart_rate_misleads(decision.athlete)
    if allowed.ceiling is not None and by_beats:
        said.append(f"Heart rate up to {allowed.ceiling.bpm}; {allowed.effort}.")
    elif not allowed.ceiling_open:
        said.append(f"{allowed.effort[:1].upper()}{allowed.effort[1:]}.")
    return [*said, *_running(decision)]


def _running(decision: Decision) -> list[str]:
    allowed = decision.allowance
    pace = (
        "" if decision.pace_s_per_km is None else f", not faster than {_pace(decision.pace_s_per_km)} a km on the level"
    )
    if not decision.runs or allowed is None:
        return []
    if decision.running == "test":
        return [f"A run of up to {decision.run_allowed_min} min is fine{pace}, with a day without running after it."]
    if decision.running == "tolerated":
        return [f"Should you run, once and for {decision.run_allowed_min} min at most{pace}; it is noted."]
    if decision.running == "share":
        strides = " Strides are fine." if allowed.speed_work == "strides" else ""
        return [f"Running by the week's share{pace}.{strides}"]
    return []


def _pace(seconds: float) -> str:
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"


def _week(day: DayFacts) -> list[str]:
    week = day.decision.week
    if week is None:
        return []
    if week.allowed is None:
        return [f"Running this week so far: {week.done:.0f} min; the history is too thin to say how much is usual."]
    left = max(0.0, week.allowed - week.done)
    return [
        f"Running this week: {week.done:.0f} of {week.allowed:.0f} min, {left:.0f} left ({week.share * 100:.0f} %)."
    ]
