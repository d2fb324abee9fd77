"""From the flags of `fallow init`, and answers where somebody can be asked, to an athlete for the roster."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from functools import partial
from typing import TypeVar

from monitor import words
from monitor.cli import questions, typed
from monitor.cli.questions import InitFlags, ask_all, finish, machine_zone, usual_contact
from monitor.errors import WrongUse
from monitor.home import Home
from monitor.initialise import NewAthlete, NewContact, NewRace, Recipients, checked, checked_url, known_events, slug
from monitor.roster import Roster

Given = TypeVar("Given")
Value = TypeVar("Value")
CHECKED_FLAGS = ("timezone", "born", "sex", "hr_max", "hr_rest", "distance_km", "result", "taper_days", "receives")


def addition(given: InitFlags, known: Roster) -> tuple[str, tuple[NewRace, ...], Recipients]:
    """What the flags add to an athlete who stands on the roster: races and contacts; WrongUse for anything else."""
    given = _checked(given)
    for key in ("name", "folder", "timezone", "born", "sex", "hr_max", "hr_rest"):
        if getattr(given, key) is not None:
            flag = key.replace("_", "-")
            raise WrongUse(
                words.interview.STANDS_ON_ROSTER_ALREADY_EDIT.format(
                    flag=flag, athlete=given.athlete, key=key, path=known.path
                )
            )
    races = _races(given)
    told = _told(given, known, given.athlete or "", "", new=False)
    if not races and not told.ids:
        raise WrongUse(words.interview.STANDS_ON_ROSTER_ALREADY.format(athlete=given.athlete))
    return given.athlete or "", races, told


def complete(given: InitFlags, known: Roster | None, home: Home) -> tuple[NewAthlete, Recipients]:
    """The athlete, and who is told."""
    given = _checked(given)
    if questions.can_ask():
        given = ask_all(given, known, home)
    if not given.name and not given.athlete:
        raise WrongUse(words.interview.NAME_IS_MISSING)
    name = given.name or given.athlete or ""
    athlete_id = given.athlete or slug(name)
    told = _told(given, known, athlete_id, name, new=True)
    return NewAthlete(
        id=athlete_id,
        name=name,
        folder=_of_flag("folder", partial(typed.folder_of, home=home.path), given.folder or "")
        or f"exports/{athlete_id}",
        timezone=given.timezone or machine_zone(),
        born=given.born,
        sex=given.sex,
        hr_max=given.hr_max,
        hr_rest=given.hr_rest,
        contacts=told.ids,
        races=_races(given),
    ), told


def _checked(given: InitFlags) -> InitFlags:
    """The flags with event and finish as the roster takes them; WrongUse names the first that cannot be."""
    if given.result is not None:
        given = replace(given, result=typed.result_of(given.result, given.event))
    for key in CHECKED_FLAGS:
        if getattr(given, key) is not None:
            _of_flag(key, partial(checked, key), getattr(given, key))
    for condition in given.conditions:
        _of_flag("condition", _condition, condition)
    if given.event is not None:
        given = replace(given, event=_of_flag("event", partial(typed.event_of, known=known_events()), given.event))
    if given.finish is not None:
        given = replace(given, finish=_of_flag("finish", finish, given.finish).isoformat())
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


def _told(given: InitFlags, known: Roster | None, athlete_id: str, name: str, *, new: bool) -> Recipients:
    """Who is told of the athlete: who was named, whoever has the address already, and the coach who is there.

    An address that comes without a name is the coach's where nobody is on the roster but athletes who have one, and
    else the athlete's own: whoever sets up only oneself is the athlete.
    """
    for url in given.alerts:
        checked_url(url)
    if not given.alerts:
        for flag, value in (("--contact-name", given.contact_name), ("--receives", given.receives)):
            if value is not None:
                raise WrongUse(words.interview.DESCRIBES_NEW_CONTACT.format(flag=flag))
    there = {contact.id: contact for contact in known.contacts} if known is not None else {}
    owner = {url: contact.id for contact in there.values() for url in contact.urls}
    fresh = tuple(url for url in given.alerts if url not in owner)
    ids = list(dict.fromkeys(owner[url] for url in given.alerts if url in owner))
    made: tuple[NewContact, ...] = ()
    addresses: dict[str, tuple[str, ...]] = {}
    who = given.contact or (athlete_id if fresh else None)
    if who is not None and who in there:
        ids.insert(0, who)
        if fresh:
            addresses[who] = fresh
    elif fresh and who is not None:
        own = who == athlete_id
        made = (
            NewContact(
                who,
                given.contact_name or (name if own and name else who),
                fresh,
                given.receives or "caution",
                role="athlete" if own else None,
            ),
        )
        ids.insert(0, who)
    elif who is not None:
        raise WrongUse(
            words.interview.CONTACT_NOBODY_OF_THAT_ID.format(who=who)
            + (words.interview.ONE_OF.format(there=", ".join(there)) if there else "")
        )
    usual = [usual_contact(known)] if new else []
    return Recipients(made, tuple(dict.fromkeys(filter(None, [*ids, *given.also, *usual]))), addresses)


def _races(given: InitFlags) -> tuple[NewRace, ...]:
    if given.event is None:
        if given.finish is not None:
            raise WrongUse(words.interview.FINISH_WITHOUT_EVENT)
        return ()
    if given.finish is None:
        raise WrongUse(words.interview.EVENT_WITHOUT_FINISH)
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
