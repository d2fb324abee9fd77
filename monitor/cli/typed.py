"""Days, moments, races and folders as people type them, converted to the form of the roster."""

from __future__ import annotations

import os
import re
from datetime import date, datetime
from pathlib import Path

from monitor import words
from monitor.errors import WrongUse

# With dots the day comes first. With slashes it is accepted only where day and month cannot be confused (not 3/4/2026).
DOTTED = re.compile(r"(?P<day>\d{1,2})\.(?P<month>\d{1,2})\.(?P<year>\d{4})(?:,?[ T]+(?P<clock>\S.*))?")
STROKES = re.compile(r"(?P<one>\d{1,2})/(?P<two>\d{1,2})/(?P<year>\d{4})(?:,?[ T]+(?P<clock>\S.*))?")
DASHED = re.compile(r"(?P<year>\d{4})-(?P<month>\d{1,2})-(?P<day>\d{1,2})(?:,?[ T]+(?P<clock>\S.*))?")
MONTHS = 12
SHORTEST_RACE_MIN = 12
RESULT = re.compile(r"\d{1,2}[.:]\d{2}([.:]\d{2})?")
WINDOWS_PATH = re.compile(r"[A-Za-z]:[\\/]")
CLOCK = re.compile(r"(\d{1,2})[:.](\d{2})(.*)")
ALSO_CALLED = {
    "half_marathon": "half",
    "halfmarathon": "half",
    "halbmarathon": "half",
    "halvmaraton": "half",
    "semi_marathon": "half",
    "full_marathon": "marathon",
    "50k": "ultra_50k",
    "100k": "ultra_100k",
    "100mi": "ultra_100mi",
    "100_miles": "ultra_100mi",
}


def iso(text: str) -> str:
    """22.11.2026 14:10, 22/11/2026 14.10 and 2026-11-22 9:05 as ISO 8601; anything else as it is."""
    given = text.strip()
    if strokes := STROKES.fullmatch(given):
        one, two = int(strokes["one"]), int(strokes["two"])
        if (one > MONTHS) == (two > MONTHS):
            return given
        day_of_month, month = (one, two) if one > MONTHS else (two, one)
        given = f"{day_of_month}.{month}.{strokes['year']} {strokes['clock'] or ''}".strip()
    match = DOTTED.fullmatch(given) or DASHED.fullmatch(given)
    if match is None:
        return given
    day = f"{match['year']}-{int(match['month']):02}-{int(match['day']):02}"
    clock = CLOCK.fullmatch(match["clock"] or "")
    if clock is None:
        return f"{day}T{match['clock']}" if match["clock"] else day
    return f"{day}T{int(clock[1]):02}:{clock[2]}{clock[3]}"


def day_of(text: str) -> date | None:
    """A calendar day; None for anything else."""
    try:
        return date.fromisoformat(iso(text))
    except ValueError:
        return None


def finish_of(text: str) -> datetime:
    """The finish of a race: a day and a time of day, for the hours after it count."""
    if day_of(text) is not None:
        raise WrongUse(words.interview.TIME_OF_DAY_MISSING.format(text=text))
    try:
        return datetime.fromisoformat(iso(text))
    except ValueError:
        raise WrongUse(words.interview.MUST_BE_MOMENT.format(text=text)) from None


def result_of(text: str, event: str | None) -> str:
    """A result as the roster takes it: 3.25.10 too, and 3:25 as hours, as no race is over in 12 minutes."""
    given = re.sub(r"\s*h(ours?)?$", "", text.strip())
    if not RESULT.fullmatch(given):
        return given
    parts = given.replace(".", ":").split(":")
    first, *others = parts
    hours = len(others) == 1 and int(first) < SHORTEST_RACE_MIN and event != "custom"
    return ":".join([*parts, "00"] if hours else parts)


def event_of(text: str, known: list[str]) -> str:
    """An event of the table by its name, also as "Half marathon" or "10 km"; WrongUse names the nearest."""
    from monitor.roster.shape import meant

    said = re.sub(r"[\s_-]+", "_", text.strip().lower())
    said = re.sub(r"(?<=\d)_?(km?|mi)$", lambda unit: unit[1][:1] if unit[1] != "mi" else "mi", said)
    said = ALSO_CALLED.get(said, said)
    if said in known:
        return said
    raise WrongUse(words.interview.MUST_BE_EVENT.format(text=text, known=", ".join(known), hint=meant(text, known)))


def folder_of(text: str, home: Path) -> str:
    """A folder as the roster takes it, without quotes around it.

    A relative folder starts at the home folder; one that is not there, but is in the current folder, is that one.
    WrongUse for a path of another system, and for one that is not there nor the folder it should lie in.
    """
    given = text.strip()
    if len(given) > 1 and given[0] == given[-1] and given[0] in "\"'":
        given = given[1:-1].strip()
    if os.name == "posix" and WINDOWS_PATH.match(given):
        raise WrongUse(words.interview.PATH_OF_WINDOWS.format(given=given))
    path = Path(given).expanduser()
    if path.is_absolute() and not path.exists() and not path.parent.is_dir():
        raise WrongUse(words.interview.NO_SUCH_FOLDER.format(given=given, parent=path.parent))
    if given and not path.is_absolute() and not (home / path).exists() and path.is_dir():
        return str(path.absolute())
    return given
