"""What mornings, nights and check-ins say, in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from math import exp
from statistics import fmean

from rules.body.baseline import Baseline
from rules.body.chart import levels
from rules.body.checkins import not_understood
from rules.body.mornings import recent
from rules.body.resting import resting_limit
from rules.body.too_good import HeartSide
from rules.facts import CheckIn
from rules.limits import Limits
from rules.wording import listed, sleep


def morning_words(
    on: date,
    day0: date,
    heart: HeartSide,
    checkins: Mapping[date, CheckIn],
    asleep: Mapping[date, float],
    limits: Limits,
) -> tuple[str, ...]:
    """The latest news of each kind, no older than some days."""
    oldest = on - timedelta(days=limits.today.morning_days - 1)
    said = [
        _resting(_latest(heart.resting, on, oldest), heart, on, limits),
        _variability(on, day0, heart, limits),
        _slept(_latest(asleep, on, oldest), asleep, on),
        _checkin(_latest(checkins, on, oldest), checkins, on),
    ]
    return tuple(each for each in said if each)


def _latest(values: Mapping[date, object], on: date, oldest: date) -> date | None:
    return max((day for day in values if oldest <= day <= on), default=None)


def _when(day: date, on: date) -> str:
    return "this morning" if day == on else f"on {day}"


def _thin(normal: Baseline | None) -> str:
    count = normal.mornings if normal else 0
    return f"{_mornings(count)} before the race {'is' if count == 1 else 'are'} too few to say what is usual"


def _mornings(count: int) -> str:
    return f"{count} morning{'s' * (count != 1)}"


def _resting(day: date | None, heart: HeartSide, on: date, limits: Limits) -> str:
    if day is None:
        return ""
    told = f"Resting heart rate {heart.resting[day]:g} {_when(day, on)}"
    limit = resting_limit(heart.resting_normal, limits)
    if limit is None or heart.resting_normal is None:
        return f"{told}; {_thin(heart.resting_normal)}."
    verdict = "that is up" if heart.resting[day] >= limit else "nothing unusual"
    return f"{told}, usual {heart.resting_normal.middle:g}: {verdict}."


def _variability(on: date, day0: date, heart: HeartSide, limits: Limits) -> str:
    week = recent(dict(heart.ln_rmssd), on, day0, limits)
    if not week:
        return ""
    normal, latest = heart.ln_rmssd_normal, max(week)
    level = levels(heart.ln_rmssd, day0, normal, limits).get(latest)
    told = f"RMSSD about {exp(level.mean if level else fmean(week.values())):.0f} ms over {_mornings(len(week))}"
    if normal is None or not normal.enough:
        return f"{told}; {_thin(normal)}."
    if level is None:
        return f"{told}, too few to judge."
    low = level.mean < level.note
    verdict = "lower than chance explains" if low else "no lower than chance explains, which lifts no limit"
    return f"{told}, usual {exp(level.usual):.0f}: {verdict}."


def _slept(day: date | None, asleep: Mapping[date, float], on: date) -> str:
    return "" if day is None else f"Slept {sleep(asleep[day])} to {'today' if day == on else day}."


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
