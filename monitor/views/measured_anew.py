"""Sessions of the store as they would be under other limits, from the stored samples; nothing is stored."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

import duckdb

from monitor import fingerprints
from monitor.intake.digests import make_digest
from monitor.intake.sessions import session_of, without_corrected
from monitor.judging.judge import Measured
from monitor.store import recordings
from monitor.store.recordings import Kept
from rules.limits import Limits
from rules.session.one_truth import quality, tell_apart

if TYPE_CHECKING:
    import polars as pl

READ_AT_ONCE = 50


def measured_anew(con: duckdb.DuckDBPyConnection, athlete: str, limits: Limits) -> Measured | None:
    """An athlete's sessions under these limits; None where the store's own were measured under them."""
    kept = without_corrected(con, athlete, recordings.all_of(con, athlete), limits)
    by = fingerprints.of_digests(limits)
    if all(one.digest_by == by for one in kept):
        return None
    known = {one.span.number: one for one in _digested(con, kept, limits)}
    truths = tell_apart([one.span for one in known.values()], limits)
    parts = {truth.key: [(span.number, span.start) for span in truth.parts] for truth in truths}
    starts = {truth.key: truth.parts[0].start for truth in truths}

    def joined(some: Sequence[tuple[int, datetime]], start: datetime) -> pl.DataFrame:
        return recordings.samples_joined(con, some, start)

    sessions = [session_of(truth, known, limits, joined) for truth in truths]
    sessions.sort(key=lambda one: (one.start, one.key))
    return Measured(tuple(sessions), lambda key: joined(parts[key], starts[key]))


def _digested(con: duckdb.DuckDBPyConnection, kept: Sequence[Kept], limits: Limits) -> Iterator[Kept]:
    from monitor.store import samples  # noqa: PLC0415 - brings polars, which most commands do without

    for begin in range(0, len(kept), READ_AT_ONCE):
        some = kept[begin : begin + READ_AT_ONCE]
        tables = samples.load_each(con, [one.span.number for one in some])
        for one in some:
            made = make_digest(one, tables[one.span.number], limits)
            yield replace(one, span=replace(one.span, quality=quality(made, one.timer_s, limits)), digest=made)
