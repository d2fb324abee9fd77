"""Messages that are told once and are no findings: the day's plan, stages, troubles of the program."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from typing import Protocol, TypeVar

import duckdb

from monitor import logs
from monitor.alerts import outbox_editor
from monitor.alerts.outbox_editor import DayOf, Item, OutboxEditor, day_unknown, news_item
from monitor.news import (
    MOST_FILES_SHOWN,
    Daily,
    FilesUnreadable,
    FolderNews,
    MorningDigest,
    News,
    PastRead,
    Trouble,
    stage_news,
)
from monitor.reasons import Why
from monitor.roster import Contact, Roster
from monitor.store import decisions, outbox
from monitor.store.database import Store, is_damage
from rules.findings import Severity
from rules.plan import Plan

# A notice is queued in the transaction that stores facts and findings; when it fails, they must be stored all the same.

Done = TypeVar("Done")


class NoticeFailed(Exception):  # noqa: N818 - never leaves this room
    def __init__(self, what: str) -> None:
        super().__init__(what)
        self.what = what


@dataclass(slots=True)
class NoticeGuard:
    """Runs side work of a transaction; `left_out` names what failed before and is skipped now."""

    left_out: set[str] = field(default_factory=set)

    def run(self, what: str, act: Callable[[], object]) -> None:
        """Do it, unless it failed before."""
        if what not in self.left_out:
            with self._named(what):
                act()

    @contextmanager
    def _named(self, what: str) -> Iterator[None]:
        try:
            yield
        except Exception as error:
            if is_damage(error):  # a damaged store fails the main work as well
                raise
            raise NoticeFailed(what) from error


def write(store: Store, act: Callable[[duckdb.DuckDBPyConnection, NoticeGuard], Done]) -> tuple[Done, tuple[str, ...]]:
    """Run `act` in one transaction; its result, and the names of the side work that was left out.

    The database has no savepoints: where side work fails, everything is rolled back and done again without it. So
    `act` may run several times.
    """
    beside = NoticeGuard()
    while True:
        try:
            with store.writing() as con:
                return act(con, beside), tuple(sorted(beside.left_out))
        except NoticeFailed as failed:
            logs.failure("left_out", failed.__cause__ or failed)
            beside.left_out.add(failed.what)


# Each notice has a key, by which it is told only once; keys outlive restarts and, through the journal, the store. What
# is queued are values, which are worded when they are sent.


class Judged(Protocol):
    """What is needed of a judgement."""

    @property
    def current(self) -> Plan | None: ...


def queue_notice(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    key: str,
    news: FolderNews | Trouble,
    now: datetime,
    *,
    athlete_id: str = "",
) -> bool:
    """Tell the owner of a trouble of the program, once for each key; False when it was told before."""
    owner = roster.owner
    if owner is None or not decisions.first_time(con, key, now):
        return False
    _lay(con, roster, owner, athlete_id, "notice", news_item(key, news, Severity.CAUTION), now)
    return True


def queue_daily(
    con: duckdb.DuckDBPyConnection, roster: Roster, athlete_id: str, contact_id: str, day: Daily, now: datetime
) -> bool:
    """Send what is allowed today, once a day of the athlete; False when it went out before."""
    contact, athlete = roster.contact(contact_id), roster.athlete(athlete_id)
    if contact is None or athlete is None:
        return False
    key = f"daily:{athlete_id}:{contact_id}:{athlete.athlete.local_date(now)}"
    if not decisions.first_time(con, key, now):
        return False
    _lay(con, roster, contact, athlete_id, "daily", news_item(key, day, Severity.NOTE), now)
    return True


def queue_digest(
    con: duckdb.DuckDBPyConnection, roster: Roster, contact: Contact, on: date, digest: MorningDigest, now: datetime
) -> bool:
    """Send a coach's morning, once a day of it; False when it went out before."""
    key = f"digest:{contact.id}:{on}"
    if not decisions.first_time(con, key, now):
        return False
    _lay(con, roster, contact, "", "daily", news_item(key, digest, Severity.NOTE), now)
    return True


def queue_stage(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    athlete_id: str,
    judgement: Judged,
    now: datetime,
    looked_back: Callable[[], Sequence[str]] = tuple,
    day_of: DayOf = day_unknown,
    *,
    noted: Collection[str] | None = None,
) -> int:
    """Tell once that a stage begins or is held, or that the plan is done, which `looked_back` sums up; how many.

    `noted` are the athlete's keys of stages, where they are at hand.

    The first look at a race only takes note. What is noted and not told stands in the journal at once: a store begun
    anew must not take what was queued and never sent for something old.
    """
    plan, athlete = judgement.current, roster.athlete(athlete_id)
    if plan is None or athlete is None:
        return 0
    race = f"stage:{athlete_id}:{plan.race.finish.isoformat()}:"
    every = decisions.noted_of(con, ("stage",), [athlete_id]) if noted is None else noted
    noted = {key for key in every if key.startswith(race)}
    told = 0
    for entry in stage_news(plan, athlete.athlete.local_date(now), looked_back):
        key, news = race + entry.key, entry.news if noted else None
        if key not in noted and decisions.first_time(con, key, now, owed=news is None) and news is not None:
            told += 1
            _tell_stage(con, roster, athlete_id, key, news, now, day_of)
    return told


def _tell_stage(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    athlete_id: str,
    key: str,
    news: News,
    now: datetime,
    day_of: DayOf,
) -> None:
    for contact in roster.contacts_of(athlete_id):
        own = f"{key}:{contact.id}"  # a key for each contact: one may have been told and another not
        if contact.receives <= Severity.CAUTION and decisions.first_time(con, own, now):
            _lay(con, roster, contact, athlete_id, "stage", news_item(own, news, Severity.NOTE), now, day_of)


def undo_stage(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    athlete_id: str,
    judgement: Judged,
    since: datetime,
    now: datetime,
    day_of: DayOf = day_unknown,
) -> int:
    """Put right what an answer of `since`, taken back now, has told of stages; how many are told anew.

    What nobody has read yet is taken off. Who may have read what is no longer so is told where the plan stands, also
    where that had been told before. What is still so, or comes true again, is told by `queue_stage` as ever.
    """
    plan, athlete = judgement.current, roster.athlete(athlete_id)
    if plan is None or athlete is None:
        return 0
    race = f"stage:{athlete_id}:{plan.race.finish.isoformat()}:"
    stands = {race + entry.key: entry.news for entry in stage_news(plan, athlete.athlete.local_date(now))}
    noted = {key for key in decisions.keys_since(con, race, since) if not _is_of(key, stands)}
    told = 0
    for contact in roster.contacts_of(athlete_id):
        read = [
            key for key in noted if key.endswith(f":{contact.id}") and not _taken_off(con, roster, contact, key, now)
        ]
        for key, news in stands.items() if read else ():
            if news is not None and decisions.noted_at(con, [key]):
                own = f"{key}:{contact.id}:again:{since.isoformat()}"
                _lay(con, roster, contact, athlete_id, "stage", news_item(own, news, Severity.NOTE), now, day_of)
                told += 1
    decisions.forget(con, noted)
    return told


def _is_of(key: str, stands: Mapping[str, News | None]) -> bool:
    return any(key == begun or key.startswith(f"{begun}:") for begun in stands)


def _taken_off(con: duckdb.DuckDBPyConnection, roster: Roster, contact: Contact, key: str, now: datetime) -> bool:
    """Take news out of the rows that nobody has read; False where somebody may have read it."""
    rows = _unread_with(con, contact, key)
    for row in rows:
        left = [item for item in outbox_editor.from_text(row.items) if item.about != key]
        if left:
            draft = OutboxEditor(con, roster, contact, row.athlete, now).draft(left, row.reason, row.kind)
            outbox.rewrite(con, row.id, replace(draft, state=row.state, reason=row.reason, not_before=row.not_before))
        else:
            outbox.drop(con, row.id)
    return bool(rows)


def queue_unreadable(
    con: duckdb.DuckDBPyConnection, roster: Roster, athlete_id: str, paths: Sequence[str], now: datetime
) -> bool:
    """Tell the owner of files that cannot be read: one message a day; what comes after it waits for tomorrow's."""
    owner, athlete = roster.owner, roster.athlete(athlete_id)
    if owner is None or athlete is None or not paths:
        return False
    zone = athlete.athlete.zone
    today = now.astimezone(zone).date()
    named = tuple(f"{athlete_id}/{path}" for path in paths)
    fresh = FilesUnreadable(named[:MOST_FILES_SHOWN], len(named))
    for day in (today, today + timedelta(days=1)):
        key = f"unreadable:{day}"
        if decisions.first_time(con, key, now):
            _lay(con, roster, owner, athlete_id, "notice", news_item(key, fresh, Severity.CAUTION), now)
            if day > today:
                midnight = datetime.combine(day, time.min, zone)
                for row in _unread_with(con, owner, key):
                    outbox.set_state(con, row.id, "held", Why.ONE_A_DAY, midnight)
            return True
        if _change_unread(con, roster, owner, key, lambda items_before: _with_more(items_before, fresh), now):
            return True
    return False


def _with_more(known: Item, fresh: FilesUnreadable) -> list[Item]:
    """One notice of all files; words of an older version stay as they are, beside one of the new files."""
    if not isinstance(known.news, FilesUnreadable):
        return [known, news_item(known.about, fresh, known.severity)]
    paths = (*known.news.paths, *fresh.paths)[:MOST_FILES_SHOWN]
    return [replace(known, news=FilesUnreadable(paths, known.news.count + fresh.count))]


def sum_up_import(con: duckdb.DuckDBPyConnection, roster: Roster, athlete_id: str, now: datetime) -> None:
    """One message on what a first import did not send; none where nothing was held back, or the store was rebuilt."""
    key = f"import:{athlete_id}"
    if decisions.any_told(con, key, replayed_only=True):
        return
    decisions.first_time(con, key, now, owed=True)
    row = con.execute("SELECT count(*) FROM session WHERE athlete = ?", [athlete_id]).fetchone()
    sessions = int(row[0]) if row else 0
    for contact in roster.contacts_of(athlete_id):
        late = decisions.withheld(con, athlete_id, contact.id)
        if not late or contact.role == "athlete":  # athletes know their own past
            continue
        own = f"{key}:{contact.id}"
        told = news_item(own, PastRead(sessions, late, roster.alerts.late_after_days), Severity.NOTE)
        if decisions.first_time(con, own, now):
            _lay(con, roster, contact, athlete_id, "notice", told, now)
        else:
            _change_unread(con, roster, contact, own, lambda _, told=told: [told], now)  # type: ignore[misc]  # of a lambda


def _lay(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    contact: Contact,
    athlete_id: str,
    kind: str,
    told: Item,
    now: datetime,
    day_of: DayOf = day_unknown,
) -> None:
    editor = OutboxEditor(con, roster, contact, athlete_id, now, day_of)
    for channel in editor.channels:
        editor.queue_item(channel, told, Why(kind), kind=kind, once=told.about)


def _unread_with(con: duckdb.DuckDBPyConnection, contact: Contact, key: str) -> list[outbox.OutboxRow]:
    """Rows to a contact that hold the news of a key, alone or gathered with others, and that nobody has read."""
    rows = [row for row in outbox.unsent(con) if row.contact == contact.id and row.untouched]
    return [row for row in rows if key in outbox_editor.news_keys(outbox_editor.from_text(row.items))]


def _change_unread(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    contact: Contact,
    key: str,
    change: Callable[[Item], Sequence[Item]],
    now: datetime,
) -> bool:
    """Other content for news that nobody has read yet; False where there is none."""
    rows = _unread_with(con, contact, key)
    for row in rows:
        items: list[Item] = []
        changed = False
        for item in outbox_editor.from_text(row.items):
            mine = item.about == key and item.kind in ("news", "text") and not changed
            items += change(item) if mine else [item]
            changed = changed or mine
        draft = OutboxEditor(con, roster, contact, row.athlete, now).draft(items, row.reason, row.kind)
        outbox.rewrite(con, row.id, replace(draft, state=row.state, reason=row.reason, not_before=row.not_before))
    return bool(rows)
