"""The questions of `fallow init`: few, with a default where one can be guessed, asked again after a wrong answer."""

from __future__ import annotations

import os
import re
import sys
import textwrap
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TypeVar

from monitor import words
from monitor.cli import screen, typed
from monitor.errors import WrongUse
from monitor.home import Home
from monitor.initialise import (
    NewAthlete,
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

# Questions in the terminal: one line each, a default in brackets, an empty answer takes it.

Value = TypeVar("Value")


def hint(text: str) -> None:
    """What helps with the next question, wrapped."""
    print("\n".join(textwrap.wrap(text, screen.width() - 2, initial_indent="  ", subsequent_indent="  ",
                                  break_long_words=False, break_on_hyphens=False)), file=sys.stderr)  # fmt: skip


def can_ask() -> bool:
    """Whether a person sits there."""
    return sys.stdin.isatty()


def ask(question: str, default: str = "") -> str:
    """One answer, trimmed."""
    hint = f" [{default}]" if default else ""
    print(f"{question}{hint}:", end=" ", flush=True, file=sys.stderr)
    return input().strip() or default


def ask_for(question: str, read: Callable[[str], Value], default: str = "") -> Value | None:
    """Ask until the answer reads well; None for no answer. `read` raises WrongUse with what is allowed."""
    while True:
        answer = ask(question, default)
        if not answer:
            return None
        try:
            return read(answer)
        except WrongUse as error:
            hint(screen.plain(error))


def yes(question: str, *, default: bool) -> bool:
    """Ask until the answer is a yes or a no; what is neither is not taken for a no."""
    while True:
        answer = yes_or_no(ask(f"{question} (y/n)", "y" if default else "n"))
        if answer is not None:
            return answer
        hint(words.interview.Y_OR_N)


def yes_or_no(answer: str) -> bool | None:
    """A plain yes or no as people type it; None for anything else."""
    from monitor.intake.checkin import NO, YES

    word = answer.strip(" .!").casefold()
    return True if word in YES | {"j", "o", "s"} else False if word in NO else None


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
    also: tuple[str, ...] = ()  # who is there already and is told too


LOOK_LIKE_A_URL = re.compile(r"[:/@]|\$\{")


def machine_zone() -> str:
    """The timezone of this machine by its IANA name."""
    from tzlocal import get_localzone_name

    return str(get_localzone_name() or "UTC")


def ask_all(given: InitFlags, known: Roster | None, home: Home) -> InitFlags:
    """Ask for what the flags leave open; each answer is held against the roster at once, so that none is lost."""
    hint(words.interview.EMPTY_ANSWER_TAKES_WHAT)
    name = given.name or ask(words.interview.NAME_OF_ATHLETE)
    if not name:
        return given
    athlete_id = given.athlete or ask_for(
        words.interview.SHORT_ID, lambda text: _tried(text, "", home), free_id(slug(name), known)
    )
    given = replace(given, name=name, athlete=athlete_id)
    if given.folder is None:
        given = replace(given, folder=_ask_folder(str(athlete_id), home))
    if given.timezone is None:
        zone = ask_for("Timezone", lambda text: str(checked("timezone", text)), machine_zone())
        given = replace(given, timezone=zone)
    return _ask_where_to(_ask_race(_ask_heart(given)), known)


def _tried(athlete_id: str, folder: str, home: Home) -> str:
    """The id when the roster would take it, with this folder; WrongUse says why not."""
    checked("id", athlete_id)
    try:
        roster_with(
            home, NewAthlete(athlete_id, athlete_id, folder or f".{athlete_id}", "UTC"), Recipients(), "", os.environ
        )
    except WrongUse as error:
        raise WrongUse(str(error).removeprefix(f"{home.roster}: ")) from None
    return athlete_id


def _ask_folder(athlete_id: str, home: Home) -> str:
    hint(words.interview.EXPORTS_OF_WATCH.format(path=home.path))
    usual = f"exports/{athlete_id}"

    def read(text: str) -> str:
        folder = typed.folder_of(text, home.path)
        path = folder_path(home, folder)
        if path.exists() and not path.is_dir():
            raise WrongUse(words.interview.IS_NO_FOLDER.format(path=path))
        _tried(athlete_id, folder, home)
        there = path.is_dir() or folder == usual
        if not there and not yes(words.interview.IS_NOT_THERE_YET.format(path=path), default=True):
            raise WrongUse(words.interview.THEN_NAME_FOLDER)
        return folder

    return ask_for(words.interview.FOLDER_OF_EXPORTS, read, usual) or usual


def _ask_heart(given: InitFlags) -> InitFlags:
    if given.hr_max is None:
        hint(words.interview.MEASURED_HIGHEST_HEART_RATE)
        given = replace(given, hr_max=ask_for(words.interview.HIGHEST_HEART_RATE, _whole("hr_max")))
    if given.hr_max is None and given.born is None:
        born = ask_for(words.interview.YEAR_OF_BIRTH, _whole("born"))
        given = replace(given, born=born)
    return given


def _ask_race(given: InitFlags) -> InitFlags:
    if given.event is None:
        hint(f"Events: {', '.join(known_events())}.")
        given = replace(
            given,
            event=ask_for(words.interview.RACE_EMPTY_NONE_YET, lambda text: typed.event_of(text, known_events())),
        )
        if given.event == "custom":
            given = replace(given, distance_km=_must(words.interview.DISTANCE_IN_KM, _number("distance_km")))
    if given.event is not None and given.finish is None:
        moment = _must(words.interview.FINISH_LOCAL_TIME_LIKE, finish)
        result = ask_for(words.interview.RESULT_LIKE_EMPTY_SKIP, lambda text: _result(text, given.event))
        taper = ask_for(words.interview.HOW_MANY_DAYS_TAPER, _whole("taper_days"))
        return replace(given, finish=moment.isoformat(), result=result, taper_days=taper)
    return given


def finish(text: str) -> datetime:
    """A finish; one that is far ahead is asked about, for a mistyped year is not seen before the plan is needed."""
    moment = typed.finish_of(text)
    checked("finish", moment)
    days = (moment.replace(tzinfo=None) - datetime.now()).days  # noqa: DTZ005 - a day plays no part
    most = default_limits().roster.finish_asked_days
    if days <= most:
        return moment
    if not can_ask():
        raise WrongUse(words.interview.IS_DAYS_FROM_NOW.format(text=text, days=days, most=most))
    if not yes(words.interview.FINISH_IS_DAYS.format(text=text, days=days), default=False):
        raise WrongUse(words.interview.THEN_GIVE_IT_ONCE)
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
        hint(words.interview.THIS_ONE_IS_NEEDED)


def _ask_where_to(given: InitFlags, known: Roster | None) -> InitFlags:
    if given.alerts or given.contact:
        return given
    if known is not None and known.contacts:
        there = ", ".join(contact.id for contact in known.contacts)
        question = words.interview.WHO_IS_TOLD.format(there=there)
        chosen = ask_for(question, lambda text: _who(text, known), usual_contact(known))
        urls, given = tuple(chosen[0]) if chosen else (), replace(given, also=tuple(chosen[1]) if chosen else ())
    else:
        hint(words.interview.ALERTS_GO_TO_ADDRESS)
        url = ask_for(words.interview.WHERE_ALERTS_GO, checked_url)
        urls = (url,) if url else ()
    if not urls:
        return given
    alone = known is None or not known.contacts
    reader = ask_for(words.interview.WHO_READS_THEM, _coach_or_athlete, "athlete" if alone else "coach")
    if reader == "athlete":
        return replace(
            given, alerts=urls, contact=_free_contact(given.athlete or "athlete", known), contact_name=given.name
        )
    return replace(
        given,
        alerts=urls,
        contact=_free_contact("coach", known),
        contact_name=ask(words.interview.NAME_OF_COACH, "Coach"),
    )


def usual_contact(known: Roster | None) -> str:
    """The coach who is there; an athlete of the roster is told of another only when named."""
    owner = known.owner if known is not None else None
    return owner.id if owner is not None and owner.role == "coach" else ""


def _who(text: str, known: Roster) -> tuple[list[str], list[str]]:
    """Addresses and ids of contacts in an answer."""
    parts = [part for part in re.split(r",\s+|\s+", text.strip(" ,")) if part]
    ids = [contact.id for contact in known.contacts]
    urls = [checked_url(part) for part in parts if part not in ids and LOOK_LIKE_A_URL.search(part)]
    for part in parts:
        if part not in ids and part not in urls:
            raise WrongUse(words.interview.NOBODY_OF_THAT_ID.format(part=part, ids=", ".join(ids)))
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


def _whole(key: str) -> Callable[[str], int]:
    def read(text: str) -> int:
        try:
            number = int(text)
        except ValueError:
            raise WrongUse(words.interview.MUST_BE_WHOLE_NUMBER.format(text=text)) from None
        checked(key, number)
        return number

    return read


def _number(key: str) -> Callable[[str], float]:
    def read(text: str) -> float:
        try:
            number = float(text.replace(",", "."))
        except ValueError:
            raise WrongUse(words.interview.MUST_BE_NUMBER.format(text=text)) from None
        checked(key, number)
        return number

    return read
