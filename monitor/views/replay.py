"""The stored history judged again, compared with what stands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

import duckdb

from monitor import fingerprints
from monitor.intake.sessions import make_digest, session_of, without_corrected
from monitor.judging import Remeasured, view
from monitor.roster import Roster, RosterAthlete
from monitor.store import findings, recordings
from monitor.store.recordings import StoredRecording
from monitor.values import Difference, difference
from rules.findings import Finding
from rules.limits import Limits
from rules.session.labels import deduplicate, quality
from rules.words import said

if TYPE_CHECKING:
    from rules.session.timeline import Samples


# Sessions of the store as they would be under other limits, from the stored samples; nothing is stored.

READ_AT_ONCE = 50


def measured_anew(con: duckdb.DuckDBPyConnection, athlete: str, limits: Limits) -> Remeasured | None:
    """An athlete's sessions under these limits; None where the store's own were measured under them."""
    kept = without_corrected(con, athlete, recordings.all_of(con, athlete), limits)
    by = fingerprints.of_digests(limits)
    if all(recording.digest_by == by for recording in kept):
        return None
    known = {recording.span.number: recording for recording in _digested(con, kept, limits)}
    truths = deduplicate([recording.span for recording in known.values()], limits)
    parts = {truth.key: [span.number for span in truth.parts] for truth in truths}
    starts = {truth.key: truth.parts[0].start for truth in truths}

    def joined(some: Sequence[int], start: datetime) -> Samples:
        return recordings.samples_joined(con, some, start)

    sessions = [session_of(truth, known, limits, joined) for truth in truths]
    sessions.sort(key=lambda session: (session.start, session.key))
    return Remeasured(tuple(sessions), lambda key: joined(parts[key], starts[key]))


def _digested(
    con: duckdb.DuckDBPyConnection, kept: Sequence[StoredRecording], limits: Limits
) -> Iterator[StoredRecording]:
    from monitor.store import samples  # noqa: PLC0415 - brings numpy, which most commands do without

    for begin in range(0, len(kept), READ_AT_ONCE):
        some = kept[begin : begin + READ_AT_ONCE]
        tables = samples.load_each(con, [recording.span.number for recording in some])
        for recording in some:
            made = make_digest(recording, tables[recording.span.number], limits)
            yield replace(
                recording, span=replace(recording.span, quality=quality(made, recording.timer_s, limits)), digest=made
            )


CHANGES = ("new", "gone", "worse", "milder", "reworded")


def replay_view(
    con: duckdb.DuckDBPyConnection, roster: Roster, athletes: Sequence[RosterAthlete], now: datetime, limits: Limits
) -> dict[str, Any]:
    """What would be new, gone, worse, milder or told with other numbers, over all seasons; nothing is stored."""
    changes: list[dict[str, Any]] = []
    stand = judged = 0
    for athlete in athletes:
        standing = findings.standing(con, athlete.id)
        measured = measured_anew(con, athlete.id, limits)
        made = view(con, roster, athlete, now, limits, touched=date.min, measured=measured).judgement.findings
        stand += len(standing)
        judged += len(made)
        changes += _changes(difference(athlete.id, standing, made))
    changes.sort(key=lambda change: (change["date"], change["id"]), reverse=True)
    counted = Counter(change["change"] for change in changes)
    counts = {"standing": stand, "judged": judged, **{change: counted[change] for change in CHANGES}}
    return {"counts": counts, "changes": changes}


def _changes(found: Difference) -> list[dict[str, Any]]:
    rows = [_row("new", None, finding) for finding in found.fresh]
    rows += [_row("gone", finding, None) for finding in found.withdrawn]
    rows += [_row("worse", old, new) for old, new in found.worse]
    rows += [_row("milder" if new.severity < old.severity else "reworded", old, new) for old, new in found.changed]
    return rows


def _row(change: str, old: Finding | None, new: Finding | None) -> dict[str, Any]:
    one = new or old
    assert one is not None
    return {
        "change": change,
        "id": one.id,
        "athlete": one.athlete,
        "rule": one.rule,
        "date": one.date.isoformat(),
        "stage": one.stage,
        "before": str(old.severity) if old else None,
        "after": str(new.severity) if new else None,
        "summary": said(one.summary),
    }
