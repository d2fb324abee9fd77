"""A valid roster: frozen values that the rest of the program passes around."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import time
from functools import cached_property
from pathlib import Path
from typing import Literal

from monitor.values import ClockFace, IntakeOptions, Units
from rules.facts import Athlete
from rules.findings import Severity

Role = Literal["athlete", "coach"]
WatchMode = Literal["auto", "events", "poll"]


@dataclass(frozen=True, slots=True)
class AlertSettings:
    """`quiet_hours` are local times of the athlete, from and to, over midnight when from is later than to."""

    quiet_hours: tuple[time, time] | None = None
    silent_after_hours: float = 72
    late_after_days: float = 7


@dataclass(frozen=True, slots=True)
class Contact:
    """Someone who is told. `urls` may hold secrets: never log or show them."""

    id: str
    name: str
    urls: tuple[str, ...] = field(repr=False)
    receives: Severity = Severity.CAUTION
    daily: time | None = None
    role: Role = "coach"
    units: Units | None = None  # None: those of the athlete that a message is about
    clock: ClockFace | None = None


@dataclass(frozen=True, slots=True)
class Page:
    """Where `fallow serve` listens, and what people write into their browser to get there."""

    host: str
    port: int
    url: str  # without a stroke at its end; "" where nobody comes from elsewhere
    insecure: bool = False

    @property
    def here(self) -> str:
        """What a browser on this machine finds it by."""
        return f"http://{f'[{self.host}]' if ':' in self.host else self.host}:{self.port}"


@dataclass(frozen=True, slots=True)
class RosterAthlete:
    """An athlete with where the exports land and who is told."""

    athlete: Athlete
    folder: Path  # absolute
    contacts: tuple[str, ...]
    options: IntakeOptions
    watch: WatchMode = "auto"
    units: Units = "metric"
    clock: ClockFace = "24h"

    @property
    def id(self) -> str:
        return self.athlete.id


@dataclass(frozen=True)  # without slots, so that it can remember what is asked of it for every file
class Roster:
    path: Path
    alerts: AlertSettings
    contacts: tuple[Contact, ...]
    athletes: tuple[RosterAthlete, ...]
    fingerprint: str  # of the text, to tell one edit from another
    page: Page | None = None

    @property
    def url(self) -> str:
        """Where people find the pages; "" where there are none for them."""
        return self.page.url if self.page else ""

    def athlete(self, athlete_id: str) -> RosterAthlete | None:
        return self._by_id.get(athlete_id)

    @cached_property
    def _by_id(self) -> dict[str, RosterAthlete]:
        return {athlete.id: athlete for athlete in reversed(self.athletes)}

    def contact(self, contact_id: str) -> Contact | None:
        return next((contact for contact in self.contacts if contact.id == contact_id), None)

    def contacts_of(self, athlete_id: str) -> tuple[Contact, ...]:
        """The athlete's contacts in the order of the roster; empty for an unknown athlete."""
        one = self.athlete(athlete_id)
        named = one.contacts if one else ()
        return tuple(contact for contact in self.contacts if contact.id in named)

    def units_for(self, athlete_id: str, contact_id: str = "") -> Units:
        """In which units a contact reads of an athlete: the contact's own, else the athlete's, else metric."""
        contact, athlete = self.contact(contact_id), self.athlete(athlete_id)
        return (contact and contact.units) or (athlete.units if athlete else "metric")

    def clock_for(self, athlete_id: str, contact_id: str = "") -> ClockFace:
        """On which clock a contact reads of an athlete: the contact's own, else the athlete's, else 24 h."""
        contact, athlete = self.contact(contact_id), self.athlete(athlete_id)
        return (contact and contact.clock) or (athlete.clock if athlete else "24h")

    @property
    def owner(self) -> Contact | None:
        """Who is told of the program's own troubles: the first coach, else the first contact."""
        coaches = [contact for contact in self.contacts if contact.role == "coach"]
        return next(iter(coaches or list(self.contacts)), None)
