"""Small words of a message: clean text, numbers, days, clocks, names of stages and severities."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from datetime import date, datetime
from zoneinfo import ZoneInfo

from monitor.roster.types import ClockFace, Units
from rules.findings import Finding, Severity
from rules.numbers import MINUTE_S

SEVERITY_WORDS = {Severity.STOP: "STOP", Severity.CAUTION: "Caution", Severity.NOTE: "Note"}
STAGE_WORDS = {
    "before": "before the race",
    "days_off": "days off",
    "cross_training": "cross-training",
    "test_runs": "test runs",
    "on_ramp": "on-ramp",
    "done": "plan done",
}
PLAIN_UNITS = ("min", "h", "s", "bpm", "km", "m")  # those in which a difference means something
NOON = 12
THREE_DIGITS = 100
TITLE_LENGTH = 90
LINE_LENGTH = 400
JOINERS = "\u200c\u200d"
"""Join or part the letters and emoji around them; invisible, and needed between two of them only."""
FIRST_STRONG_ISOLATE, POP_ISOLATE = "\u2068", "\u2069"
CONTINUES = ("Mn", "Me", "Mc", "Sk")  # accents, variation selectors, tones of skin
REGIONAL = range(0x1F1E6, 0x1F200)  # two of them are one flag


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


def sentence(text: str) -> str:
    """Begins with a capital and ends with a full stop."""
    text = clean(text)
    return capital(text) + ("" if text.endswith((".", "!", "?", "…")) else ".")


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def in_passing(text: str) -> str:
    """As it reads after a colon: small first letter unless a name or a number, no full stop."""
    text = clean(text).rstrip(".")
    return text[:1].lower() + text[1:] if text[1:2].islower() else text


def number(value: float) -> str:
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
        return f"{number(value)} {unit}"
    minutes, seconds = divmod(round(value), 60)
    return f"{minutes} min {seconds} s" if seconds else f"{minutes} min"


def stage_words(stage: str) -> str:
    """ "cross-training"; a name that is not known as it stands."""
    return STAGE_WORDS.get(stage, clean(stage).replace("_", " "))


def is_many(stage: str) -> bool:
    """Whether the words of a stage take a verb of many: "the test runs have"."""
    return stage.endswith(("s", "off"))


def place(finding: Finding) -> str:
    """ "day 5, days off"."""
    stage = stage_words(finding.stage)
    return stage if finding.stage == "before" else f"day {finding.day}, {stage}"


def when(finding: Finding, zone: ZoneInfo, face: ClockFace = "24h") -> str:
    """ "Fri 9 Oct 17:42–18:20", or only the day."""
    start, end = finding.session_start, finding.session_end
    if start is None:
        return day_words(finding.date)
    local = start.astimezone(zone)
    return f"{day_words(local)} {clock(local, face) if end is None else span(local, end.astimezone(zone), face)}"


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


def day_words(moment: date) -> str:
    """ "Fri 9 Oct"."""
    return f"{moment:%a} {moment.day} {moment:%b}"


def counted(number: int, one: str) -> str:
    """ "1 day", "3 days"."""
    return f"{number} {one}{'' if number == 1 else 's'}"


# Distances, climbs and paces in the units that a reader wants.

METRES_A_MILE = 1609.344
FEET_A_METRE = 1 / 0.3048


def pace(speed_mps: float, units: Units) -> str:
    """Time for a kilometre or a mile: "3:32/km", "5:41/mi"."""
    metres, name = (1000.0, "km") if units == "metric" else (METRES_A_MILE, "mi")
    seconds = int(metres / speed_mps + 0.5)
    return f"{seconds // 60}:{seconds % 60:02d}/{name}"


def distance(metres: float, units: Units) -> str:
    """ "6.0 km" or "3.7 miles"."""
    value, name = (metres / 1000, "km") if units == "metric" else (metres / METRES_A_MILE, "miles")
    return f"{value:.1f} {name}"


def height(metres: float, units: Units) -> str:
    """ "157 m" or "515 feet"."""
    return f"{metres:.0f} m" if units == "metric" else f"{metres * FEET_A_METRE:.0f} feet"
