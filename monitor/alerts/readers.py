"""Who reads a message, and about whom."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

from monitor.alerts.words import clean
from monitor.roster import Contact, Roster


@dataclass(frozen=True, slots=True)
class Reader:
    """Who reads it, and about whom."""

    role: Literal["athlete", "coach"]
    athlete: str  # id
    name: str
    called: str  # short name, where no other athlete has the same
    zone: ZoneInfo
    coach: str = ""  # whom an athlete can ask, by name


def reader_of(roster: Roster, athlete_id: str, contact: Contact) -> Reader:
    """The reader of messages about an athlete; about the program itself when the id is empty."""
    one = roster.athlete(athlete_id)
    if one is None:
        zones = [each.athlete.zone for each in roster.athletes if contact.id in each.contacts]
        return Reader(contact.role, athlete_id, athlete_id, athlete_id, zones[0] if zones else ZoneInfo("UTC"))
    name = clean(one.athlete.name or one.id, 60)
    first = name.split(" ")[0]
    same = [each for each in roster.athletes if clean(each.athlete.name or each.id).split(" ")[0] == first]
    told = [roster.contact(contact_id) for contact_id in one.contacts]
    coaches = [clean(each.name, 60) for each in told if each is not None and each.role == "coach"]
    called = first if len(same) == 1 else name
    return Reader(contact.role, one.id, name, called, one.athlete.zone, coaches[0] if coaches else "")
