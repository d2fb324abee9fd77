"""The questions of `fallow init`: what flags have not said is asked, or guessed where nobody can be asked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime

from monitor.cli import asking
from monitor.errors import WrongUse
from monitor.home import Home
from monitor.initialise import NewAthlete, NewContact, NewRace, checked, checked_url, known_events, slug
from monitor.roster import Roster


@dataclass(frozen=True, slots=True)
class Answers:
    """What the flags of `init` say."""

    name: str | None
    athlete: str | None
    folder: str | None
    timezone: str | None
    born: int | None
    sex: str | None
    hr_max: int | None
    hr_rest: int | None
    event: str | None
    distance_km: float | None
    finish: str | None
    result: str | None
    taper_days: int | None
    conditions: tuple[str, ...]
    alerts: tuple[str, ...]
    contact: str | None
    contact_name: str | None
    receives: str


def complete(given: Answers, known: Roster | None, home: Home) -> tuple[NewAthlete, tuple[NewContact, ...]]:
    """The athlete and, when alerts go somewhere new, the contact."""
    if asking.can_ask():
        given = _interview(given, known, home)
    if not given.name and not given.athlete:
        raise WrongUse("--name is missing: the athlete's name; in a terminal, `fallow init` asks")
    name = given.name or given.athlete or ""
    athlete_id = given.athlete or slug(name)
    contacts, told = _contacts(given, known)
    return NewAthlete(
        id=athlete_id,
        name=name,
        folder=given.folder or f"exports/{athlete_id}",
        timezone=given.timezone or machine_zone(),
        born=given.born,
        sex=given.sex,
        hr_max=given.hr_max,
        hr_rest=given.hr_rest,
        contacts=told,
        races=_races(given),
    ), contacts


def machine_zone() -> str:
    """The timezone of this machine by its IANA name."""
    from tzlocal import get_localzone_name  # noqa: PLC0415 - only here

    return str(get_localzone_name() or "UTC")


def _contacts(given: Answers, known: Roster | None) -> tuple[tuple[NewContact, ...], tuple[str, ...]]:
    """New contacts, and the ids that the athlete names: a new one, or the one that is there already."""
    if not given.alerts:
        return (), _known_contact(given, known)
    for url in given.alerts:
        checked_url(url)
    contact = given.contact or "coach"
    return (NewContact(contact, given.contact_name or contact, given.alerts, given.receives),), (contact,)


def _known_contact(given: Answers, known: Roster | None) -> tuple[str, ...]:
    """The contact named, else the one who is told of the program's own troubles; none in a new roster."""
    if given.contact is None:
        return (known.owner.id,) if known is not None and known.owner is not None else ()
    if known is None or known.contact(given.contact) is None:
        raise WrongUse(f"--contact {given.contact!r}: nobody of that id is on the roster yet; give --alert URL with it")
    return (given.contact,)


def _races(given: Answers) -> tuple[NewRace, ...]:
    if given.event is None:
        if given.finish is not None:
            raise WrongUse("--finish without --event; which race was it?")
        return ()
    if given.finish is None:
        raise WrongUse("--event without --finish; when did the race end, local time?")
    return (
        NewRace(
            given.event, read_finish(given.finish), given.distance_km, given.result, given.taper_days, given.conditions
        ),
    )


def read_finish(text: str) -> datetime:
    try:
        return datetime.fromisoformat(text.strip())
    except ValueError:
        raise WrongUse(f"{text!r}: must be a date and time like 2026-10-04T13:47") from None


def _interview(given: Answers, known: Roster | None, home: Home) -> Answers:
    """Ask for what the flags leave open."""
    name = given.name or asking.ask("Name of the athlete")
    if not name:
        return given
    athlete_id = given.athlete or asking.ask("Short id, for commands", slug(name))
    given = replace(given, name=name, athlete=athlete_id)
    if given.folder is None:
        print(f"  The exports of watch, scale and sleep land in a folder; a relative one starts at {home.path}.")
        given = replace(given, folder=asking.ask("Folder of the exports", f"exports/{athlete_id}"))
    if given.timezone is None:
        zone = asking.ask_for("Timezone", lambda text: str(checked("timezone", text)), machine_zone())
        given = replace(given, timezone=zone)
    return _ask_where_to(_ask_race(_ask_heart(given)), known)


def _ask_heart(given: Answers) -> Answers:
    if given.hr_max is None:
        print("  A measured highest heart rate makes the limits sure; an estimate from age is good to some 10 bpm.")
        given = replace(
            given, hr_max=asking.ask_for("Highest heart rate, measured (empty: not known)", _whole("hr_max"))
        )
    if given.hr_max is None and given.born is None:
        given = replace(given, born=asking.ask_for("Year of birth, for the estimate", _whole("born")))
    return given


def _ask_race(given: Answers) -> Answers:
    if given.event is None:
        print(f"  Events: {', '.join(known_events())}.")
        given = replace(
            given, event=asking.ask_for("The race (empty: none yet)", lambda text: str(checked("event", text)))
        )
        if given.event == "custom":
            given = replace(given, distance_km=asking.ask_for("Its distance in km", _number("distance_km")))
    if given.event is not None and given.finish is None:
        moment = asking.ask_for("Its finish, local time, like 2026-10-04T13:47", read_finish)
        result = asking.ask_for(
            "Its result, like 3:25:10 (empty: skip)", lambda text: str(checked("result", text) and text)
        )
        taper = asking.ask_for("How many days the taper was (empty: by the event)", _whole("taper_days"))
        return replace(given, finish=moment.isoformat() if moment else None, result=result, taper_days=taper)
    return given


def _ask_where_to(given: Answers, known: Roster | None) -> Answers:
    if given.alerts or given.contact:
        return given
    if known is not None and known.contacts:
        there = ", ".join(contact.id for contact in known.contacts)
        answer = asking.ask(f"Who is told: one of {there}, or a new Apprise URL", _known_contact(given, known)[0])
        return replace(given, alerts=(answer,)) if "://" in answer else replace(given, contact=answer)
    print(
        "  Alerts go to an Apprise URL, such as mailto://..., ntfy://..., json://host/path; ${NAME} keeps a secret out."
    )
    url = asking.ask_for("Where alerts go (empty: nowhere yet)", checked_url)
    if not url:
        return given
    if asking.ask("Who reads them there, coach or athlete", "coach").lower().startswith("a"):
        return replace(given, alerts=(url,), contact=given.athlete or "athlete", contact_name=given.name)
    return replace(given, alerts=(url,), contact_name=asking.ask("Name of the coach", "Coach"))


def _whole(key: str) -> Callable[[str], int]:
    def read(text: str) -> int:
        try:
            number = int(text)
        except ValueError:
            raise WrongUse(f"{text!r}: must be a whole number") from None
        checked(key, number)
        return number

    return read


def _number(key: str) -> Callable[[str], float]:
    def read(text: str) -> float:
        try:
            number = float(text.replace(",", "."))
        except ValueError:
            raise WrongUse(f"{text!r}: must be a number") from None
        checked(key, number)
        return number

    return read
