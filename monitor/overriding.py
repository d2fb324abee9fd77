"""What people decide: holds, releases, and that a finding was seen. Kept in the store and in the journal."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime

from monitor.alerts.answers import SendResult
from monitor.clock import FixedClock
from monitor.errors import WrongUse
from monitor.home import Home
from monitor.intake.workers import Workers
from monitor.roster import Roster
from monitor.scanning import Scanner
from monitor.store import findings, history
from monitor.store.database import Store
from monitor.store.journal import Journal
from rules.facts import Hold

LONGEST_HOLD_DAYS = 366


def hold(
    home: Home, roster: Roster, athlete_id: str, on: date, days: int | None, why: str, by: str, at: datetime
) -> Hold:
    """Hold the stage of a day for so many days, or until released; then judge again."""
    if days is not None and not 1 <= days <= LONGEST_HOLD_DAYS:
        raise WrongUse(f"--days {days}: must be from 1 to {LONGEST_HOLD_DAYS}")
    return _keep(home, roster, athlete_id, Hold("hold", on, at, days, why.strip(), by.strip()))


def release(home: Home, roster: Roster, athlete_id: str, on: date, why: str, by: str, at: datetime) -> Hold:
    """Let the plan go on: holds before it end, and what data had shut up to the day is open; then judge again."""
    return _keep(home, roster, athlete_id, Hold("release", on, at, None, why.strip(), by.strip()))


def _keep(home: Home, roster: Roster, athlete_id: str, made: Hold) -> Hold:
    """In the store, and in the journal before the store's transaction ends: neither has it without the other."""
    home.made()
    with Store(home.store).writing() as con:
        history.add_hold(con, athlete_id, made)
        history.mark_to_judge(con, athlete_id, made.on)
        Journal(home.journal).hold(athlete_id, made)
    _judge_again(home, roster, made.at)
    return made


def _judge_again(home: Home, roster: Roster, now: datetime) -> None:
    """What the override changes is found now; what there is to tell goes with the next scan or the running daemon."""
    with Workers() as workers:
        scanner = Scanner(home, roster, FixedClock(now), workers=workers, send=lambda *_, **__: SendResult(False))
        scanner.judge_due()


def mark_seen(home: Home, finding_id: str, by: str, note: str) -> None:
    """Mark a finding as seen."""
    mark_all_seen(home, [finding_id], by, note)


def mark_all_seen(home: Home, finding_ids: Sequence[str], by: str, note: str) -> None:
    """Mark several findings as seen, all of them or none."""
    now = datetime.now(UTC)
    with Store(home.store).writing() as con:
        for finding_id in finding_ids:
            findings.mark(con, finding_id, by.strip(), note.strip(), now)
            Journal(home.journal).mark(finding_id, by.strip(), note.strip(), now)
