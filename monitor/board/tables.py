"""The same as the pictures, as words and numbers: the days, the check-ins, what was held and decided."""

from __future__ import annotations

from datetime import date
from math import exp

from monitor.board.days import Day, Sheet
from monitor.board.words import counted, day, gate_words, number, spoken, stage_words
from rules.facts import CheckIn, Hold
from rules.plan import GateRecord, Plan

DAY_HEADS = ("day", "date", "stage", "sessions", "min of cap", "min over bpm", "resting", "RMSSD", "sleep")


def day_rows(sheet: Sheet) -> tuple[tuple[str, ...], ...]:
    """A row a day up to today, today first."""
    return tuple(_row(each) for each in reversed(sheet.so_far()))


def _row(each: Day) -> tuple[str, ...]:
    return (
        str(each.number),
        day(each.date),
        stage_words(each.stage) + (", held" if each.held else ""),
        ", ".join(f"{spoken(outing.sport)} {number(outing.minutes, 0)} min" for outing in each.outings),
        _of_cap(each),
        _over_ceiling(each),
        "" if each.resting is None else number(each.resting, 0),
        "" if each.rmssd_ln is None else number(exp(each.rmssd_ln), 0),
        "" if each.asleep_min is None else _hours(each.asleep_min),
    )


def _of_cap(each: Day) -> str:
    if not each.outings:
        return ""
    cap = each.allowed.day_cap_min
    return f"{number(each.counted_min, 0)} of {cap}" if cap else number(each.counted_min, 0)


def _over_ceiling(each: Day) -> str:
    above = [outing.above_min for outing in each.outings if outing.above_min is not None]
    ceiling = each.allowed.ceiling
    return f"{number(sum(above), 0)} over {ceiling.bpm}" if above and ceiling else ""


def _hours(minutes: float) -> str:
    whole = int(minutes + 0.5)
    return f"{whole // 60}:{whole % 60:02d}"


def checkin_rows(sheet: Sheet) -> tuple[tuple[str, str], ...]:
    """What the athlete said, the latest first."""
    return tuple((day(each.date), _said(each.checkin)) for each in reversed(sheet.since_race()) if each.checkin)


def _said(checkin: CheckIn) -> str:
    parts = [
        f"{name} {'unaided' if managed else 'not unaided'}"
        for name, managed in (("stairs", checkin.stairs_unaided), ("squat", checkin.squat_unaided))
        if managed is not None
    ]
    for name, value in (("soreness", checkin.soreness), ("pain", checkin.pain)):
        if value is not None:
            where = f" ({checkin.pain_where})" if name == "pain" and checkin.pain_where else ""
            parts.append(f"{name} {number(value)}{where}")
    parts += [
        f"{name} {number(value)}"
        for name, value in (("energy", checkin.energy), ("mood", checkin.mood))
        if value is not None
    ]
    if checkin.symptoms:
        parts.append(f"symptoms: {', '.join(checkin.symptoms)}")
    if checkin.note:
        parts.append(f"“{checkin.note}”")
    return ", ".join(parts) or "nothing said"


def decisions(plan: Plan) -> tuple[str, ...]:
    """Gates that were or are shut, and the coach's own word, by date."""
    said: list[tuple[date, str]] = [(gate.since, _gate(gate)) for gate in plan.gates]
    said += [(hold.on, hold_words(hold)) for hold in plan.holds]
    return tuple(text for _, text in sorted(said))


def _gate(gate: GateRecord) -> str:
    until = f"open again on {day(gate.until)}" if gate.until else "still shut"
    reasons = "; ".join(shut.reason for shut in gate.reasons)
    return f"The gate before {gate_words(gate.before)} shut on {day(gate.since)}, {until}: {reasons}."


def hold_words(hold: Hold) -> str:
    """A hold or a release in a sentence."""
    days = f" for {counted(hold.days, 'day')}" if hold.days else ""
    why = f": {hold.why.rstrip('.')}" if hold.why else ""
    word = "Held" if hold.kind == "hold" else "Released"
    return f"{word} on {day(hold.on)}{days} by {hold.by or 'the coach'}{why}."
