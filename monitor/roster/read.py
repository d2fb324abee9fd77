"""roster.toml -> Roster. Every mistake is one line: file, key, value, what is allowed."""

from __future__ import annotations

import hashlib
import os
import re
import tomllib
from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from urllib.parse import quote
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from monitor import words
from monitor.errors import RosterError
from monitor.roster.columns import ColumnsError, read_options
from monitor.roster.mistakes import first_mistake, shown_value, toml_hint
from monitor.roster.shape import AthleteShape, ContactShape, PageShape, RaceShape, RosterShape, meant
from monitor.roster.types import AlertSettings, Contact, Page, Roster, RosterAthlete
from rules.facts import Athlete, Race
from rules.findings import Severity

# ${NAME} in a contact's URL: the value as it is, encoded for the place in the URL where it stands.

NAME = re.compile(r"\$\{([A-Za-z_][A-Za-z0-9_]*)\}")
READ_TWICE = re.compile(r"[?&](?:user|pass|from|[+:-][^=&]*)=$", re.IGNORECASE)
"""Options that the sending library decodes once more than others."""


def names_in(url: str) -> list[str]:
    """The names that a URL needs, each once."""
    return list(dict.fromkeys(NAME.findall(url)))


def unset(url: str, environment: Mapping[str, str]) -> list[str]:
    """Names that a URL needs and the environment lacks."""
    return [name for name in names_in(url) if name not in environment]


def filled_in(url: str, environment: Mapping[str, str]) -> str:
    """The URL with every name's value; KeyError for one that is not set.

    A name that stands for a whole URL, or for its beginning, is put in as it is: its value is a URL itself.
    """
    parts: list[str] = []
    end = 0
    for match in NAME.finditer(url):
        parts.append(url[end : match.start()])
        value = environment[match[1]]
        whole = match.start() == 0 or value == match[0]  # a name that is not set may stand for itself
        parts.append(value if whole else _encoded(value, url[: match.start()], url[match.end() :]))
        end = match.end()
    return "".join([*parts, url[end:]])


def _encoded(value: str, before: str, after: str) -> str:
    rest = before.partition("://")[2]
    if "?" in before:
        return _option(value, before)
    if "/" in rest:
        return quote(value, safe="/")  # a path may have several parts
    authority = re.split(r"[/?]", after, maxsplit=1)[0]
    if "@" in authority:  # user or password
        both = ":" not in rest and ":" not in authority.partition("@")[0]
        if both and ":" in value:
            user, _, password = value.partition(":")
            return f"{quote(user, safe='')}:{quote(password, safe='')}"
        return quote(value, safe="")
    return quote(value, safe=":/@[]")  # a host with its port, or tokens in its place


def _option(value: str, before: str) -> str:
    if before[-1] in "?&":  # whole options
        return quote(value, safe="=&%+")
    encoded = quote(value, safe="")
    return quote(encoded, safe="") if READ_TWICE.search(before) else encoded


def read_roster(path: Path, environment: Mapping[str, str] | None = None, *, resolve: bool = False) -> Roster:
    """Read and validate a roster file.

    With `resolve`, ${NAME} in contact URLs is replaced from the environment (a missing one is an error); without, URLs
    stay as written, so that commands which only read need no secrets. RosterError holds one line for the user.
    """
    try:
        text = path.read_text("utf-8-sig")  # some editors put a mark before the first letter
    except FileNotFoundError:
        raise _unread(path, words.roster.NO_ROSTER) from None
    except UnicodeDecodeError as error:
        raise _unread(path, words.roster.NO_UTF_8.format(start=error.start)) from None
    except OSError as error:
        raise _unread(path, words.roster.ROSTER_UNREADABLE.format(why=error.strerror)) from None
    return parse_roster(text, path, environment if environment is not None else os.environ, resolve=resolve)


def _unread(path: Path, why: str) -> RosterError:
    """Says the same to everybody: there is no value in it."""
    return RosterError(f"{path}: {why}", why)


def parse_roster(text: str, path: Path, environment: Mapping[str, str], *, resolve: bool = False) -> Roster:
    """Validate the text of a roster whose relative folders start at the folder of `path`."""
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        said = words.roster.NO_TOML.format(path=path, error=error, hint=toml_hint(error, text))
        raise RosterError(said, words.roster.NO_TOML_IN_LOG.format(name=path.name, where=_line_of(error))) from None
    try:
        shape = RosterShape.model_validate(table)
    except ValidationError as error:
        first, elsewhere = first_mistake(error, table)
        raise RosterError(
            f"{path}: {first}", words.roster.IN_ROSTER.format(name=path.name, mistake=elsewhere)
        ) from None
    _unique(path, "contact", [entry.id for entry in shape.contact])
    _unique(path, "athlete", [entry.id for entry in shape.athlete])
    contacts = tuple(_contact(path, entry, shape, environment, resolve=resolve) for entry in shape.contact)
    athletes = tuple(_athlete(path, entry, contacts) for entry in shape.athlete)
    _apart(path, athletes)
    alerts = AlertSettings(shape.alerts.quiet_hours, shape.alerts.silent_after_hours, shape.alerts.late_after_days)
    fingerprint = hashlib.sha256(text.encode()).hexdigest()
    return Roster(path, alerts, contacts, athletes, fingerprint, _page(shape.page))


def _page(shape: PageShape | None) -> Page | None:
    if shape is None:
        return None
    host, _, port = shape.listen.rpartition(":")
    return Page(host.strip("[]"), int(port), shape.url, shape.insecure)


def _line_of(error: tomllib.TOMLDecodeError) -> str:
    where = re.search(r"\(at line \d+", str(error))
    return f" {where[0]})" if where else ""


def _contact(
    path: Path, one: ContactShape, shape: RosterShape, environment: Mapping[str, str], *, resolve: bool
) -> Contact:
    urls = []
    for url in one.urls:
        resolved = _resolved(path, one.id, url, environment) if resolve else url
        if not re.match(r"(?i)^([a-z][a-z0-9+.-]*://|\$\{)", resolved):
            raise RosterError(
                words.roster.URL_WITHOUT_SCHEME.format(path=path, id=one.id),
                words.roster.URL_WITHOUT_SCHEME_IN_LOG.format(name=path.name),
            )
        urls.append(resolved)
    own = any(one.id == a.id or (one.name and one.name == a.name) for a in shape.athlete if one.id in a.contacts)
    role = one.role or ("athlete" if own else "coach")
    return Contact(
        one.id, one.name or one.id, tuple(urls), Severity.of(one.receives), one.daily, role, one.units, one.clock
    )


def _resolved(path: Path, contact_id: str, url: str, environment: Mapping[str, str]) -> str:
    if missing := unset(url, environment):
        names = ", ".join(f"${{{name}}}" for name in missing)
        raise RosterError(
            words.roster.SECRET_OF_CONTACT_NOT_SET.format(path=path, contact_id=contact_id, names=names),
            words.roster.SECRET_NOT_SET.format(name=path.name, names=names),
        )
    return filled_in(url, environment)


def _athlete(path: Path, one: AthleteShape, contacts: Sequence[Contact]) -> RosterAthlete:
    contact_ids = {contact.id for contact in contacts}
    where = f"{path}: athlete {one.id!r}"
    for contact_id in one.contacts:
        if contact_id not in contact_ids:
            known = ", ".join(sorted(contact_ids)) or "none"
            hint = meant(contact_id, sorted(contact_ids)) or f"; there are: {known}"
            raise RosterError(
                words.roster.NO_SUCH_CONTACT.format(where=where, contact_id=shown_value(contact_id), hint=hint)
            )
    try:
        options = read_options(one.timezone, one.columns, one.table)
    except ColumnsError as error:
        raise RosterError(f"{where}: {error}", words.roster.WRONG_COLUMNS.format(name=path.name)) from None
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
        any(contact.role == "coach" for contact in contacts if contact.id in one.contacts),
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
    twice = next((name for name, times in Counter(ids).items() if times > 1), None)
    if twice is not None:
        raise RosterError(words.roster.ID_TWICE.format(path=path, what=what, one=shown_value(twice)))


def _apart(path: Path, athletes: tuple[RosterAthlete, ...]) -> None:
    """No folder may be another's, lie in another's, or hold the home folder, where the program writes."""
    home = path.parent.resolve()
    holding_home = {home, *home.parents}
    owners: dict[Path, str] = {}
    within: dict[Path, str] = {}  # folder around others -> the first athlete of these
    for athlete in athletes:
        folder, said = athlete.folder.resolve(), {"path": path, "name": athlete.id, "shown": athlete.folder}
        if folder in holding_home:
            raise RosterError(words.roster.FOLDER_HOLDS_HOME.format(**said))
        if folder in owners:
            raise RosterError(words.roster.FOLDER_TWICE.format(**said, other=owners[folder]))
        other = next((owners[parent] for parent in folder.parents if parent in owners), within.get(folder))
        if other is not None:
            raise RosterError(words.roster.FOLDERS_OVERLAP.format(**said, other=other))
        owners[folder] = athlete.id
        for parent in folder.parents:
            within.setdefault(parent, athlete.id)
