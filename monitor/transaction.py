"""What one transaction of the store holds: the facts of files, the findings on them, and what is to be told of both."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime
from functools import partial

import duckdb

from monitor import words
from monitor.alerts import notices, routing
from monitor.alerts.delivery import Delivery
from monitor.alerts.notices import NoticeGuard
from monitor.alerts.outbox_editor import day_of
from monitor.intake.sessions import version_of
from monitor.intake.storing import PassMoment, ReadFile, Tally, keep
from monitor.judging import Tracks, View, rejudge
from monitor.roster import Roster, RosterAthlete
from monitor.store import decisions
from rules import words as rule_words
from rules.limits import Limits

# What one pass did, as `scan` tells it.


@dataclass(slots=True)
class PassReport:
    """Grows while the pass goes on; `counts` has the keys of `scan --json`."""

    files_seen: int = 0
    tally: Tally = field(default_factory=Tally)
    findings: int = 0
    delivery: Delivery | None = None

    def counts(self) -> dict[str, int]:
        told = asdict(self.tally)
        names = ("files_new", "read", "duplicate", "unreadable", "ignored", "waiting")
        facts = ("sessions", "nights", "mornings", "checkins")
        return {
            "files_seen": self.files_seen,
            **{name: told[name] for name in (*names, *facts)},
            "findings": self.findings,
            "alerts_sent": self.delivery.sent if self.delivery else 0,
            "alerts_waiting": self.delivery.waiting if self.delivery else 0,
        }


def keep_and_queue(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    batch: Mapping[str, Sequence[ReadFile]],
    moment_of: Callable[[str], PassMoment],
    aside: NoticeGuard,
    limits: Limits,
) -> Tally:
    """Store the facts of files by athlete id, and queue what is to be told of those that hold none."""
    kept = Tally()
    for athlete_id, files in batch.items():
        athlete = roster.athlete(athlete_id)
        if athlete is None:
            continue
        tally = keep(con, athlete, files, moment_of(athlete_id), limits)
        kept.add(tally)
        if paths := tally.unreadable_paths:
            now = moment_of(athlete_id).now
            aside.run(
                words.status.NOTICE_OF_UNREADABLE.format(athlete_id=athlete_id),
                partial(notices.queue_unreadable, con, roster, athlete_id, paths, now),
            )
    return kept


def judge_and_queue(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    athletes: Sequence[RosterAthlete],
    first: set[str],
    now: datetime,
    aside: NoticeGuard,
    limits: Limits,
    tracks: Tracks,
) -> int:
    """Judge athletes anew and queue what that changes; how many fresh findings. `first`: whose first look it is."""
    fresh, noted = 0, decisions.noted_of(con, ("stage",), [athlete.id for athlete in athletes])
    for change, view in rejudge(con, roster, athletes, now, limits, tracks):
        athlete = view.athlete
        fresh += len(change.fresh)
        routing.queue(con, roster, athlete.id, change, now, day_of(view.judgement, view.history, limits))
        if athlete.id in first:
            aside.run(
                words.status.NOTICE_OF_FIRST_LOOK.format(id=athlete.id),
                partial(notices.sum_up_import, con, roster, athlete.id, now),
            )
        aside.run(
            words.status.NOTICE_OF_PLAN.format(id=athlete.id),
            partial(_queue_stage, con, roster, view, now, limits, noted),
        )
    return fresh


def tracks_of(batch: Mapping[str, Sequence[ReadFile]]) -> Tracks:
    """The recordings of a batch that came with their cleaned samples."""
    return {
        version_of(file.sha256, part): recording
        for files in batch.values()
        for file in files
        if file.facts is not None
        for part, recording in enumerate(file.facts.recordings)
        if recording.track is not None
    }


def _queue_stage(
    con: duckdb.DuckDBPyConnection, roster: Roster, view: View, now: datetime, limits: Limits, noted: Collection[str]
) -> None:
    day = day_of(view.judgement, view.history, limits)
    looked_back = partial(rule_words.report.looked_back, view.judgement, now)
    notices.queue_stage(con, roster, view.athlete.id, view.judgement, now, looked_back, day, noted=noted)
