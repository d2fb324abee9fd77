"""Writes roster.toml for a new home, or adds to one an athlete, a race, a contact, an address. The rest of it stays."""

from __future__ import annotations

import json
import re
import tomllib
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import cast

import tomlkit
from pydantic import TypeAdapter, ValidationError
from tomlkit.items import AoT, Array, Table

from monitor import words
from monitor.errors import RosterError, WorkFailed, WrongUse
from monitor.home import Home, replace_file
from monitor.roster import Roster, parse_roster
from monitor.roster.shape import AthleteShape, ContactShape, RaceShape, allowed
from rules.limits import default_limits

HEAD = words.interview.ROSTER_HEAD


@dataclass(frozen=True, slots=True)
class NewContact:
    """Someone to be told. URLs may name secrets as ${NAME}, read from the environment."""

    id: str
    name: str
    urls: tuple[str, ...]
    receives: str = "caution"
    daily: str | None = None
    role: str | None = None


@dataclass(frozen=True, slots=True)
class NewRace:
    event: str
    finish: datetime
    distance_km: float | None = None
    result: str | None = None
    taper_days: int | None = None
    conditions: tuple[str, ...] = ()
    effort: str | None = None


@dataclass(frozen=True, slots=True)
class NewAthlete:
    """An athlete as `init` asks for one; None leaves a key out."""

    id: str
    name: str
    folder: str
    timezone: str
    born: int | None = None
    sex: str | None = None
    hr_max: int | None = None
    hr_rest: int | None = None
    threshold_hr: int | None = None
    threshold_pace: str | None = None
    contacts: tuple[str, ...] = ()
    races: tuple[NewRace, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class Recipients:
    """Who is to be told: contacts that are new, ids of all in the order of the roster, addresses for those there."""

    new: tuple[NewContact, ...] = ()
    ids: tuple[str, ...] = ()
    addresses: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # contact id -> urls it lacks


def roster_with(
    home: Home, athlete: NewAthlete, told: Recipients, quiet_hours: str, environment: Mapping[str, str]
) -> tuple[str, Roster]:
    """The text of the roster with the athlete added, and what it says; WrongUse when it would not be a good roster."""
    old = home.roster.read_text("utf-8-sig") if home.roster.exists() else HEAD.format(quiet=_toml(quiet_hours))
    known = parse_roster(old, home.roster, environment)
    if known.athlete(athlete.id):
        raise WrongUse(words.interview.ID_IS_TAKEN.format(roster=home.roster, id=athlete.id))
    blocks = [_with_addresses(old, told.addresses).rstrip("\n") + "\n", *map(_contact_block, told.new)]
    text = "\n".join([*blocks, _athlete_block(athlete)])
    return text, parse_roster(text, home.roster, environment)


def roster_extended(
    home: Home, athlete_id: str, races: Sequence[NewRace], told: Recipients, environment: Mapping[str, str]
) -> tuple[str, Roster]:
    """The text of the roster with races and contacts added to an athlete who stands there, and what it says."""
    document = tomlkit.parse(home.roster.read_text("utf-8-sig"))
    athletes = cast("list[Table]", document["athlete"])
    one = next(athlete for athlete in athletes if athlete["id"] == athlete_id)
    there = [str(contact) for contact in one.get("contacts", [])]
    fresh = [contact for contact in told.ids if contact not in there]
    if fresh:
        one["contacts"] = [*there, *fresh]
    for race in races:
        table = tomlkit.table()
        table.update(tomllib.loads(_race_block(race).partition("\n")[2]))
        if "race" not in one:
            one.append("race", tomlkit.aot())
        cast("AoT", one["race"]).append(table)
    text = _with_addresses(tomlkit.dumps(document), told.addresses).rstrip("\n") + "\n"
    text = "\n".join([text, *map(_contact_block, told.new)])
    return text, parse_roster(text, home.roster, environment)


def _with_addresses(text: str, addresses: Mapping[str, tuple[str, ...]]) -> str:
    """The roster's text with more addresses of contacts who stand there."""
    if not addresses:
        return text
    document = tomlkit.parse(text)
    for contact in cast("list[Table]", document["contact"]):
        for url in addresses.get(str(contact["id"]), ()):
            cast("Array", contact["urls"]).append(url)
    return tomlkit.dumps(document)


def write_roster(home: Home, text: str) -> None:
    """Put the roster in place in one step, readable by its owner only."""
    home.made()
    try:
        replace_file(home.roster, text.encode(), durable=True)
    except OSError as error:
        raise WorkFailed(words.interview.ROSTER_NOT_WRITTEN.format(roster=home.roster, why=error.strerror)) from None


def known_roster(home: Home, environment: Mapping[str, str]) -> Roster | None:
    """The roster that is there already, None where there is none; RosterError when it is wrong."""
    if not home.roster.exists():
        return None
    try:
        return parse_roster(home.roster.read_text("utf-8-sig"), home.roster, environment)
    except (OSError, UnicodeDecodeError):
        raise RosterError(words.interview.ROSTER_UNREADABLE.format(roster=home.roster)) from None


def checked(key: str, value: object) -> object:
    """A value of one key as the roster would take it; WrongUse says what is allowed."""
    for shape in (AthleteShape, RaceShape, ContactShape):
        if key in shape.model_fields:
            try:
                return TypeAdapter(shape.model_fields[key].rebuild_annotation()).validate_python(value)
            except ValidationError as error:
                raise WrongUse(f"{value!r}: {allowed(error.errors(include_url=False)[0], key)}") from None
    raise KeyError(key)


def checked_url(url: str) -> str:
    """A channel's URL; WrongUse when Apprise could never send to it. One with ${NAME} is checked once it is set."""
    from monitor.alerts.channels import check_url, shown  # noqa: PLC0415 - brings Apprise, half a second
    from monitor.roster.mistakes import hint  # noqa: PLC0415 - brought only where it is needed

    if re.search(r"\s", url.strip()):
        raise WrongUse(words.interview.ADDRESS_WITH_SPACE.format(url=shown(url)))
    reason = None if "${" in url else check_url(url)
    if reason:
        raise WrongUse(f"{shown(url)}: {reason}{hint(url)}")
    return url


def known_events() -> list[str]:
    return [*default_limits().plan.event_days, "custom"]


def slug(name: str) -> str:
    """An id from a name: "Runa Vik" -> "runa"."""
    text = re.findall(r"[A-Za-z0-9]+", unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode())
    return (text[0] if text else "athlete").lower()[:64]


def free_id(wanted: str, known: Roster | None) -> str:
    """The id, with a number where it is taken."""
    number = 1
    while known is not None and known.athlete(wanted if number == 1 else f"{wanted}{number}"):
        number += 1
    return wanted if number == 1 else f"{wanted}{number}"


def folder_path(home: Home, folder: str) -> Path:
    """Where a folder of the roster lies."""
    return home.path / Path(folder).expanduser()


def make_folder(home: Home, folder: str) -> Path:
    """The athlete's folder, made where it is missing."""
    path = folder_path(home, folder)
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise WorkFailed(words.interview.FOLDER_NOT_MADE.format(path=path, why=error.strerror)) from None
    return path


def _toml(value: object) -> str:
    """A TOML value: strings as basic strings, lists of them, numbers, local date-times."""
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds")
    if isinstance(value, tuple):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _lines(head: str, pairs: list[tuple[str, object, str]]) -> str:
    """A table: its header and every key that has a value, with a comment where one helps."""
    lines = [head]
    for key, value, comment in pairs:
        if value not in (None, ()):
            entry = f"{key} = {_toml(value)}"
            lines.append(f"{entry:<35} # {comment}" if comment else entry)
    return "\n".join(lines) + "\n"


def _contact_block(contact: NewContact) -> str:
    return _lines(
        "[[contact]]",
        [
            ("id", contact.id, ""),
            ("name", contact.name, ""),
            ("urls", contact.urls, words.interview.ROSTER_URLS),
            ("receives", contact.receives, words.interview.ROSTER_RECEIVES),
            ("daily", contact.daily, words.interview.ROSTER_DAILY),
            ("role", contact.role, ""),
        ],
    )


def _athlete_block(athlete: NewAthlete) -> str:
    guess = "" if athlete.hr_max else words.interview.ROSTER_HR_MAX
    block = _lines(
        "[[athlete]]",
        [
            ("id", athlete.id, ""),
            ("name", athlete.name, ""),
            ("folder", athlete.folder, words.interview.ROSTER_FOLDER),
            ("timezone", athlete.timezone, ""),
            ("born", athlete.born, guess),
            ("sex", athlete.sex, ""),
            ("hr_max", athlete.hr_max, "bpm, measured"),
            ("hr_rest", athlete.hr_rest, "bpm"),
            ("threshold_hr", athlete.threshold_hr, "bpm"),
            ("threshold_pace", athlete.threshold_pace, words.interview.ROSTER_THRESHOLD_PACE),
            ("contacts", athlete.contacts, ""),
        ],
    )
    return "\n".join([block, *map(_race_block, athlete.races)])


def _race_block(race: NewRace) -> str:
    return _lines(
        "[[athlete.race]]",
        [
            ("event", race.event, ""),
            ("distance_km", race.distance_km, ""),
            ("finish", race.finish, words.interview.ROSTER_FINISH),
            ("result", race.result, ""),
            ("taper_days", race.taper_days, words.interview.ROSTER_TAPER_DAYS),
            ("conditions", race.conditions, ""),
            ("effort", race.effort, ""),
        ],
    )
