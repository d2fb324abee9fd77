"""What the pictures of a session with findings are drawn from, kept while its cleaned samples are at hand."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import duckdb

from monitor import fingerprints
from monitor.roster import RosterAthlete
from monitor.store import findings
from rules.facts import Athlete, Ceiling, History, Session
from rules.findings import Finding
from rules.judge import Judgement
from rules.limits import Limits
from rules.plan import Plan
from rules.plan.build import ruling_at
from rules.plan.stages import believable_bpm

if TYPE_CHECKING:
    from rules.session.timeline import Samples
    from rules.session.traces import Span, Traces
    from rules.session.track import Track

MOST_TRACKS = 40
"""Cleaned sessions in memory at once, about a MB each; of more in one judgement, the board cleans the rest again."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """What the lines of a session are made from beside its samples."""

    session: Session
    spans: tuple[Span, ...]
    ceiling: Ceiling | None
    highest_bpm: float | None  # what the heart of the athlete can be believed to do

    def made_from(self, limits: Limits) -> str:
        """Names all that they are made from: lines kept under another name are of something else."""
        from rules.session.traces import is_afoot  # noqa: PLC0415 - most commands do without

        one, bpm = self.session, self.ceiling.bpm if self.ceiling else None
        cleaned = (one.version, one.sport, one.sub_sport, one.elapsed_s, one.pauses, one.barometer)
        made = (fingerprints.code_of(fingerprints.TRACES), limits.fingerprint, cleaned, is_afoot(one))
        text = repr((*made, self.spans, bpm, self.highest_bpm))
        return hashlib.sha256(text.encode()).hexdigest()[:24]

    def of_track(self, track: Track) -> Traces:
        from rules.session.traces import traces  # noqa: PLC0415 - most commands do without

        return traces(track, self.session, self.spans, self.ceiling.bpm if self.ceiling else None)

    def of_samples(self, recorded: Samples, limits: Limits) -> Traces:
        from rules.session_rules import cleaned  # noqa: PLC0415 - most commands do without

        return self.of_track(cleaned(self.session, recorded, limits, self.highest_bpm))


def drawing(athlete: Athlete, plan: Plan | None, session: Session, found: Iterable[Finding], limits: Limits) -> Drawing:
    """A session with the findings on it, under the ceiling that its day had by a plan."""
    from rules.session.traces import spans_of  # noqa: PLC0415 - most commands do without

    inside = plan is not None and session.start >= plan.begins
    ceiling = plan.allowance_on(athlete.local_date(session.start)).ceiling if plan is not None and inside else None
    year = plan.race.finish.year if plan is not None else session.start.year
    return Drawing(session, spans_of(found), ceiling, believable_bpm(athlete, year, limits))


def keep_traces(
    con: duckdb.DuckDBPyConnection,
    athlete: RosterAthlete,
    facts: History,
    judged: Judgement,
    cleaned: Mapping[str, Track],
    limits: Limits,
) -> None:
    from rules.session.traces import packed  # noqa: PLC0415 - most commands do without

    found: dict[str, list[Finding]] = {}
    for finding in judged.findings:
        if finding.subject_kind == "session" and finding.subject in cleaned:
            found.setdefault(finding.subject, []).append(finding)
    drawn = [
        drawing(athlete.athlete, ruling_at(judged.plans, session.start), session, found[session.key], limits)
        for session in facts.sessions
        if session.key in found
    ]
    lines = [
        (picture.session.key, picture.made_from(limits), packed(picture.of_track(cleaned[picture.session.key])))
        for picture in drawn
    ]
    findings.keep_traces(con, athlete.id, lines)
