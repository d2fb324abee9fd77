"""`fallow init`: few questions, with a default where one can be guessed; flags and answers become an athlete."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from typing import TypeVar

from monitor import words
from monitor.cli import typed
from monitor.cli.screen import ask, ask_for, can_ask, hint, yes
from monitor.errors import WrongUse
from monitor.home import Home
from monitor.initialise import (
    NewAthlete,
    NewContact,
    NewRace,
    Recipients,
    checked,
    checked_url,
    folder_path,
    free_id,
    known_events,
    roster_with,
    slug,
)
from monitor.roster import Roster
from rules.limits import default_limits

Given = TypeVar("Given")
Value = TypeVar("Value")
CHECKED_FLAGS = ("timezone", "born", "sex", "hr_max", "hr_rest", "distance_km", "result", "taper_days", "receives")

# What is known of a new athlete: from the flags of `fallow init`, then from the answers.


@dataclass(frozen=True, slots=True)
class InitFlags:
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
    receives: str | None
    also: tuple[str, ...] = ()  # ids of known contacts who are told too


LOOK_LIKE_A_URL = re.compile(r"[:/@]|\$\{")


def machine_zone() -> str:
    """The timezone of this machine by its IANA name."""
    from tzlocal import get_localzone_name

    return str(get_localzone_name() or "UTC")


def ask_all(given: InitFlags, known: Roster | None, home: Home) -> InitFlags:
    """Ask for what the flags leave open. Each answer is checked at once, so that a wrong one costs only itself."""
    hint(words.interview.HOW_TO_ANSWER)
    name = given.name or ask(words.interview.ASK_NAME)
    if not name:
        return given
    athlete_id = given.athlete or ask_for(
        words.interview.ASK_ID, lambda text: _tried(text, "", home), free_id(slug(name), known)
    )
    given = replace(given, name=name, athlete=athlete_id)
    if given.folder is None:
        given = replace(given, folder=_ask_folder(str(athlete_id), home))
    if given.timezone is None:
        zone = ask_for("Timezone", lambda text: str(checked("timezone", text)), machine_zone())
        given = replace(given, timezone=zone)
    return _ask_where_to(_ask_race(_ask_heart(given)), known)


def _tried(athlete_id: str, folder: str, home: Home) -> str:
    """The id, if the roster would be valid with it and this folder; else WrongUse."""
    checked("id", athlete_id)
    try:
        roster_with(
            home, NewAthlete(athlete_id, athlete_id, folder or f".{athlete_id}", "UTC"), Recipients(), "", os.environ
        )
    except WrongUse as error:
        raise WrongUse(str(error).removeprefix(f"{home.roster}: ")) from None
    return athlete_id


def _ask_folder(athlete_id: str, home: Home) -> str:
    hint(words.interview.ABOUT_FOLDER.format(path=home.path))
    usual = f"exports/{athlete_id}"

    def read(text: str) -> str:
        folder = typed.folder_of(text, home.path)
        path = folder_path(home, folder)
        if path.exists() and not path.is_dir():
            raise WrongUse(words.interview.FOLDER_IS_A_FILE.format(path=path))
        _tried(athlete_id, folder, home)
        there = path.is_dir() or folder == usual
        if not there and not yes(words.interview.ASK_MAKE_FOLDER.format(path=path), default=True):
            raise WrongUse(words.interview.NAME_FOLDER_THERE)
        return folder

    return ask_for(words.interview.ASK_FOLDER, read, usual) or usual


def _ask_heart(given: InitFlags) -> InitFlags:
    if given.hr_max is None:
        hint(words.interview.ABOUT_HR_MAX)
        given = replace(given, hr_max=ask_for(words.interview.ASK_HR_MAX, _number("hr_max", int)))
    if given.hr_max is None and given.born is None:
        born = ask_for(words.interview.ASK_BORN, _number("born", int))
        given = replace(given, born=born)
    return given


def _ask_race(given: InitFlags) -> InitFlags:
    if given.event is None:
        hint(f"Events: {', '.join(known_events())}.")
        given = replace(
            given,
            event=ask_for(words.interview.ASK_RACE, lambda text: typed.event_of(text, known_events())),
        )
        if given.event == "custom":
            given = replace(given, distance_km=_must(words.interview.ASK_DISTANCE, _number("distance_km", float)))
    if given.event is not None and given.finish is None:
        moment = _must(words.interview.ASK_FINISH, finish)
        result = ask_for(words.interview.ASK_RESULT, lambda text: _result(text, given.event))
        taper = ask_for(words.interview.ASK_TAPER, _number("taper_days", int))
        return replace(given, finish=moment.isoformat(), result=result, taper_days=taper)
    return given


def finish(text: str) -> datetime:
    """A finish. One far ahead must be confirmed: a mistyped year would only be noticed when the plan is needed."""
    moment = typed.finish_of(text)
    checked("finish", moment)
    days = (moment.replace(tzinfo=None) - datetime.now()).days  # noqa: DTZ005 - a day plays no part
    most = default_limits().roster.finish_asked_days
    if days <= most:
        return moment
    if not can_ask():
        raise WrongUse(words.interview.FINISH_TOO_FAR.format(text=text, days=days, most=most))
    if not yes(words.interview.ASK_FAR_FINISH.format(text=text, days=days), default=False):
        raise WrongUse(words.interview.GIVE_FINISH_AGAIN)
    return moment


def _result(text: str, event: str | None) -> str:
    result = typed.result_of(text, event)
    checked("result", result)
    return result


def _must(question: str, read: Callable[[str], Value]) -> Value:
    """Ask until there is an answer."""
    while True:
        answer = ask_for(question, read)
        if answer is not None:
            return answer
        hint(words.interview.ANSWER_NEEDED)


def _ask_where_to(given: InitFlags, known: Roster | None) -> InitFlags:
    if given.alerts or given.contact:
        return given
    if known is not None and known.contacts:
        there = ", ".join(contact.id for contact in known.contacts)
        question = words.interview.ASK_CONTACTS.format(there=there)
        chosen = ask_for(question, lambda text: _who(text, known), usual_contact(known))
        urls, given = tuple(chosen[0]) if chosen else (), replace(given, also=tuple(chosen[1]) if chosen else ())
    else:
        hint(words.interview.ABOUT_ADDRESSES)
        url = ask_for(words.interview.ASK_ADDRESS, checked_url)
        urls = (url,) if url else ()
    if not urls:
        return given
    alone = known is None or not known.contacts
    reader = ask_for(words.interview.ASK_READER, _coach_or_athlete, "athlete" if alone else "coach")
    if reader == "athlete":
        return replace(
            given, alerts=urls, contact=_free_contact(given.athlete or "athlete", known), contact_name=given.name
        )
    return replace(
        given,
        alerts=urls,
        contact=_free_contact("coach", known),
        contact_name=ask(words.interview.ASK_COACH, "Coach"),
    )


def usual_contact(known: Roster | None) -> str:
    """The id of the roster's coach; athletes are told of other athletes only where they are named."""
    owner = known.owner if known is not None else None
    return owner.id if owner is not None and owner.role == "coach" else ""


def _who(text: str, known: Roster) -> tuple[list[str], list[str]]:
    """Addresses and ids of contacts in an answer."""
    parts = [part for part in re.split(r",\s+|\s+", text.strip(" ,")) if part]
    ids = [contact.id for contact in known.contacts]
    urls = [checked_url(part) for part in parts if part not in ids and LOOK_LIKE_A_URL.search(part)]
    for part in parts:
        if part not in ids and part not in urls:
            raise WrongUse(words.interview.NO_SUCH_ID.format(part=part, ids=", ".join(ids)))
    return urls, [part for part in parts if part in ids]


def _coach_or_athlete(text: str) -> str:
    if text.lower() in {"me", "myself", "i"}:
        return "athlete"
    for word in ("coach", "athlete"):
        if word.startswith(text.lower()):
            return word
    raise WrongUse(words.interview.MUST_BE_COACH.format(text=text))


def _free_contact(base: str, known: Roster | None) -> str:
    taken = {contact.id for contact in known.contacts} if known is not None else set()
    number = 1
    while (candidate := base if number == 1 else f"{base}{number}") in taken:
        number += 1
    return candidate


def _number(key: str, kind: Callable[[str], Value]) -> Callable[[str], Value]:
    """Reads a number of one key as the roster would take it; whole numbers with `int`."""

    def read(text: str) -> Value:
        try:
            number = kind(text if kind is int else text.replace(",", "."))
        except ValueError:
            said = words.interview.MUST_BE_WHOLE_NUMBER if kind is int else words.interview.MUST_BE_NUMBER
            raise WrongUse(said.format(text=text)) from None
        checked(key, number)
        return number

    return read


# From the flags, and the answers where somebody can be asked, to an athlete for the roster.


def addition(given: InitFlags, known: Roster) -> tuple[str, tuple[NewRace, ...], Recipients]:
    """What the flags add to an athlete who stands on the roster: races and contacts; WrongUse for anything else."""
    given = _checked(given)
    for key in ("name", "folder", "timezone", "born", "sex", "hr_max", "hr_rest"):
        if getattr(given, key) is not None:
            flag = key.replace("_", "-")
            raise WrongUse(
                words.interview.VALUE_IS_THERE.format(flag=flag, athlete=given.athlete, key=key, path=known.path)
            )
    races = _races(given)
    told = _told(given, known, given.athlete or "", "", new=False)
    if not races and not told.ids:
        raise WrongUse(words.interview.ATHLETE_IS_THERE.format(athlete=given.athlete))
    return given.athlete or "", races, told


def complete(given: InitFlags, known: Roster | None, home: Home) -> tuple[NewAthlete, Recipients]:
    """The athlete, and who is told."""
    given = _checked(given)
    if can_ask():
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
    """The flags, checked, with event and finish in the roster's form; WrongUse names the first wrong one."""
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
    """Who is told of the athlete: contacts named, contacts who have the address already, and the roster's coach.

    A new address without --contact is the athlete's own: who sets up the program alone is the athlete.
    """
    for url in given.alerts:
        checked_url(url)
    if not given.alerts:
        for flag, value in (("--contact-name", given.contact_name), ("--receives", given.receives)):
            if value is not None:
                raise WrongUse(words.interview.FLAG_WITHOUT_ALERT.format(flag=flag))
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
            words.interview.NO_SUCH_CONTACT.format(who=who)
            + (words.interview.OTHER_CONTACTS.format(there=", ".join(there)) if there else "")
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
