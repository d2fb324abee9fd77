"""What is due by the clock and not by files: the day's plan, and troubles of the program, each told once."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import date, datetime, timedelta
from functools import partial

import duckdb

from monitor.alerts import beside, decide
from monitor.alerts.beside import Beside
from monitor.alerts.news import Daily, FolderNews, Trouble
from monitor.judging.judge import view
from monitor.roster import Contact, Roster, RosterAthlete
from monitor.store import decisions
from monitor.store.database import Store
from rules.limits import Limits
from rules.today import today

DAILY_WITHIN = timedelta(hours=6)  # a morning's plan that could not go out by noon helps nobody any more

Told = tuple[str, str, date]


class DailyMessages:
    """Sends each contact's `daily` once a day of the athlete; remembers what went out so as to ask the store little."""

    def __init__(self) -> None:
        self._done: set[Told] = set()

    def queue_due(self, store: Store, roster: Roster, now: datetime, limits: Limits) -> tuple[str, ...]:
        """Queue what is due now; what of it could not be made, in words."""
        wanted = [(a, c) for a in roster.athletes for c in roster.contacts_of(a.id) if self._due(a, c, now)]
        if not wanted:
            return ()

        def act(con: duckdb.DuckDBPyConnection, aside: Beside) -> None:
            for athlete, contact in wanted:
                aside.run(f"{athlete.id}: the day's plan", partial(_queue, con, roster, athlete, contact, now, limits))

        _, left_out = beside.write(store, act)
        today_by = {athlete.id: athlete.athlete.local_date(now) for athlete, _ in wanted}
        self._done = {one for one in self._done if one[2] >= min(today_by.values()) - timedelta(days=1)}
        self._done |= {(athlete.id, contact.id, today_by[athlete.id]) for athlete, contact in wanted}
        return left_out

    def _due(self, athlete: RosterAthlete, contact: Contact, now: datetime) -> bool:
        if contact.daily is None:
            return False
        local = now.astimezone(athlete.athlete.zone)
        if (athlete.id, contact.id, local.date()) in self._done:
            return False
        begins = datetime.combine(local.date(), contact.daily, athlete.athlete.zone)
        return begins <= local < begins + DAILY_WITHIN


def _queue(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    athlete: RosterAthlete,
    contact: Contact,
    now: datetime,
    limits: Limits,
) -> bool:
    made = view(con, roster, athlete, now, limits)
    day = today(made.judgement, made.history, now, limits)
    if day.stage in (None, "before", "done"):
        return False
    assert day.stage is not None
    assert day.day is not None
    daily = Daily(day.day, day.stage, tuple(day.sentences))
    return decide.queue_daily(con, roster, athlete.id, contact.id, daily, now)


def queue_roots(store: Store, roster: Roster, missing: Mapping[str, str], now: datetime) -> None:
    """Tell once that an athlete's folder cannot be looked into, and once that it is back."""
    with store.reading() as con:
        changed = [athlete for athlete in roster.athletes if _root_key(con, athlete.id, athlete.id in missing)]
    if not changed:
        return
    with store.writing() as con:
        for athlete in changed:
            key = _root_key(con, athlete.id, athlete.id in missing)
            if key is None:
                continue
            news = FolderNews(missing.get(athlete.id, ""))
            decide.queue_notice(con, roster, key, news, now, athlete_id=athlete.id)


def _root_key(con: duckdb.DuckDBPyConnection, athlete_id: str, missing: bool) -> str | None:
    """Key of what is to be told of a folder, None when it was told: absences are numbered."""
    number = 0
    while decisions.any_told(con, f"root:{athlete_id}:{number}:back"):
        number += 1
    gone = decisions.any_told(con, f"root:{athlete_id}:{number}:gone")
    if missing == gone:
        return None
    return f"root:{athlete_id}:{number}:{'gone' if missing else 'back'}"


def queue_trouble(store: Store, roster: Roster, text: str, now: datetime) -> bool:
    """Tell the owner of a trouble of the program itself, the same one once a day."""
    name = hashlib.sha256(text.encode()).hexdigest()[:12]
    with store.writing() as con:
        return decide.queue_notice(con, roster, f"trouble:{name}:{now.date()}", Trouble(text), now)
