"""What is told a single time and is no finding: the day's plan, stages, troubles of the program, the first import.

Each has a key that outlives restarts and, through the journal, the store.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, time, timedelta
from typing import Protocol

import duckdb

from monitor.alerts import items
from monitor.alerts.compose import reader_of
from monitor.alerts.desk import Desk
from monitor.alerts.items import Item
from monitor.alerts.stage_words import StageNews, stage_news
from monitor.alerts.words import clean
from monitor.roster import Contact, Roster
from monitor.store import decisions, outbox
from rules.findings import Severity
from rules.plan import Plan

MOST_FILES_SHOWN = 10


class Judged(Protocol):
    """What is needed of a judgement."""

    @property
    def current(self) -> Plan | None: ...


def queue_notice(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    key: str,
    title: str,
    body: str,
    now: datetime,
    *,
    athlete_id: str = "",
) -> bool:
    """Tell the owner of a trouble of the program, once for each key; False when it was told before."""
    owner = roster.owner
    if owner is None or not decisions.first_time(con, key, now):
        return False
    _lay(con, roster, owner, athlete_id, ("notice", key), _text(key, title, body, Severity.CAUTION), now)
    return True


def queue_daily(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    athlete_id: str,
    contact_id: str,
    title: str,
    body: str,
    now: datetime,
) -> bool:
    """Send what is allowed today, once a day of the athlete; False when it went out before."""
    contact, athlete = roster.contact(contact_id), roster.athlete(athlete_id)
    if contact is None or athlete is None:
        return False
    key = f"daily:{athlete_id}:{contact_id}:{athlete.athlete.local_date(now)}"
    if not decisions.first_time(con, key, now):
        return False
    _lay(con, roster, contact, athlete_id, ("daily", key), _text(key, title, body, Severity.NOTE), now)
    return True


def queue_stage(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    athlete_id: str,
    judgement: Judged,
    now: datetime,
    looked_back: Sequence[str] = (),
) -> int:
    """Tell once that a stage begins or is held, or that the plan is done, which `looked_back` sums up; how many.

    The first look at a race only takes note. What is noted and not told stands in the journal at once: a store begun
    anew must not take what was queued and never sent for something old.
    """
    plan, athlete = judgement.current, roster.athlete(athlete_id)
    if plan is None or athlete is None:
        return 0
    race = f"stage:{athlete_id}:{plan.race.finish.isoformat()}:"
    first_look = not decisions.any_told(con, race)
    told = 0
    for news in stage_news(plan, athlete.athlete.local_date(now), looked_back):
        to_tell = news.to_tell and not first_look
        if decisions.first_time(con, race + news.key, now, owed=not to_tell) and to_tell:
            told += 1
            _tell_stage(con, roster, athlete_id, race + news.key, news, now)
    return told


def _tell_stage(
    con: duckdb.DuckDBPyConnection, roster: Roster, athlete_id: str, key: str, news: StageNews, now: datetime
) -> None:
    for contact in roster.contacts_of(athlete_id):
        own = f"{key}:{contact.id}"  # what the journal learns of one contact says nothing of another
        if contact.receives <= Severity.CAUTION and decisions.first_time(con, own, now):
            who = f"{reader_of(roster, athlete_id, contact).called}: " if contact.role == "coach" else ""
            text = _text(key, who + news.title, news.body, Severity.NOTE)
            _lay(con, roster, contact, athlete_id, ("stage", own), text, now)


def queue_unreadable(
    con: duckdb.DuckDBPyConnection, roster: Roster, athlete_id: str, paths: Sequence[str], now: datetime
) -> bool:
    """Tell the owner of files that cannot be read: one message a day; what comes after it waits for tomorrow's."""
    owner, athlete = roster.owner, roster.athlete(athlete_id)
    if owner is None or athlete is None or not paths:
        return False
    zone = athlete.athlete.zone
    today = now.astimezone(zone).date()
    named = [f"- {clean(f'{athlete_id}/{path}', 120)}" for path in paths]
    for day in (today, today + timedelta(days=1)):
        key = f"unreadable:{day}"
        if decisions.first_time(con, key, now):
            _lay(con, roster, owner, athlete_id, ("notice", key), _unreadable(key, named, len(named)), now)
            if day > today:
                midnight = datetime.combine(day, time.min, zone)
                for row in _unread_once(con, key):
                    outbox.set_state(con, row.id, "held", "one a day", midnight)
            return True
        if _add_files(con, roster, owner, key, named, now):
            return True
    return False


def _add_files(
    con: duckdb.DuckDBPyConnection, roster: Roster, owner: Contact, key: str, named: Sequence[str], now: datetime
) -> bool:
    """Put more files into a message that nobody has read; False when there is none."""
    rows = _unread_once(con, key)
    for row in rows[:1]:
        shown = [line for line in row.body.splitlines() if line.startswith("- ")]
        number = int(row.title.split(" ")[0]) + len(named)
        _replace_text(con, roster, owner, key, _unreadable(key, [*shown, *named], number), now)
    return bool(rows)


def _unreadable(key: str, named: Sequence[str], number: int) -> Item:
    shown = list(named[:MOST_FILES_SHOWN])
    if number > len(shown):
        shown.append(f"and {number - len(shown)} more")
    title = f"{number} file{'s' if number > 1 else ''} could not be read"
    return _text(key, title, "\n".join([*shown, "Why: fallow intake"]), Severity.CAUTION)


def sum_up_import(con: duckdb.DuckDBPyConnection, roster: Roster, athlete_id: str, now: datetime) -> None:
    """One line on what a first import kept from sending; none where nothing was kept back, nor on a rebuilt store."""
    key = f"import:{athlete_id}"
    if decisions.any_told(con, key, replayed_only=True):
        return
    decisions.first_time(con, key, now, owed=True)
    row = con.execute("SELECT count(*) FROM session WHERE athlete = ?", [athlete_id]).fetchone()
    sessions = int(row[0]) if row else 0
    for contact in roster.contacts_of(athlete_id):
        late = decisions.withheld(con, athlete_id, contact.id)
        if not late:
            continue
        one = f"{key}:{contact.id}"
        text = _summary(one, reader_of(roster, athlete_id, contact).called, sessions, late, roster)
        if decisions.first_time(con, one, now):
            _lay(con, roster, contact, athlete_id, ("notice", one), text, now)
        else:
            _replace_text(con, roster, contact, one, text, now)


def _summary(key: str, called: str, sessions: int, late: int, roster: Roster) -> Item:
    read = f"Read {sessions} session{'s' if sessions != 1 else ''} of the past"
    kept = f"{late} finding{'s' if late != 1 else ''} older than {roster.alerts.late_after_days:g} days"
    line = f"{read}; {kept} {'are' if late != 1 else 'is'} on record, none sent"
    return _text(key, f"{called}: {line}", f"{line}. All of them: fallow findings {key.split(':')[1]}", Severity.NOTE)


def _text(about: str, title: str, body: str, severity: Severity) -> Item:
    return Item("text", severity, about, title=title, body=body)


def _lay(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    contact: Contact,
    athlete_id: str,
    kind_and_key: tuple[str, str],
    text: Item,
    now: datetime,
) -> None:
    desk = Desk(con, roster, contact, athlete_id, now)
    kind, key = kind_and_key
    for channel in desk.channels:
        desk.lay(channel, text, kind, kind=kind, once=key)


def _unread_once(con: duckdb.DuckDBPyConnection, key: str) -> list[outbox.OutboxRow]:
    return [row for row in outbox.unsent(con) if row.once == key and row.untouched]


def _replace_text(
    con: duckdb.DuckDBPyConnection, roster: Roster, contact: Contact, key: str, text: Item, now: datetime
) -> None:
    """Newer numbers in a notice that nobody has read yet."""
    for row in _unread_once(con, key):
        if row.contact == contact.id and len(items.from_text(row.items)) == 1:
            draft = Desk(con, roster, contact, row.athlete, now).draft([text], row.reason, row.kind)
            outbox.rewrite(con, row.id, replace(draft, state=row.state, reason=row.reason, not_before=row.not_before))
