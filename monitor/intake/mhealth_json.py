"""IEEE 1752.1 and Open mHealth documents: one, a list, or a series; with their header or bare.

The schemas check next to nothing (a sleep of -3 h is valid), so what must hold is checked (`measures.py`, one body at a
time). A document that is wrong costs itself alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from statistics import median
from typing import Any

from monitor.errors import Unreadable
from monitor.intake.beats import rmssd_after_correction
from monitor.intake.facts import FileFacts, IntakeOptions
from monitor.intake.json_safe import parsed_json
from monitor.intake.measures import Beat, Pulse, Sleep, measure_of
from monitor.intake.plausible import BOUNDS, MOST, is_plausible
from monitor.intake.remarks import Remarks
from monitor.intake.shown import shown
from rules.facts import Morning, Night
from rules.limits import default_limits

NOT_READ = "a JSON file without a check-in, sleep, resting heart rate or RR intervals"


@dataclass(slots=True)
class _Collected:
    """What the documents told, by local day."""

    sleeps: dict[date, list[Sleep]] = field(default_factory=dict)
    pulses: dict[date, list[Pulse]] = field(default_factory=dict)
    beats: dict[date, list[Beat]] = field(default_factory=dict)
    remarks: Remarks = field(default_factory=Remarks)
    bad: int = 0


def read_mhealth(data: bytes, options: IntakeOptions) -> FileFacts:
    return read_documents(parsed_json(data), options)


def read_documents(document: object, options: IntakeOptions) -> FileFacts:
    """Nights and mornings of all documents. Unreadable where there are none."""
    collected = _Collected()
    count = 0
    for count, (header, body) in enumerate(_documents(document), start=1):
        try:
            _take(measure_of(header, body, options.timezone), collected)
        except ValueError as error:
            collected.bad += 1
            collected.remarks.add(f"document {count} left out: {error}")
    nights = tuple(_night(day, sleeps) for day, sleeps in sorted(collected.sleeps.items()))
    mornings = tuple(_mornings(collected))
    if not nights and not mornings:
        raise Unreadable(
            collected.remarks.first() if collected.remarks else NOT_READ if count else "an empty JSON document"
        )
    return FileFacts(
        "mhealth", nights=nights, mornings=mornings, remarks=collected.remarks.all(), damaged=collected.bad > 0
    )


def _documents(document: object) -> Iterator[tuple[Mapping[str, Any], Mapping[str, Any]]]:
    """Header and body of each data point; a series has one header for many bodies, a bare body has none."""
    for entry in _several(document):
        if not isinstance(entry, dict):
            raise Unreadable(f"{NOT_READ}: holds {shown(entry, 40)}")
        body = entry.get("body", entry)
        header = entry.get("header")
        for one in _several(body):
            yield header if isinstance(header, dict) else {}, one if isinstance(one, dict) else {}


def _several(value: object) -> list[Any]:
    """One or many as many, within the limit."""
    many = value if isinstance(value, list) else [value]
    if len(many) > MOST.documents:
        raise Unreadable(f"more than {MOST.documents} documents in one file; split it")
    return many


def _take(measure: Sleep | Pulse | Beat | str, collected: _Collected) -> None:
    match measure:
        case Sleep():
            collected.sleeps.setdefault(measure.date, []).append(measure)
        case Pulse():
            collected.pulses.setdefault(measure.date, []).append(measure)
        case Beat():
            collected.beats.setdefault(measure.date, []).append(measure)
        case str():
            collected.remarks.add(measure)


def _night(day: date, sleeps: list[Sleep]) -> Night:
    """One night of a day: the longest sleep told, and the time in bed where told, else the sleep's own times."""
    asleep = max(sleeps, key=lambda sleep: (sleep.asleep_min or 0.0, sleep.length_min, sleep.start))
    in_bed = [sleep for sleep in sleeps if sleep.in_bed]
    times = max(in_bed or [sleep for sleep in sleeps if sleep.is_night] or sleeps, key=lambda sleep: sleep.length_min)
    return Night(
        date=day,
        bedtime=times.start if times.is_night else None,
        wake=times.end if times.is_night else None,
        total_sleep_min=asleep.asleep_min,
    )


def _mornings(collected: _Collected) -> Iterator[Morning]:
    """Resting heart rate: the median of the readings of the best kind of the day. RMSSD of the day's intervals."""
    for day in sorted(collected.pulses.keys() | collected.beats.keys()):
        pulses = collected.pulses.get(day, [])
        best = min((pulse.rank for pulse in pulses), default=0)
        rates = [pulse.rate for pulse in pulses if pulse.rank == best]
        rmssd = _rmssd(collected.beats.get(day, []), day, collected)
        if rates or rmssd is not None:
            yield Morning(date=day, resting_hr=median(rates) if rates else None, rmssd_ms=rmssd)


def _rmssd(beats: list[Beat], day: date, collected: _Collected) -> float | None:
    if not beats:
        return None
    least = default_limits().plausible.least_beats
    if len(beats) < least:
        collected.remarks.add(f"{day}: {len(beats)} RR intervals; at least {least} are needed, about a minute")
        return None
    rmssd = rmssd_after_correction([beat.rr_ms for beat in sorted(beats, key=lambda beat: beat.at)])
    return round(rmssd, 3) if rmssd is not None and is_plausible(BOUNDS.rmssd, rmssd) else None
