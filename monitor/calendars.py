"""An athlete's plan as an iCalendar file (RFC 5545), for a calendar program to open or to subscribe to.

Every entry is of whole days: dates without a clock are the athlete's own wherever the telephone is, and no change of
clocks moves them. An entry keeps its UID for good, and its SEQUENCE rises whenever its days or words change; that is
kept in the store and the journal, so that it rises on after a rebuild. What has not changed gives the same bytes.
"""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import icalendar

from monitor.home import Home
from monitor.judging import view
from monitor.plain_text import plain
from monitor.roster import Roster, RosterAthlete
from monitor.store import findings
from monitor.store.database import Store
from monitor.store.findings import Numbered
from monitor.store.journal import Journal
from monitor.views.calendar import CalendarEntry, CalendarView, calendar_view
from rules.limits import default_limits

FETCH_AGAIN = timedelta(hours=1)
"""How often subscribers are asked to look; many look less often."""
NAMES = uuid.UUID("5d3a5c0e-4a53-4e0e-9f4c-8d7b0f6c2f11")
"""Of the entries' UIDs; another one would make every entry a new one."""
MARK_LENGTH = 16


@dataclass(frozen=True, slots=True)
class NumberedEntry:
    """An entry with its UID and what became of it."""

    entry: CalendarEntry
    uid: str
    number: Numbered


@dataclass(frozen=True, slots=True)
class AthletesCalendar:
    athlete: RosterAthlete
    shown: CalendarView
    kept: tuple[NumberedEntry, ...]


def calendar_of(
    home: Home, roster: Roster, athlete: RosterAthlete, now: datetime, *, body: bool = False
) -> AthletesCalendar:
    """The calendar of a moment, its entries numbered. With `body` also what tells of the body, under UIDs of its own.

    Writes to the store and the journal only where an entry has changed since it was last asked for.
    """
    store, limits = Store(home.made().store), default_limits()
    with store.reading() as con:
        made = view(con, roster, athlete, now, limits)
        known = findings.calendar_numbers(con, athlete.id)
    shown = calendar_view(made, now, limits, body=body)
    uids = [uid_of(athlete.id, entry, body=body) for entry in shown.entries]
    if _changed(uids, shown.entries, known, now):
        with store.writing() as con:
            known = findings.calendar_numbers(con, athlete.id)
            changed = _changed(uids, shown.entries, known, now)
            findings.number_entries(con, athlete.id, changed)
            Journal(home.journal).calendar(athlete.id, changed, now)
        known = {**known, **changed}
    kept = tuple(NumberedEntry(each, uid, known[uid]) for uid, each in zip(uids, shown.entries, strict=True))
    return AthletesCalendar(athlete, shown, kept)


def uid_of(athlete_id: str, entry: CalendarEntry, *, body: bool) -> str:
    """The same for the same entry for good, whatever its days and words."""
    parts = (athlete_id, entry.kind, entry.subject, "body" if body else "")
    return str(uuid.uuid5(NAMES, "\x1f".join(parts)))


def _changed(
    uids: Sequence[str], entries: Sequence[CalendarEntry], known: dict[str, Numbered], now: datetime
) -> dict[str, Numbered]:
    """Those that are new or say something else than before, with their next number."""
    found: dict[str, Numbered] = {}
    for uid, entry in zip(uids, entries, strict=True):
        before, mark = known.get(uid), _mark(entry)
        if before is None:
            found[uid] = Numbered(0, mark, now)
        elif before.mark != mark:
            found[uid] = Numbered(before.sequence + 1, mark, max(now, before.changed_at))
    return found


def _mark(entry: CalendarEntry) -> str:
    said = (entry.first.isoformat(), entry.last.isoformat(), entry.title, *entry.lines)
    return hashlib.sha256("\x1f".join(said).encode()).hexdigest()[:MARK_LENGTH]


def as_json(made: AthletesCalendar) -> dict[str, Any]:
    """The entries in the shape of `calendar --json`."""
    return {
        "athlete": made.athlete.id,
        "name": made.shown.name,
        "entries": [
            {
                "uid": each.uid,
                "sequence": each.number.sequence,
                "kind": each.entry.kind,
                "first_date": each.entry.first.isoformat(),
                "last_date": each.entry.last.isoformat(),
                "title": each.entry.title,
                "lines": list(each.entry.lines),
            }
            for each in made.kept
        ],
    }


def as_icalendar(made: AthletesCalendar) -> bytes:
    """The file: folded lines, escaped texts, CRLF."""
    shown, zone = made.shown, made.athlete.athlete.timezone
    calendar = icalendar.Calendar()
    calendar.add("prodid", "-//fallow//the way back//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    for name in ("name", "x-wr-calname"):
        calendar.add(name, icalendar.vText(plain(shown.name)))
    for name in ("description", "x-wr-caldesc"):
        calendar.add(name, icalendar.vText(plain(shown.about)))
    calendar.add("x-wr-timezone", zone)
    calendar.add("refresh-interval", FETCH_AGAIN, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", icalendar.vDuration(FETCH_AGAIN))
    for each in made.kept:
        calendar.add_component(_event(each))
    return bytes(calendar.to_ical())


def _event(kept: NumberedEntry) -> icalendar.Event:
    entry, number = kept.entry, kept.number
    event = icalendar.Event()
    event.add("uid", kept.uid)
    event.add("sequence", number.sequence)
    event.add("dtstamp", number.changed_at.astimezone(UTC))
    event.add("last-modified", number.changed_at.astimezone(UTC))
    event.add("dtstart", entry.first)
    event.add("dtend", entry.last + timedelta(days=1))  # the first day that is not of it any more
    event.add("summary", plain(entry.title))
    if entry.lines:
        event.add("description", "\n".join(plain(line) for line in entry.lines))
    event.add("categories", [entry.kind])
    event.add("transp", "TRANSPARENT")  # keeps nobody from being free
    event.add("class", "PRIVATE")
    return event
