"""What races, mornings, nights and check-ins say, in sentences; and a reverse taper looked back on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import exp
from statistics import fmean

from rules.body.checkins import HeartRecovery, not_understood
from rules.body.mornings import Baseline, level_on, recent, resting_limit
from rules.facts import CheckIn, Race
from rules.findings import Finding
from rules.history import PlanTotals
from rules.judge import Judgement
from rules.limits import Limits, default_limits
from rules.plan import Plan
from rules.race_file import RaceFile
from rules.words.en.amounts import counted, duration, listed, sleep, weekday


# What the recording of a race says, in sentences: what was measured, and which conditions it suggests.
def race_words(file: RaceFile, race: Race) -> tuple[str, ...]:
    """One sentence of what was measured, then one for each condition that the roster might name; it decides."""
    said = [f"The race file has {', '.join(_measured(file))}."]
    if race.result_seconds is not None and file.moving_s:
        said.append(_against(file.moving_s, race.result_seconds))
    if file.doubt:
        return (*said, f"{file.doubt}; so it suggests nothing.")
    if not file.suggestions:
        return (*said, "It suggests no condition that the roster does not name.")
    said += [
        f"It suggests the condition {suggestion.condition} ({suggestion.reason}): {_days(suggestion.more_days)}."
        for suggestion in file.suggestions
    ]
    listed = ", ".join(
        f'"{name}"' for name in (*race.conditions, *(suggestion.condition for suggestion in file.suggestions))
    )
    said.append(f"The roster decides: with conditions = [{listed}] it would be {_days(file.more_days)} in all.")
    return tuple(said)


def _days(more: int) -> str:
    return f"{counted(more, 'day')} more" if more else "no day more, the most are added already"


def _measured(file: RaceFile) -> list[str]:
    said = [f"{file.distance_m / 1000:.1f} km"] if file.distance_m else []
    if file.moving_s:
        said.append(f"{duration(file.moving_s)} moving")
    if file.ascent_m is not None and file.descent_m is not None:
        said.append(f"{file.ascent_m:.0f} m up and {file.descent_m:.0f} m down")
    elif file.ascent_m is not None:
        said.append(f"{file.ascent_m:.0f} m up")
    if file.altitude_m is not None:
        said.append(f"{file.altitude_m:.0f} m above the sea")
    if file.temperature_c is not None:
        said.append(f"{file.temperature_c:.0f} °C")
    return said


def _against(moving_s: float, result_s: int) -> str:
    apart = result_s - moving_s
    told = f"Moving time {duration(moving_s)} against the result {duration(result_s)}"
    agreeing = default_limits().race_file.agreeing_s
    if apart > agreeing:
        return f"{told}: {duration(apart)} standing."
    return f"{told}: they agree." if apart >= -agreeing else f"{told}: the file is longer, the result may be wrong."


# What mornings, nights and check-ins say, in sentences.


def morning_words(
    on: date,
    day0: date,
    heart: HeartRecovery,
    checkins: Mapping[date, CheckIn],
    asleep: Mapping[date, float],
    limits: Limits,
) -> tuple[str, ...]:
    """The latest morning, night and check-in in a sentence each, none older than some days."""
    oldest = on - timedelta(days=limits.today.morning_days - 1)
    said = [
        _resting(_latest(heart.resting, on, oldest), heart, on, limits),
        _variability(on, day0, heart, limits),
        _slept(_latest(asleep, on, oldest), asleep, on),
        _checkin(_latest(checkins, on, oldest), checkins, on),
    ]
    return tuple(text for text in said if text)


def _latest(values: Mapping[date, object], on: date, oldest: date) -> date | None:
    return max((day for day in values if oldest <= day <= on), default=None)


def _when(day: date, on: date) -> str:
    return "this morning" if day == on else f"on {weekday(day)}"


def _thin(normal: Baseline | None) -> str:
    count = normal.mornings if normal else 0
    return f"{_mornings(count)} before the race {'is' if count == 1 else 'are'} too few to say what is usual"


def _mornings(count: int) -> str:
    return f"{count} morning{'s' * (count != 1)}"


def _resting(day: date | None, heart: HeartRecovery, on: date, limits: Limits) -> str:
    if day is None:
        return ""
    told = f"Resting heart rate {heart.resting[day]:g} {_when(day, on)}"
    limit = resting_limit(heart.resting_normal, limits)
    if limit is None or heart.resting_normal is None:
        return f"{told}; {_thin(heart.resting_normal)}."
    verdict = "that is up" if heart.resting[day] >= limit else "nothing unusual"
    return f"{told}, usual {heart.resting_normal.middle:g}: {verdict}."


def _variability(on: date, day0: date, heart: HeartRecovery, limits: Limits) -> str:
    week = recent(dict(heart.ln_rmssd), on, day0, limits)
    if not week:
        return ""
    normal, latest = heart.ln_rmssd_normal, max(week)
    level = level_on(heart.ln_rmssd, latest, day0, normal, limits)
    told = f"RMSSD about {exp(level.mean if level else fmean(week.values())):.0f} ms over {_mornings(len(week))}"
    if normal is None or not normal.enough:
        return f"{told}; {_thin(normal)}."
    if level is None:
        return f"{told}, too few to judge."
    low = level.mean < level.note
    verdict = "lower than chance explains" if low else "no lower than chance explains, which lifts no limit"
    return f"{told}, usual {exp(level.usual):.0f}: {verdict}."


def _slept(day: date | None, asleep: Mapping[date, float], on: date) -> str:
    return "" if day is None else f"Slept {sleep(asleep[day])} to {'today' if day == on else weekday(day)}."


def _checkin(day: date | None, checkins: Mapping[date, CheckIn], on: date) -> str:
    if day is None:
        return ""
    checkin = checkins[day]
    said = []
    if checkin.stairs_unaided is not None:
        said.append("stairs unaided" if checkin.stairs_unaided else "stairs not unaided")
    if checkin.pain is not None:
        said.append(f"pain {checkin.pain:g} of 10")
    if checkin.soreness is not None:
        said.append(f"soreness {checkin.soreness:g} of 10")
    told = f"You said {_when(day, on)}: {', '.join(said)}." if said else ""
    return " ".join(part for part in (told, not_understood_words(checkin)) if part)


def not_understood_words(checkin: CheckIn) -> str:
    """What was named and could not be held against the list of signs for a doctor."""
    named = list(not_understood(checkin))
    if not named:
        return ""
    return (
        f"Named and not understood: {listed(named)}. Signs for a doctor are known here by some English words only; "
        "if in doubt, ask a doctor."
    )


# A reverse taper looked back on: days planned and taken, sessions, findings, mornings.

BODY_WORDS = {
    "resting_hr_up": "resting heart rate up",
    "hrv_down": "heart-rate variability down",
    "short_sleep": "short sleep",
    "stairs_test": "stairs or squat not unaided",
    "pain": "pain",
    "see_a_doctor": "a symptom for a doctor",
}
HELD_WORDS = {
    "red flag": "a sign for a doctor",
    "check-in": "a check-in",
    "morning": "resting heart rate",
    "stop": "rest after a stop",
    "coach": "waiting for a release after repeated stops",
    "hold": "a hold",
}


@dataclass(frozen=True, slots=True)
class PlanSummary:
    """What became of one plan, in figures and sentences."""

    days_planned: int
    days_taken: int
    held_days: int
    sessions: int
    findings: dict[str, int]  # severity -> number
    sessions_found: int  # sessions with any finding of caution or stop
    mornings_found: int  # findings of mornings, nights and check-ins
    sentences: tuple[str, ...]


def summary(judgement: Judgement, plan: Plan) -> PlanSummary:
    """Of one plan among those judged."""
    inside = [finding for finding in judgement.findings if plan.day0 <= finding.date <= plan.last_date]
    counts = Counter(str(finding.severity) for finding in inside)
    sessions = {finding.subject for finding in inside if finding.subject_kind == "session" and finding.severity > 1}
    body = [finding for finding in inside if finding.rule in BODY_WORDS]
    held = plan.last_day - plan.length_days
    totals = judgement.totals_of(plan)
    return PlanSummary(
        days_planned=plan.length_days,
        days_taken=plan.last_day,
        held_days=held,
        sessions=totals.sessions if totals else 0,
        findings={word: counts.get(word, 0) for word in ("note", "caution", "stop")},
        sessions_found=len(sessions),
        mornings_found=len(body),
        sentences=tuple(_sentences(plan, held, totals, _findings(counts, len(sessions)), body)),
    )


def looked_back(judgement: Judgement, now: datetime) -> tuple[str, ...]:
    """The plan that is shown summed up once it is done; nothing before."""
    plan = judgement.current
    return summary(judgement, plan).sentences if plan is not None and plan.stage_at(now) == "done" else ()


def _sentences(plan: Plan, held: int, totals: PlanTotals | None, found: str, body: list[Finding]) -> list[str]:
    longer = f", {counted(held, 'day')} longer than planned" if held else ", as planned"
    days = counted(plan.last_day, "day")
    said = [f"The reverse taper is done: {days}{longer}, from {weekday(plan.day0)} to {weekday(plan.last_date)}."]
    if held:
        reasons = dict.fromkeys(shut.by for gate in plan.gates for shut in gate.reasons)
        said.append(f"What held it: {', '.join(HELD_WORDS[by] for by in reasons) or HELD_WORDS['hold']}.")
    if totals is not None:
        said.append(_sessions(totals))
    return [*said, found, *([] if totals is None else [_mornings_of_plan(totals)]), f"The body said: {_body(body)}."]


def _sessions(totals: PlanTotals) -> str:
    if not totals.sessions:
        return "No session was recorded."
    runs = f"{totals.runs} of them with running" if totals.runs else "none with running"
    return f"{counted(totals.sessions, 'session')}, {duration(round(totals.hours * 60) * 60)} in all, {runs}."


def _findings(counts: Counter[str], sessions: int) -> str:
    if not counts:
        return "Not one finding."
    told = ", ".join(f"{counts[word]} {word}" for word in ("stop", "caution", "note") if counts[word])
    return f"Findings: {told}; {counted(sessions, 'session')} asked too much." if sessions else f"Findings: {told}."


def _mornings_of_plan(totals: PlanTotals) -> str:
    """How the mornings went; resting heart rate at the end against what was usual before the race."""
    if not totals.mornings:
        return "No mornings were recorded."
    told = f"{counted(totals.mornings, 'morning')} recorded"
    if totals.resting_last is None:
        return f"{told}."
    usual = "" if totals.resting_usual is None else f", usual before the race {totals.resting_usual:.0f}"
    return f"{told}; resting heart rate at the end {totals.resting_last:.0f}{usual}."


def _body(body: list[Finding]) -> str:
    if not body:
        return "nothing out of the ordinary in mornings, nights and check-ins"
    counts = Counter(finding.rule for finding in body)
    return ", ".join(f"{BODY_WORDS[rule]} ({number} x)" for rule, number in sorted(counts.items()))
