"""What people answer: holds, releases, that a finding was seen, and what of it they take back at once.

Kept in the store and in the journal.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta

from monitor import words
from monitor.alerts.notices import undo_stage
from monitor.alerts.outbox_editor import day_of
from monitor.alerts.responses import SendResult
from monitor.clock import FixedClock
from monitor.errors import WrongUse
from monitor.home import Home
from monitor.intake.workers import Workers
from monitor.judging import view
from monitor.roster import Roster
from monitor.scanning import Scanner
from monitor.store import findings
from monitor.store.database import Store
from monitor.store.journal import Journal
from rules.facts import Hold
from rules.limits import default_limits

LONGEST_HOLD_DAYS = default_limits().gates.hold_days_at_most


def hold(
    home: Home, roster: Roster, athlete_id: str, on: date, days: int | None, why: str, by: str, at: datetime
) -> Hold:
    """Hold the stage of a day for so many days, or until released; then judge again."""
    if days is not None and not 1 <= days <= LONGEST_HOLD_DAYS:
        raise WrongUse(words.interview.HOLD_DAYS.format(days=days, longest_hold_days=LONGEST_HOLD_DAYS))
    return _keep(home, roster, athlete_id, Hold("hold", on, at, days, why.strip(), by.strip()))


def release(home: Home, roster: Roster, athlete_id: str, on: date, why: str, by: str, at: datetime) -> Hold:
    """Let the plan go on: holds before it end, and what data had shut up to the day is open; then judge again."""
    return _keep(home, roster, athlete_id, Hold("release", on, at, None, why.strip(), by.strip()))


def _keep(home: Home, roster: Roster, athlete_id: str, made: Hold) -> Hold:
    """In the store, and in the journal before the store's transaction ends: neither has it without the other."""
    home.made()
    with Store(home.store).writing() as con:
        findings.add_hold(con, athlete_id, made)
        findings.mark_to_judge(con, athlete_id, made.on)
        Journal(home.journal).hold(athlete_id, made)
    _judge_again(home, roster, athlete_id, made.at)
    return made


def _judge_again(home: Home, roster: Roster, athlete_id: str, now: datetime) -> None:
    """What the override changes is found now; what there is to tell goes with the next scan or the running daemon."""
    with Workers() as workers:
        scanner = Scanner(home, roster, FixedClock(now), workers=workers, send=lambda *_, **__: SendResult(False))
        scanner.judge_due(athlete_id)


def undo(home: Home, roster: Roster, athlete_id: str, by: str, given_at: datetime, now: datetime) -> None:
    """Take back what somebody answered about an athlete at a moment, some minutes ago at most; then judge again.

    Marks, a hold or a release are as if they had never been, in the journal too. Messages that went out because of
    them cannot be called back: who may have read one that is no longer so is told where the plan stands. WrongUse for
    what was answered too long ago, by somebody else or not at all, or is taken back already.
    """
    limits, athlete = default_limits(), roster.athlete(athlete_id)
    if not timedelta() <= now - given_at <= timedelta(minutes=limits.gates.undo_minutes):
        raise WrongUse(words.interview.UNDO_TOO_LATE.format(undo_minutes=limits.gates.undo_minutes))
    with Store(home.store).writing() as con:
        marked = findings.marked_at(con, athlete_id, by, given_at)
        findings.unmark(con, marked, by, given_at)
        on = findings.take_back_holds(con, athlete_id, by, given_at)
        if athlete is None or (not marked and on is None):
            raise WrongUse(words.interview.NOTHING_TO_UNDO)
        if on is not None:
            findings.mark_to_judge(con, athlete_id, on)
            made = view(con, roster, athlete, now, limits)
            told = day_of(made.judgement, made.history, limits)
            undo_stage(con, roster, athlete_id, made.judgement, given_at, now, told)
        Journal(home.journal).undo(athlete_id, marked, by, given_at, now)
    if on is not None:
        _judge_again(home, roster, athlete_id, now)


def mark_all_seen(home: Home, finding_ids: Sequence[str], by: str, note: str, at: datetime | None = None) -> None:
    """Mark several findings as seen, all of them or none."""
    now = at or datetime.now(UTC)
    with Store(home.store).writing() as con:
        for finding_id in finding_ids:
            findings.mark(con, finding_id, by.strip(), note.strip(), now)
            Journal(home.journal).mark(finding_id, by.strip(), note.strip(), now)
