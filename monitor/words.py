"""Words that every surface shares: names, days, clocks, numbers, units; what comes from outside made safe to show."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator
from datetime import date, datetime, tzinfo
from functools import cache, lru_cache
from zoneinfo import ZoneInfo

from monitor.roster.types import ClockFace, Units
from rules.catalogue import catalogue
from rules.facts import Race
from rules.findings import Finding, Severity
from rules.numbers import MINUTE_S, weekday

# What comes from outside, made safe to show.

TITLE_LENGTH = 90
LINE_LENGTH = 400
JOINERS = "\u200c\u200d"
"""Join or part the letters and emoji around them; invisible, and needed between two of them only."""
CONTINUES = ("Mn", "Me", "Mc", "Sk")  # accents, variation selectors, tones of skin
REGIONAL = range(0x1F1E6, 0x1F200)  # two of them are one flag
FIRST_STRONG_ISOLATE, POP_ISOLATE = "\u2068", "\u2069"
_HIDDEN = re.compile(
    r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u00ad\u061c\u115f\u1160\u17b4\u17b5\u180e\u200b\u200e\u200f\u2028-\u202e"
    r"\u2060-\u206f\u3164\ufeff\uffa0\ufff0-\ufffb\ud800-\udfff\U000e0000-\U000e0fff]"
)


def plain(text: str) -> str:
    """Text in which controls, direction marks and half characters stand as escapes, so that nothing hides in it."""
    if text.isprintable():  # most is, and this is quick
        return text
    return _HIDDEN.sub(lambda found: found[0].encode("unicode_escape", "surrogatepass").decode("ascii"), text)


def clean(text: str, most: int = LINE_LENGTH) -> str:
    """One line without control characters, direction marks or the brackets of markup."""
    kept = "".join(_kept(text, index) for index in range(len(text)))
    return shorten(" ".join(kept.split()), most)


def _kept(text: str, index: int) -> str:
    letter = text[index]
    if letter in "<>":
        return "‹›"["<>".index(letter)]
    if letter in JOINERS and 0 < index < len(text) - 1:
        return letter if _joins(text[index - 1]) and _joins(text[index + 1]) else " "
    return " " if unicodedata.category(letter)[0] in "CZ" else letter


def _joins(letter: str) -> bool:
    return unicodedata.category(letter)[0] in "LMS"


def shorten(text: str, most: int) -> str:
    """Cut at a word, with an ellipsis; joined emoji and letters with their accents stay whole."""
    if len(text) <= most:
        return text
    cut = text[: _whole(text, most - 1)]
    if " " in cut[most // 2 :]:
        cut = cut.rsplit(" ", 1)[0]
    return cut.rstrip(" ,;:.–-") + "…"


def _whole(text: str, most: int) -> int:
    """The last place up to `most` that lies between two whole letters."""
    return max((place for place in _between(text[: most + 1]) if place <= most), default=0)


def _between(text: str) -> Iterator[int]:
    flags = 0
    for place, letter in enumerate(text):
        regional = ord(letter) in REGIONAL
        tied = letter in JOINERS or unicodedata.category(letter) in CONTINUES or (regional and flags % 2 == 1)
        if not tied and (place == 0 or text[place - 1] not in JOINERS):
            yield place
        flags = flags + 1 if regional else 0


def isolated(name: str) -> str:
    """A name that is written from right to left, so that it does not turn what stands around it."""
    turned = any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in name)
    return f"{FIRST_STRONG_ISOLATE}{name}{POP_ISOLATE}" if turned else name


def lines(text: str) -> str:
    """A longer text, cleaned line by line."""
    return "\n".join(clean(line) for line in text.splitlines()).strip()


# Sentences.


def sentence(text: str) -> str:
    """Begins with a capital and ends with a full stop."""
    text = capital(text.strip())
    return text + ("" if text.endswith((".", "!", "?", "…")) else ".")


def clean_sentence(text: str) -> str:
    """A sentence of what may come from outside."""
    return sentence(clean(text))


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def in_passing(text: str) -> str:
    """As it reads after a colon: small first letter unless a name or a number, no full stop."""
    text = clean(text).rstrip(".")
    return text[:1].lower() + text[1:] if text[1:2].islower() else text


def spoken(name: str) -> str:
    """An id as words: "no_running" -> "no running"."""
    return name.replace("_", " ")


# Days and clocks.

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


def minute_second(seconds: float) -> str:
    """A place within a session: "12:40", "1:05:30"."""
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"


def local(moment: datetime | None, zone: tzinfo) -> str | None:
    """ISO 8601 with the offset of a zone, to the second."""
    return None if moment is None else moment.astimezone(zone).isoformat(timespec="seconds")


def iso_minute(moment: datetime | None, zone: tzinfo) -> str:
    """Date and time of day for people: "2026-10-17 18:05"."""
    return "-" if moment is None else moment.astimezone(zone).strftime("%Y-%m-%d %H:%M")


def when(finding: Finding, zone: ZoneInfo, face: ClockFace = "24h") -> str:
    """ "Fri 9 Oct 17:42–18:20", or only the day."""
    start, end = finding.session_start, finding.session_end
    if start is None:
        return weekday(finding.date)
    local = start.astimezone(zone)
    return f"{weekday(local)} {clock(local, face) if end is None else span(local, end.astimezone(zone), face)}"


# Numbers and units.

PLAIN_UNITS = ("min", "h", "s", "bpm", "km", "m")  # those in which a difference means something
THREE_DIGITS = 100
METRES_A_MILE = 1609.344
FOOT_M = 0.3048


def number(value: float, digits: int = 1) -> str:
    """With no decimal that says nothing."""
    text = f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def amount(value: float) -> str:
    """At most one decimal, none that says nothing."""
    return f"{value:.1f}".rstrip("0").rstrip(".") if abs(value) < THREE_DIGITS else f"{value:.0f}"


def against(finding: Finding) -> str | None:
    """ "9.2 min against 0 min, 9.2 min over": how far off, where the unit can be subtracted and says something."""
    observed, limit, unit = finding.observed, finding.limit, finding.unit
    if observed is None or limit is None or observed == limit or unit not in PLAIN_UNITS:
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


# Names.

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
    return STAGES.get(stage, spoken(clean(stage)))


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


@cache
def _places() -> dict[str, int]:
    return {rule.id: number for number, rule in enumerate(catalogue())}


def rule_place(rule: str) -> int:
    """Where a rule stands in the catalogue: of findings equally grave, the first of it is told first."""
    return _places().get(rule, len(_places()))
