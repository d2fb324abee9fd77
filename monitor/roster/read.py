"""roster.toml -> Roster. Every mistake is one line: file, key, value, what is allowed."""

from __future__ import annotations

import difflib
import hashlib
import json
import os
import re
import tomllib
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ValidationError

from monitor.errors import RosterError
from monitor.intake.facts import IntakeOptions
from monitor.roster.allowed import allowed, meant
from monitor.roster.columns import ColumnsError, read_columns
from monitor.roster.shape import AthleteShape, ContactShape, RaceShape, RosterShape
from monitor.roster.types import AlertSettings, Contact, Roster, RosterAthlete
from rules.facts import Athlete, Race
from rules.findings import Severity

KEYS: dict[str, type[BaseModel]] = {
    "": RosterShape,
    "contact": ContactShape,
    "athlete": AthleteShape,
    "race": RaceShape,
}
SECRET_KEYS = {"urls"}


def read_roster(path: Path, environment: Mapping[str, str] | None = None, *, resolve: bool = False) -> Roster:
    """Read and validate a roster file.

    With `resolve`, ${NAME} in contact URLs is replaced from the environment (a missing one is an error); without, URLs
    stay as written, so that commands which only read need no secrets. RosterError holds one line for the user.
    """
    try:
        text = path.read_text("utf-8-sig")  # some editors put a mark before the first letter
    except FileNotFoundError:
        raise RosterError(
            f"{path}: no roster here; `fallow init` writes one, or name another home with --home"
        ) from None
    except UnicodeDecodeError as error:
        raise RosterError(f"{path}: not UTF-8 text at byte {error.start}; save it as UTF-8") from None
    except OSError as error:
        raise RosterError(f"{path}: cannot be read ({error.strerror}); check the file's permissions") from None
    return parse_roster(text, path, environment if environment is not None else os.environ, resolve=resolve)


def parse_roster(text: str, path: Path, environment: Mapping[str, str], *, resolve: bool = False) -> Roster:
    """Validate the text of a roster whose relative folders start at the folder of `path`."""
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise RosterError(f"{path}: not valid TOML: {error}{_toml_hint(str(error))}") from None
    try:
        shape = RosterShape.model_validate(table)
    except ValidationError as error:
        raise RosterError(f"{path}: {_first_mistake(error, table)}") from None
    _unique(path, "contact", [one.id for one in shape.contact])
    _unique(path, "athlete", [one.id for one in shape.athlete])
    contacts = tuple(_contact(path, one, shape, environment, resolve=resolve) for one in shape.contact)
    athletes = tuple(_athlete(path, one, contacts) for one in shape.athlete)
    _apart(path, athletes)
    alerts = AlertSettings(shape.alerts.quiet_hours, shape.alerts.silent_after_hours, shape.alerts.late_after_days)
    return Roster(path, alerts, contacts, athletes, hashlib.sha256(text.encode()).hexdigest())


def _toml_hint(message: str) -> str:
    """What most often lies behind it."""
    if "Unescaped '\\'" in message:
        return "; write folders of Windows with strokes, C:/exports, or in single quotes"
    if "after a statement" in message:
        return "; text stands in quotes, a date and time as 2026-10-04T13:47:00"
    return ""


def _first_mistake(error: ValidationError, table: dict[str, Any]) -> str:
    """The first mistake as `where: key = value: what is allowed`."""
    first = error.errors(include_url=False)[0]
    location = list(first["loc"])
    where, key = _place(location, table)
    if first["type"] == "extra_forbidden":
        section = next((str(part) for part in reversed(location[:-1]) if isinstance(part, str)), "")
        keys = list(KEYS.get(section, KEYS[""] if not section else AthleteShape).model_fields)
        if section == "alerts":
            keys = ["quiet_hours", "silent_after_hours", "late_after_days"]
        near = difflib.get_close_matches(key, keys, 1)
        hint = f"did you mean `{near[0]}`?" if near else "allowed are " + ", ".join(keys)
        return f"{where}unknown key `{key}` = {_shown(first['input'])}; {hint}"
    if first["type"] == "missing":
        return f"{where}`{key}` is missing"
    message = allowed(first, key)
    if not key:
        return f"{where}{message}"
    value = "(hidden)" if key.split(" ")[0] in SECRET_KEYS else _shown(first["input"])
    return f"{where}{key} = {value}: {message}"


def _place(location: list[Any], table: dict[str, Any]) -> tuple[str, str]:
    """("athlete 'runa', race 2: ", "finish") from a pydantic location; indices of plain lists join the key."""
    parts: list[str] = []
    node: Any = table
    key = ""
    for step in location:
        try:
            node = node[step]
        except (KeyError, IndexError, TypeError):
            node = None
        if isinstance(step, int):
            name = node.get("id") if isinstance(node, dict) else None
            if isinstance(node, dict):
                parts.append(f"{key} {name!r}" if isinstance(name, str) else f"{key} {step + 1}")
                key = ""
            else:
                key = f"{key} {step + 1}"
        elif isinstance(step, str) and not step.startswith(("function-", "tuple", "literal")):
            if key == "alerts":
                parts.append("alerts")
            key = step
    return (", ".join(parts) + ": " if parts else ""), key


def _shown(value: Any) -> str:
    if isinstance(value, dict | list):
        return "a table" if isinstance(value, dict) else "a list"
    text = value.isoformat() if hasattr(value, "isoformat") else json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 80 else text[:77] + "..."


def _contact(
    path: Path, one: ContactShape, shape: RosterShape, environment: Mapping[str, str], *, resolve: bool
) -> Contact:
    urls = []
    for url in one.urls:
        resolved = _resolved(path, one.id, url, environment) if resolve else url
        if not re.match(r"(?i)^([a-z][a-z0-9+.-]*://\S|\$\{)", resolved):
            raise RosterError(
                f"{path}: contact {one.id!r}: urls: a URL without a scheme; write it like json://host/path"
            )
        urls.append(resolved)
    own = any(one.id == a.id or (one.name and one.name == a.name) for a in shape.athlete if one.id in a.contacts)
    role = one.role or ("athlete" if own else "coach")
    return Contact(
        one.id, one.name or one.id, tuple(urls), Severity.of(one.receives), one.daily, role, one.units, one.clock
    )


def _resolved(path: Path, contact_id: str, url: str, environment: Mapping[str, str]) -> str:
    def value(match: re.Match[str]) -> str:
        if match[1] not in environment:
            raise RosterError(
                f"{path}: contact {contact_id!r}: urls: ${{{match[1]}}} is not set in the environment;"
                " set it, then start again"
            )
        return environment[match[1]]

    return re.sub(r"\$\{([A-Za-z_][A-Za-z0-9_]*)\}", value, url)


def _athlete(path: Path, one: AthleteShape, contacts: Sequence[Contact]) -> RosterAthlete:
    contact_ids = {contact.id for contact in contacts}
    where = f"{path}: athlete {one.id!r}"
    for contact_id in one.contacts:
        if contact_id not in contact_ids:
            known = ", ".join(sorted(contact_ids)) or "none"
            hint = meant(contact_id, sorted(contact_ids)) or f"; there are: {known}"
            raise RosterError(f"{where}: contacts: no contact {_shown(contact_id)}{hint}")
    try:
        options = IntakeOptions(
            one.timezone, read_columns(one.columns), one.columns.get("date_order"), one.columns.get("decimal_comma")
        )
    except ColumnsError as error:
        raise RosterError(f"{where}: columns: {error}") from None
    if options.date_order not in (None, "ymd", "dmy", "mdy"):
        raise RosterError(f"{where}: columns: date_order = {_shown(options.date_order)}: must be ymd, dmy or mdy")
    if options.decimal_comma not in (None, True, False):
        raise RosterError(f"{where}: columns: decimal_comma = {_shown(options.decimal_comma)}: must be true or false")
    zone = ZoneInfo(one.timezone)
    races = tuple(sorted((_race(race, zone) for race in one.race), key=lambda race: race.finish))
    athlete = Athlete(
        one.id,
        one.timezone,
        one.name or one.id,
        one.born,
        one.sex,
        one.hr_max,
        one.hr_rest,
        one.threshold_hr,
        one.threshold_pace,
        one.intensity_model,
        one.ceiling_zone1,
        one.ceiling_zone2,
        races,
        any(each.role == "coach" for each in contacts if each.id in one.contacts),
        tuple(dict.fromkeys(one.health)),
        one.gave_birth,
    )
    folder = (path.parent / Path(one.folder).expanduser()).absolute()
    return RosterAthlete(
        athlete,
        Path(os.path.normpath(folder)),
        tuple(dict.fromkeys(one.contacts)),
        options,
        one.watch,
        one.units,
        one.clock,
    )


def _race(one: RaceShape, zone: ZoneInfo) -> Race:
    finish: datetime = one.finish.astimezone(zone) if one.finish.tzinfo else one.finish.replace(tzinfo=zone)
    conditions = tuple(dict.fromkeys(one.conditions))
    return Race(one.event, finish, one.distance_km, one.result, one.taper_days, conditions, one.effort)


def _unique(path: Path, what: str, ids: list[str]) -> None:
    for one in ids:
        if ids.count(one) > 1:
            raise RosterError(f"{path}: {what} id = {_shown(one)}: stands twice; ids must differ")


def _apart(path: Path, athletes: tuple[RosterAthlete, ...]) -> None:
    """No folder may be another's, lie in another's, or hold the home folder, where the program writes."""
    home = path.parent.resolve()
    real = [(one.id, one.folder.resolve(), one.folder) for one in athletes]
    for index, (name, folder, shown) in enumerate(real):
        if home == folder or home.is_relative_to(folder):
            raise RosterError(
                f"{path}: athlete {name!r}: folder = {shown}: holds the home folder; watched folders are only read"
            )
        for other, other_folder, _ in real[:index]:
            if folder == other_folder:
                raise RosterError(
                    f"{path}: athlete {name!r}: folder = {shown}: is the folder of {other!r} too; give each athlete one"
                )
            if folder.is_relative_to(other_folder) or other_folder.is_relative_to(folder):
                raise RosterError(
                    f"{path}: athlete {name!r}: folder = {shown}: lies in or around the folder of {other!r}"
                )
