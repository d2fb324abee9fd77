"""The roster of the soak run, and the edits that are made to it while the daemon runs."""

from __future__ import annotations

import random
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo


@dataclass(frozen=True)
class Person:
    """An athlete of the soak run; `finished_days` before its beginning."""

    id: str
    timezone: str
    finished_days: int
    hr_max: int = 188

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.timezone)


PEOPLE = (
    Person("runa", "Europe/Oslo", 2),
    Person("leo", "America/Los_Angeles", 4),
    Person("aiko", "Asia/Tokyo", 6),
    Person("mia", "Australia/Lord_Howe", 9),
    Person("joao", "America/Sao_Paulo", 13),
    Person("ed", "Europe/London", 5),
)
CHANNELS = {"coach": 2, "second": 1, "all": 1, **{person.id: 1 for person in PEOPLE}}
"""Contact -> how many channels it has."""
RECEIVES = {"coach": "caution", "second": "stop", "all": "note"}


@dataclass(frozen=True)
class Settings:
    """What edits change; as it begins and as it ends."""

    quiet_hours: str = ""
    coach: str = "Ida"
    daily: str = "07:00"
    hr_max: dict[str, int] = field(default_factory=dict)
    timezone: dict[str, str] = field(default_factory=dict)
    left_out: frozenset[str] = frozenset()


def edits(now: Settings, rng: random.Random) -> Settings:
    """Another good roster."""
    changes = [
        replace(now, quiet_hours="" if now.quiet_hours else "21:30-06:30"),
        replace(now, coach=rng.choice(["Ida", "Ida B.", "Coach Ida"])),
        replace(now, daily=rng.choice(["06:00", "07:00", "09:30"])),
        replace(now, hr_max={} if now.hr_max else {"leo": 176, "mia": 196}),
        replace(now, timezone={} if now.timezone else {"ed": "Atlantic/Azores"}),
        replace(now, left_out=frozenset() if now.left_out else frozenset({"aiko"})),
    ]
    return rng.choice(changes)


BAD = (
    "[alerts\nquiet_hours = 3",
    "[alerts]\nshoe_size = 41\n",
    '[[athlete]]\nid = "x"\nfolder = "x"\ntimezone = "Mars/Base"\n',
)


def text_of(settings: Settings, folders: Path, begins: datetime, port: int, prefix: str) -> str:
    """roster.toml; every channel has a path of its own at the target."""
    lines = ["[alerts]", f'quiet_hours = "{settings.quiet_hours}"', "silent_after_hours = 1400", ""]
    for contact, channels in CHANNELS.items():
        urls = ", ".join(f'"json://127.0.0.1:{port}/{prefix}/{contact}/{number}"' for number in range(1, channels + 1))
        coach = contact in RECEIVES
        lines += ["[[contact]]", f'id = "{contact}"', f'role = "{"coach" if coach else "athlete"}"']
        lines += [f'name = "{settings.coach if contact == "coach" else contact}"', f"urls = [{urls}]"]
        lines += [f'receives = "{RECEIVES.get(contact, "caution")}"']
        lines += [f'daily = "{settings.daily}"'] if contact == "coach" else []
        lines += [""]
    for person in PEOPLE:
        if person.id in settings.left_out:
            continue
        finish = (begins - timedelta(days=person.finished_days)).astimezone(person.zone).replace(tzinfo=None)
        lines += ["[[athlete]]", f'id = "{person.id}"', f'name = "Athlete {person.id}"']
        lines += [f'folder = "{folders / person.id}"', "born = 1990", 'threshold_pace = "4:20"']
        lines += [f'timezone = "{settings.timezone.get(person.id, person.timezone)}"']
        lines += [f"hr_max = {settings.hr_max.get(person.id, person.hr_max)}"]
        lines += [f'contacts = ["coach", "second", "all", "{person.id}"]', ""]
        lines += ["[[athlete.race]]", 'event = "marathon"', f"finish = {finish:%Y-%m-%dT%H:%M:%S}", ""]
    return "\n".join(lines)
