"""The same as the pictures, as words and numbers: the days, the check-ins, what was held and decided."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from math import exp

from monitor import words
from monitor.board.days import ChartDays, Day
from monitor.plain_text import number, spoken
from rules.facts import CheckIn, Hold
from rules.plan import GateRecord, Plan
from rules.words import amounts

SCALES = ("soreness", "pain", "energy", "mood")
NEAR = 1
"""Points of ten by which check-ins may differ that are told in one line."""


def day_rows(sheet: ChartDays) -> tuple[tuple[str, ...], ...]:
    """A row a day up to today, today first."""
    return tuple(_row(day) for day in reversed(sheet.so_far()))


def _row(each: Day) -> tuple[str, ...]:
    return (
        str(each.number),
        amounts.weekday(each.date),
        words.shared.stage_words(each.stage) + (", held" if each.held else ""),
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


def checkin_rows(sheet: ChartDays) -> tuple[tuple[str, str], ...]:
    """What the athlete said, the latest first; answers that hardly differ from those of the day before in one line."""
    told = [(day.date, day.checkin) for day in reversed(sheet.since_race()) if day.checkin]
    rows: list[list[tuple[date, CheckIn]]] = []
    for each in told:
        if rows and all(_alike(each[1], other) for _, other in rows[-1]):
            rows[-1].append(each)
        else:
            rows.append([each])
    return tuple((_dates([on for on, _ in row]), _said([checkin for _, checkin in row])) for row in rows)


def _alike(one: CheckIn, other: CheckIn) -> bool:
    """Whether two check-ins say nearly the same, and nothing in words."""
    if any(each.note or each.symptoms for each in (one, other)):
        return False
    same = (one.stairs_unaided, one.squat_unaided, one.pain_where) == (
        other.stairs_unaided, other.squat_unaided, other.pain_where,
    )  # fmt: skip
    return same and all(_near(getattr(one, name), getattr(other, name)) for name in SCALES)


def _near(one: float | None, other: float | None) -> bool:
    return one == other if one is None or other is None else abs(one - other) <= NEAR


def _dates(days: Sequence[date]) -> str:
    """ "Fri 9 Oct", or the first and the last of several, which come latest first."""
    return (
        amounts.weekday(days[0])
        if len(days) == 1
        else f"{amounts.weekday(days[-1])} – {amounts.weekday(days[0])}, {len(days)} check-ins"
    )


def _scale(name: str, told: Sequence[CheckIn]) -> str:
    """ "pain 2 (left calf)", "soreness 2–3"; empty where nothing was said."""
    values = [value for row in told if (value := getattr(row, name)) is not None]
    if not values:
        return ""
    low, high = number(min(values)), number(max(values))
    where = f" ({told[0].pain_where})" if name == "pain" and told[0].pain_where else ""
    return f"{name} {low}{where}" if low == high else f"{name} {low}–{high}{where}"


def _said(told: Sequence[CheckIn]) -> str:
    first = told[0]
    parts = [
        f"{name} {'unaided' if managed else 'not unaided'}"
        for name, managed in (("stairs", first.stairs_unaided), ("squat", first.squat_unaided))
        if managed is not None
    ]
    parts += [said for name in SCALES if (said := _scale(name, told))]
    if first.symptoms:
        parts.append(f"symptoms: {', '.join(first.symptoms)}")
    if first.note:
        parts.append(f"“{first.note}”")
    return ", ".join(parts) or "nothing said"


def decisions(plan: Plan) -> tuple[str, ...]:
    """Gates that were or are shut, and the coach's own word, by date."""
    said: list[tuple[date, str]] = [(gate.since, _gate(gate)) for gate in plan.gates]
    said += [(hold.on, hold_words(hold)) for hold in plan.holds]
    return tuple(text for _, text in sorted(said))


def _gate(gate: GateRecord) -> str:
    until = words.board.OPEN_AGAIN.format(until=amounts.weekday(gate.until)) if gate.until else "still shut"
    reasons = "; ".join(shut.reason for shut in gate.reasons)
    return words.board.GATE_SHUT.format(
        before=words.shared.gate_words(gate.before),
        since=amounts.weekday(gate.since),
        until=until,
        reasons=reasons,
    )


def hold_words(hold: Hold) -> str:
    """A hold or a release in a sentence."""
    days = f" for {amounts.counted(hold.days, 'day')}" if hold.days else ""
    why = f": {hold.why.rstrip('.')}" if hold.why else ""
    word = "Held" if hold.kind == "hold" else "Released"
    return f"{word} on {amounts.weekday(hold.on)}{days} by {hold.by or 'the coach'}{why}."
