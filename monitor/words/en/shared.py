"""What every surface shares: days, clocks, paces, distances, names of stages."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime, tzinfo
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from monitor.plain_text import amount, clean, spoken
from monitor.values import ClockFace, Units
from rules.facts import Race
from rules.findings import Finding, Severity
from rules.words.en.amounts import MINUTE_S, counted, weekday

NOON = 12


@lru_cache(maxsize=2048)
def short_day(on: date) -> str:
    """ "9 Oct"."""
    return f"{on.day} {on:%b}"


def clock(moment: datetime, face: ClockFace) -> str:
    """ "17:42" or "5:42 pm"."""
    if face == "24h":
        return f"{moment:%H:%M}"
    return f"{moment.hour % NOON or NOON}:{moment:%M} {'am' if moment.hour < NOON else 'pm'}"


def span(start: datetime, end: datetime, face: ClockFace) -> str:
    """ "16:48–17:21" or "4:48–5:21 pm"."""
    first = clock(start, face)
    if face == "12h" and (start.hour < NOON) == (end.hour < NOON):
        first = first.rsplit(" ", 1)[0]
    return f"{first}–{clock(end, face)}"


def day_and_time(moment: datetime, zone: tzinfo, face: ClockFace = "24h") -> str:
    """ "Fri 9 Oct, 17:42", or "Fri 9 Oct, 5:42 pm"."""
    local = moment.astimezone(zone)
    return f"{weekday(local.date())}, {clock(local, face)}"


def short_moment(face: ClockFace) -> Callable[[datetime], str]:
    """Says a local moment as "Tue 11:58", or "Tue 11:58 am"."""
    return lambda moment: f"{moment:%a} {clock(moment, face)}"


def when(finding: Finding, zone: ZoneInfo, face: ClockFace = "24h") -> str:
    """ "Fri 9 Oct 17:42–18:20", or only the day."""
    start, end = finding.session_start, finding.session_end
    if start is None:
        return weekday(finding.date)
    local = start.astimezone(zone)
    return f"{weekday(local)} {clock(local, face) if end is None else span(local, end.astimezone(zone), face)}"


PLAIN_UNITS = ("min", "h", "s", "bpm", "km", "m")  # those in which a difference means something
METRES_A_MILE = 1609.344
FOOT_M = 0.3048


def against(finding: Finding) -> str | None:
    """ "9.2 min against 0 min, 9.2 min over": how far off, where the unit can be subtracted and says something."""
    observed, limit, unit = finding.observed, finding.limit, finding.unit
    if observed is None or limit is None or observed == limit or not isinstance(unit, str) or unit not in PLAIN_UNITS:
        return None
    way = "over" if observed > limit else "under"
    observed_words, limit_words, off = (_measure(value, unit) for value in (observed, limit, abs(observed - limit)))
    return f"{observed_words} against {limit_words}, {off} {way}"


def _measure(value: float, unit: str) -> str:
    if unit != "s" or value < MINUTE_S:
        return f"{amount(value)} {unit}"
    minutes, seconds = divmod(round(value), 60)
    return f"{minutes} min {seconds} s" if seconds else f"{minutes} min"


def pace_words(seconds_per_km: float, units: str = "metric") -> str:
    """ "5:40/km", or "9:07/mile" for who reads so."""
    seconds = int((seconds_per_km * METRES_A_MILE / 1000 if units == "imperial" else seconds_per_km) + 0.5)
    return f"{seconds // 60}:{seconds % 60:02d}/{'mile' if units == 'imperial' else 'km'}"


def pace_of_speed(speed_mps: float, units: Units) -> str:
    """ "3:32/km", "5:41/mile"."""
    return pace_words(1000 / speed_mps, units)


def speed_words(mps: float, units: str = "metric") -> str:
    """ "24.1 km/h", or "15.0 mph"."""
    return f"{mps * 3600 / METRES_A_MILE:.1f} mph" if units == "imperial" else f"{mps * 3.6:.1f} km/h"


def distance_words(metres: float, units: str = "metric", digits: int = 1) -> str:
    """ "5.0 km", or "3.1 miles"."""
    whole, unit = (METRES_A_MILE, "miles") if units == "imperial" else (1000.0, "km")
    return f"{metres / whole:.{digits}f} {unit}"


def height_words(metres: float, units: str = "metric") -> str:
    """ "120 m", or "394 feet"."""
    return f"{metres / FOOT_M:.0f} feet" if units == "imperial" else f"{metres:.0f} m"


SEVERITY_WORDS = {Severity.STOP: "STOP", Severity.CAUTION: "Caution", Severity.NOTE: "Note"}
STAGES = {
    "before": "before the race",
    "days_off": "days off",
    "cross_training": "cross-training",
    "test_runs": "test runs",
    "on_ramp": "on-ramp",
    "done": "done",
}


def stage_words(stage: str) -> str:
    """ "cross-training"; a name that is not known as it stands."""
    return STAGES.get(stage) or spoken(clean(stage))


def is_many(stage: str) -> bool:
    """Whether the words of a stage take a verb of many: "the test runs have"."""
    return stage.endswith(("s", "off"))


def gate_words(stage: str) -> str:
    """What a gate leads to."""
    return "the end of the plan" if stage == "done" else stage_words(stage)


def wait_words(stage: str) -> str:
    """ "test runs wait", "cross-training waits"."""
    return f"{gate_words(stage)} {'wait' if stage in ('days_off', 'test_runs') else 'waits'}"


def place(finding: Finding) -> str:
    """ "day 5, days off"."""
    stage = stage_words(finding.stage)
    return stage if finding.stage == "before" else f"day {finding.day}, {stage}"


def race_name(race: Race) -> str:
    if race.event == "custom":
        return f"race of {race.distance_km:g} km" if race.distance_km else "race"
    return spoken(race.event)


FACTS = {"sessions": "session", "nights": "night", "mornings": "morning", "checkins": "check-in"}


def held(counts: Mapping[str, Any]) -> str:
    """What a file or a pass held: "2 sessions, 1 night"."""
    return ", ".join(counted(counts[key], word) for key, word in FACTS.items() if counts[key])
