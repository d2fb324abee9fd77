"""From the flags of `fallow init`, and answers where somebody can be asked, to an athlete for the roster."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from functools import partial
from typing import TypeVar

from monitor.cli import asking, typed
from monitor.cli.answers import Answers
from monitor.cli.questions import ask_all, machine_zone, usual_contact
from monitor.errors import WrongUse
from monitor.home import Home
from monitor.initialise import NewAthlete, NewContact, NewRace, checked, checked_url, known_events, slug
from monitor.roster import Roster

Given = TypeVar("Given")
Value = TypeVar("Value")
CHECKED_FLAGS = ("timezone", "born", "sex", "hr_max", "hr_rest", "distance_km", "result", "taper_days", "receives")


def complete(given: Answers, known: Roster | None, home: Home) -> tuple[NewAthlete, tuple[NewContact, ...]]:
    """The athlete and, when alerts go somewhere new, the contact."""
    given = _checked(given)
    if asking.can_ask():
        given = ask_all(given, known, home)
    if not given.name and not given.athlete:
        raise WrongUse("--name is missing: the athlete's name; in a terminal, `fallow init` asks")
    name = given.name or given.athlete or ""
    athlete_id = given.athlete or slug(name)
    contacts, told = _contacts(given, known)
    return NewAthlete(
        id=athlete_id,
        name=name,
        folder=typed.folder_of(given.folder or "", home.path) or f"exports/{athlete_id}",
        timezone=given.timezone or machine_zone(),
        born=given.born,
        sex=given.sex,
        hr_max=given.hr_max,
        hr_rest=given.hr_rest,
        contacts=told,
        races=_races(given),
    ), contacts


def _checked(given: Answers) -> Answers:
    """The flags with event and finish as the roster takes them; WrongUse names the first that cannot be."""
    for key in CHECKED_FLAGS:
        if getattr(given, key) is not None:
            _of_flag(key, partial(checked, key), getattr(given, key))
    for condition in given.conditions:
        _of_flag("condition", _condition, condition)
    if given.event is not None:
        given = replace(given, event=_of_flag("event", partial(typed.event_of, known=known_events()), given.event))
    if given.finish is not None:
        given = replace(given, finish=_of_flag("finish", typed.finish_of, given.finish).isoformat())
    return given


def _condition(word: str) -> None:
    try:
        checked("conditions", [word])
    except WrongUse as error:
        raise WrongUse(str(error).replace(repr([word]), repr(word))) from None


def _of_flag(name: str, read: Callable[[Given], Value], value: Given) -> Value:
    try:
        return read(value)
    except WrongUse as error:
        raise WrongUse(f"--{name.replace('_', '-')} {error}") from None


def _contacts(given: Answers, known: Roster | None) -> tuple[tuple[NewContact, ...], tuple[str, ...]]:
    """New contacts, and the ids that the athlete names: a new one, or the one that is there already."""
    if not given.alerts:
        for flag, value in (("--contact-name", given.contact_name), ("--receives", given.receives)):
            if value is not None:
                raise WrongUse(f"{flag} describes a new contact; give --alert URL with it, or edit the roster")
        return (), given.also or _known_contact(given, known)
    for url in given.alerts:
        checked_url(url)
    contact = given.contact or "coach"
    new = NewContact(contact, given.contact_name or contact, given.alerts, given.receives or "caution")
    return (new,), (contact, *given.also)


def _known_contact(given: Answers, known: Roster | None) -> tuple[str, ...]:
    """The contact named, else the coach who is there; nobody else hears of an athlete without being named."""
    if given.contact is None:
        return tuple(filter(None, [usual_contact(known)]))
    if known is None or known.contact(given.contact) is None:
        there = ", ".join(contact.id for contact in known.contacts) if known is not None else ""
        raise WrongUse(
            f"--contact {given.contact!r}: nobody of that id is on the roster yet; give --alert URL with it"
            + (f", or one of: {there}" if there else "")
        )
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
            given.event,
            datetime.fromisoformat(given.finish),
            given.distance_km,
            given.result,
            given.taper_days,
            given.conditions,
        ),
    )
