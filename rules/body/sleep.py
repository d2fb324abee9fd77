"""`short_sleep`: the mean of three nights running."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from statistics import fmean

from rules.body.episodes import told
from rules.facts import Night
from rules.findings import Breach, Severity
from rules.limits import Limits
from rules.wording import sleep


def slept(nights: Iterable[Night]) -> dict[date, float]:
    """Minutes of sleep by date of waking; the longest sleep where a date has several."""
    found: dict[date, float] = {}
    for night in nights:
        if night.total_sleep_min is not None:
            found[night.date] = max(night.total_sleep_min, found.get(night.date, 0.0))
    return dict(sorted(found.items()))


def short_sleep(asleep: dict[date, float], day0: date, limits: Limits) -> dict[date, Breach]:
    """A breach for nights after the race that end three short ones on average, told once."""
    number = limits.short_sleep.nights
    found: dict[date, Breach] = {}
    judged: list[date] = []
    for day in asleep:
        dates = [day - timedelta(days=back) for back in reversed(range(number))]
        if dates[0] > day0 and all(each in asleep for each in dates):
            judged.append(day)
            breach = _breach({each: asleep[each] for each in dates}, limits)
            if breach is not None:
                found[day] = breach
    return told(found, judged, limits)


def _breach(nights: dict[date, float], limits: Limits) -> Breach | None:
    note, caution = limits.short_sleep.note_hours, limits.short_sleep.caution_hours
    mean = fmean(nights.values())
    if mean >= note * 60:
        return None
    severity = Severity.CAUTION if mean < caution * 60 else Severity.NOTE
    text = f"{sleep(mean)} of sleep a night, the mean of {len(nights)} nights; under {note:g} h is short"
    evidence = {"nights_min": {each.isoformat(): round(value, 1) for each, value in nights.items()}}
    return Breach("short_sleep", severity, text, round(mean / 60, 2), note, "h", evidence)
