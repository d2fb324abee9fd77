"""Who reads a message, and about whom."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

from monitor.alerts.words import clean, clock, isolated
from monitor.roster import Contact, Roster
from monitor.roster.types import ClockFace, Units
from rules.day import Audience

NAME_LENGTH = 60


@dataclass(frozen=True, slots=True)
class Reader:
    """Who reads it, and about whom."""

    role: Literal["athlete", "coach"]
    athlete: str  # id
    name: str
    called: str  # short name, where no other athlete has the same
    zone: ZoneInfo
    coach: str = ""  # whom an athlete can ask, by name
    units: Units = "metric"
    face: ClockFace = "24h"
    url: str = ""  # where the reader's own pages are

    @property
    def coached(self) -> bool:
        """Whether there is a coach whom the athlete can ask."""
        return self.role == "coach" or bool(self.coach)

    @property
    def audience(self) -> Audience:
        """To whom `rules.day` speaks."""
        return Audience(self.role, self.coached, lambda moment: f"{moment:%a} {clock(moment, self.face)}")

    @property
    def who(self) -> str:
        """Before what a coach reads of an athlete; an athlete knows."""
        return f"{self.called}: " if self.role == "coach" and self.called else ""


def reader_of(roster: Roster, athlete_id: str, contact: Contact) -> Reader:
    """The reader of messages about an athlete; about the program itself when the id is empty."""
    one = roster.athlete(athlete_id)
    if one is None:
        zones = [each.athlete.zone for each in roster.athletes if contact.id in each.contacts]
        zone = zones[0] if zones else ZoneInfo("UTC")
        return Reader(contact.role, athlete_id, athlete_id, athlete_id, zone, url=roster.url)
    name = clean(one.athlete.name or one.id, NAME_LENGTH)
    first = name.split(" ")[0]
    same = [each for each in roster.athletes if clean(each.athlete.name or each.id).split(" ")[0] == first]
    told = [roster.contact(contact_id) for contact_id in one.contacts]
    coaches = [isolated(clean(each.name, NAME_LENGTH)) for each in told if each is not None and each.role == "coach"]
    called = first if len(same) == 1 else name
    return Reader(
        contact.role,
        one.id,
        isolated(name),
        isolated(called),
        one.athlete.zone,
        coaches[0] if coaches else "",
        roster.units_for(one.id, contact.id),
        roster.clock_for(one.id, contact.id),
        roster.url,
    )
