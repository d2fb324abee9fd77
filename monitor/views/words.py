"""Words of the board: names, days, numbers; and whatever comes from outside made safe to show."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime, tzinfo
from functools import cache, lru_cache

from monitor.alerts.words import clock as time_of_day
from monitor.roster.types import ClockFace
from rules.catalogue import catalogue
from rules.facts import Race

# Moments and numbers as JSON shows them.


def local(moment: datetime | None, zone: tzinfo) -> str | None:
    """ISO 8601 with the offset of a zone, to the second."""
    return None if moment is None else moment.astimezone(zone).isoformat(timespec="seconds")


def day_and_clock(moment: datetime | None, zone: tzinfo) -> str:
    """Date and time of day for people: "2026-10-17 18:05"."""
    return "-" if moment is None else moment.astimezone(zone).strftime("%Y-%m-%d %H:%M")


def minute_second(seconds: float) -> str:
    """A place within a session: "12:40", "1:05:30"."""
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"


STAGES = {
    "before": "before the race",
    "days_off": "days off",
    "cross_training": "cross-training",
    "test_runs": "test runs",
    "on_ramp": "on-ramp",
    "done": "done",
}
_HIDDEN = re.compile(
    r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u00ad\u061c\u115f\u1160\u17b4\u17b5\u180e\u200b\u200e\u200f\u2028-\u202e"
    r"\u2060-\u206f\u3164\ufeff\uffa0\ufff0-\ufffb\ud800-\udfff\U000e0000-\U000e0fff]"
)


def plain(text: str) -> str:
    """Text in which controls, direction marks and half characters stand as escapes, so that nothing hides in it."""
    if text.isprintable():  # most is, and this is quick
        return text
    return _HIDDEN.sub(lambda found: found[0].encode("unicode_escape", "surrogatepass").decode("ascii"), text)


@lru_cache(maxsize=2048)
def day(on: date) -> str:
    """ "Fri 9 Oct"."""
    return f"{on:%a} {on.day} {on:%b}"


@lru_cache(maxsize=2048)
def short_day(on: date) -> str:
    """ "9 Oct"."""
    return f"{on.day} {on:%b}"


def clock(moment: datetime, zone: tzinfo, face: ClockFace = "24h") -> str:
    """ "Fri 9 Oct, 17:42", or "Fri 9 Oct, 5:42 pm"."""
    local = moment.astimezone(zone)
    return f"{day(local.date())}, {time_of_day(local, face)}"


def short_moment(face: ClockFace) -> Callable[[datetime], str]:
    """Says a local moment as "Tue 11:58", or "Tue 11:58 am"."""
    return lambda moment: f"{moment:%a} {time_of_day(moment, face)}"


def counted(number: int, one: str, many: str = "") -> str:
    """ "1 run", "2 runs"."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def number(value: float, digits: int = 1) -> str:
    """With no decimal that says nothing."""
    text = f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


METRES_A_MILE = 1609.344


def pace_words(seconds_per_km: float, units: str = "metric") -> str:
    """ "5:40/km", or "9:07/mile" for who reads so."""
    seconds = round(seconds_per_km * METRES_A_MILE / 1000 if units == "imperial" else seconds_per_km)
    return f"{seconds // 60}:{seconds % 60:02d}/{'mile' if units == 'imperial' else 'km'}"


def speed_words(mps: float, units: str = "metric") -> str:
    """ "24.1 km/h", or "15.0 mph"."""
    return f"{mps * 3600 / METRES_A_MILE:.1f} mph" if units == "imperial" else f"{mps * 3.6:.1f} km/h"


def distance_words(metres: float, units: str = "metric", digits: int = 1) -> str:
    """ "5.0 km", or "3.1 miles"."""
    whole, unit = (METRES_A_MILE, "miles") if units == "imperial" else (1000.0, "km")
    return f"{metres / whole:.{digits}f} {unit}"


METRES_A_FOOT = 0.3048


def height_words(metres: float, units: str = "metric") -> str:
    """ "120 m", or "394 ft"."""
    return f"{metres / METRES_A_FOOT:.0f} ft" if units == "imperial" else f"{metres:.0f} m"


def spoken(name: str) -> str:
    """An id as words: "no_running" -> "no running"."""
    return name.replace("_", " ")


@cache
def _places() -> dict[str, int]:
    return {rule.id: number for number, rule in enumerate(catalogue())}


def rule_place(rule: str) -> int:
    """Where a rule stands in the catalogue: of findings equally grave, the first of it is told first."""
    return _places().get(rule, len(_places()))


def stage_words(stage: str) -> str:
    return STAGES.get(stage, spoken(stage))


def gate_words(stage: str) -> str:
    """What a gate leads to."""
    return "the end of the plan" if stage == "done" else stage_words(stage)


def wait_words(stage: str) -> str:
    """ "test runs wait", "cross-training waits"."""
    return f"{gate_words(stage)} {'wait' if stage in ('days_off', 'test_runs') else 'waits'}"


def race_name(race: Race) -> str:
    if race.event == "custom":
        return f"race of {race.distance_km:g} km" if race.distance_km else "race"
    return spoken(race.event)


def sentence(text: str) -> str:
    """Begins with a capital and ends with a full stop."""
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?", "…")) else ".")
