"""Digests made anew from the stored samples, after the code or the limits that made them have changed."""

from __future__ import annotations

import duckdb

from monitor import fingerprints, logs
from monitor.intake import sessions
from monitor.intake.digests import make_digest
from monitor.roster import RosterAthlete
from monitor.store import history, recordings, samples
from monitor.store.database import Store
from monitor.store.recordings import Kept
from rules.facts import Digest
from rules.limits import Limits
from rules.session.one_truth import quality


def waiting(con: duckdb.DuckDBPyConnection, limits: Limits) -> dict[str, int]:
    """Athlete -> how many recordings have a digest that other code or other limits made."""
    return recordings.digested_otherwise(con, fingerprints.of_digests(limits))


def redigest(store: Store, athlete: RosterAthlete, limits: Limits, most: int) -> int:
    """Make some of an athlete's digests anew, the newest recordings first; how many. The last asks for a judgement.

    Nothing is held open while they are made. Each part is stored by itself, so that a stop between two loses nothing.
    """
    by = fingerprints.of_digests(limits)
    with store.reading() as con:
        kept = recordings.to_digest(con, athlete.id, by, most)
        tables = samples.load_each(con, [one.span.number for one in kept])
    if not kept:
        return 0
    made = [(one, *_made(one, tables[one.span.number], limits)) for one in kept]
    with store.writing() as con:
        recordings.set_digests(con, made, by)
        sessions.settle(con, athlete.id, [(one.span.start, one.span.end) for one in kept], limits)
        if athlete.id not in recordings.digested_otherwise(con, by):
            first = recordings.first_start(con, athlete.id) or kept[-1].span.start
            history.mark_to_judge(con, athlete.id, athlete.athlete.local_date(first))
    return len(kept)


def _made(one: Kept, table: samples.Table, limits: Limits) -> tuple[float, Digest]:
    """Quality and digest; those that it had where the rules break down on its samples."""
    try:
        made = make_digest(one, table, limits)
    except Exception as error:  # noqa: BLE001 - one recording must never keep the others from being measured
        logs.failure("digest_failed", error)
        return one.span.quality, one.digest
    return quality(made, one.timer_s, limits), made
