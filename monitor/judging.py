"""Judge one athlete from the store: load, decide, compare with what stands."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from types import MappingProxyType
from typing import TYPE_CHECKING

import duckdb

from monitor import fingerprints
from monitor.roster import Roster, RosterAthlete
from monitor.store import body, decisions, encoding, findings, intake, recordings
from monitor.values import Difference, Recording, difference
from rules.facts import Athlete, Ceiling, History, SampleContext, Session
from rules.findings import Breach, Finding
from rules.judge import Judgement, judge
from rules.limits import Limits
from rules.plan import Plan
from rules.plan.build import ruling_at
from rules.plan.stages import believable_bpm

if TYPE_CHECKING:
    from rules.session.timeline import Samples
    from rules.session.traces import Span, Traces
    from rules.session.track import Track


# The stored facts of one athlete as the rules want them, no more than the judgement needs.

AHEAD = timedelta(days=1)
"""Clocks of devices run ahead. What lies further off was seen before the clock was set back, and stands unjudged."""


def judged_from(athlete: RosterAthlete, touched: date, limits: Limits) -> date | None:
    """First day of the earliest reverse taper that facts from `touched` on can bear on; None where there is none."""
    after = timedelta(days=limits.history.days_after_race)
    finishes = [race.finish.date() for race in athlete.athlete.races]
    return min((finish for finish in finishes if finish + after >= touched), default=None)


def window(athlete: RosterAthlete, since: date, now: datetime, limits: Limits) -> tuple[datetime, datetime]:
    """From when to when facts bear on what is judged from `since` on."""
    first = since - timedelta(days=limits.history.days_before_race)
    return datetime.combine(first, datetime.min.time(), athlete.athlete.zone), now + AHEAD


def load_history(
    con: duckdb.DuckDBPyConnection, athlete: RosterAthlete, since: date, now: datetime, limits: Limits
) -> History:
    """Facts from some months before `since` up to a day past `now`, and sessions that have begun."""
    return history_and_ahead(con, athlete, since, now, limits)[0]


def history_and_ahead(
    con: duckdb.DuckDBPyConnection, athlete: RosterAthlete, since: date, now: datetime, limits: Limits
) -> tuple[History, datetime | None]:
    """The same, and the first moment at which a session begins, or a hold was given, that lies ahead of `now`."""
    start, end = window(athlete, since, now, limits)
    first, last = start.date(), athlete.athlete.local_date(end)
    seen = [intake.last_arrival(con, athlete.id), body.last_fact_at(con, athlete.id, now)]
    if intake.read_after(con, athlete.id, now):
        seen.append(now)  # files came, though by a clock that was set back since: that is no silence
    sessions, holds = recordings.sessions(con, athlete.id, start, end), findings.holds(con, athlete.id)
    ahead = [
        moment for moment in (*(session.start for session in sessions), *(hold.at for hold in holds)) if moment > now
    ]
    facts = History(
        athlete=athlete.athlete,
        sessions=tuple(session for session in sessions if session.start <= now),
        nights=tuple(body.nights(con, athlete.id, first, last)),
        mornings=tuple(body.mornings(con, athlete.id, first, last)),
        checkins=tuple(body.checkins(con, athlete.id, first, last)),
        holds=tuple(hold for hold in holds if hold.at <= now),
        last_file_at=max((moment for moment in seen if moment is not None and moment <= now), default=None),
        watched_since=min(watched_since(con, athlete.id) or now, now),
    )
    return facts, min(ahead, default=None)


def note_first_look(con: duckdb.DuckDBPyConnection, athlete: str, now: datetime) -> None:
    """From now on the athlete can be silent; the journal keeps it for the next store."""
    decisions.first_time(con, f"watched:{athlete}", watched_since(con, athlete) or now, owed=True)


def watched_since(con: duckdb.DuckDBPyConnection, athlete: str) -> datetime | None:
    """When the folder was first looked at; None where it never was."""
    return decisions.noted_at(con, f"watched:{athlete}") or intake.first_read(con, athlete)


def rules_version() -> str:
    """Names the rules: other code or other words of findings ask for judging the stored history again."""
    made_by = (fingerprints.JUDGEMENT, fingerprints.VERDICT, fingerprints.TRACES)
    return f"{fingerprints.code_of(*made_by)}-{fingerprints.words_of_rules()}"


Tracks = Mapping[str, Recording]
"""Version of a session -> the recording just read that it was made from, with its cleaned samples."""
NEVER = "never"
"""In the place of when an athlete is judged again: the clock alone changes nothing."""
NO_TRACKS: Tracks = MappingProxyType({})
JudgeOne = Callable[[Session, SampleContext], tuple[Breach, ...]]


@dataclass(frozen=True, slots=True)
class Remeasured:
    """Sessions as they are under other limits than those of the store, and their samples by key."""

    sessions: tuple[Session, ...]
    samples: Callable[[str], Samples]


@dataclass(frozen=True, slots=True)
class View:
    """A judgement with the facts it was made from."""

    athlete: RosterAthlete
    history: History
    judgement: Judgement
    judged_from: date | None
    ahead: datetime | None = None  # when the first of the facts begins to count that lie ahead


def view(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    athlete: RosterAthlete,
    now: datetime,
    limits: Limits,
    *,
    touched: date | None = None,
    keep: bool = False,
    measured: Remeasured | None = None,
    tracks: Tracks = NO_TRACKS,
) -> View:
    """Judge without changing findings. `touched` widens it to past seasons; `keep` stores verdicts on samples.

    `measured` stands in the place of the sessions of the store.
    """
    day = touched or athlete.athlete.local_date(now)
    since = judged_from(athlete, day, limits)
    facts, ahead = history_and_ahead(con, athlete, since or athlete.athlete.local_date(now), now, limits)
    cleaned: dict[str, Track] = {}
    judge_one = by_samples(con, athlete.id, limits, keep=keep, tracks=tracks, cleaned=cleaned)
    if measured is not None:
        first, last = window(athlete, since or athlete.athlete.local_date(now), now, limits)
        inside = tuple(session for session in measured.sessions if first <= session.start <= min(last, now))
        facts = replace(facts, sessions=inside)
        judge_one = by_samples(con, athlete.id, limits, keep=False, samples=measured.samples)
    judged = judge(facts, now, limits, roster.alerts.silent_after_hours, judge_one)
    if keep and cleaned:
        _keep_traces(con, athlete, facts, judged, cleaned, limits)
    return View(athlete, facts, judged, since, ahead)


def by_samples(
    con: duckdb.DuckDBPyConnection,
    athlete_id: str,
    limits: Limits,
    *,
    keep: bool,
    samples: Callable[[str], Samples] | None = None,
    tracks: Tracks = NO_TRACKS,
    cleaned: dict[str, Track] | None = None,
) -> JudgeOne:
    """Verdict on one session by its samples, remembered for the very same session, context and limits.

    Samples that had to be cleaned for it are put into `cleaned` by the key of their session, `MOST_TRACKS` at most.
    """
    remembered = findings.verdicts(con, athlete_id)

    def judge_one(session: Session, context: SampleContext) -> tuple[Breach, ...]:
        beside = repr((session.lap_marks_s, session.barometer))
        made_from = (
            session.version,
            encoding.to_text(session.digest),
            encoding.to_text(context),
            beside,
            limits.fingerprint,
        )
        text = "\x1f".join((fingerprints.code_of(fingerprints.VERDICT, fingerprints.TRACES), *made_from))
        name = hashlib.sha256(text.encode()).hexdigest()[:24]
        known = remembered.get((session.key, name))
        if known is not None:
            return findings.breaches_of(known)
        from rules import session_rules  # noqa: PLC0415 - most commands do without

        track = _cleaned(session, context, tracks)
        if track is None:
            recorded = samples(session.key) if samples else recordings.samples_of(con, athlete_id, session.key)
            track = session_rules.cleaned(session, recorded, limits, context.highest_bpm)
        breaches = session_rules.judge_track(session, track, context, limits)
        if cleaned is not None and len(cleaned) < MOST_TRACKS:
            cleaned[session.key] = track
        if keep:
            findings.keep_verdict(con, athlete_id, session.key, name, breaches)
        return breaches

    return judge_one


def _cleaned(session: Session, context: SampleContext, tracks: Tracks) -> Track | None:
    """The samples as they were cleaned for the digest, where cleaning them for the verdict would give the same."""
    read = tracks.get(session.version)
    if read is None or read.track is None or not read.track.is_of_a_heart_up_to(context.highest_bpm):
        return None
    cleaned = (read.sport, read.sub_sport, read.elapsed_s, read.pauses, read.barometer)
    wanted = (session.sport, session.sub_sport, session.elapsed_s, session.pauses, session.barometer)
    return read.track if cleaned == wanted else None


# What the pictures of a session with findings are drawn from, kept while its cleaned samples are at hand.

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


def _keep_traces(
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


def due_at(made: View, standing: Iterable[Finding], now: datetime, limits: Limits) -> datetime | None:
    """The moment (UTC) before which the clock alone changes nothing of a judgement; None where it never does.

    A day begins (gates, stages), a race ends, a silence is long enough, or something comes that lay ahead.
    """
    zone, after = made.athlete.athlete.zone, timedelta(days=limits.history.days_after_race + 1)
    finishes = [race.finish.astimezone(UTC) for race in made.athlete.athlete.races]
    moments = [finish for finish in finishes if finish > now]
    if any(finish <= now <= finish + after for finish in finishes):
        tomorrow = made.athlete.athlete.local_date(now) + timedelta(days=1)
        moments.append(datetime.combine(tomorrow, time.min, zone).astimezone(UTC))
    moments += [moment for moment in (made.ahead, made.judgement.silence_changes_at) if moment is not None]
    moments += [_judged_after(finding) for finding in standing if not _is_judged(finding, now)]
    return min(moments, default=None)


def rejudge(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    athlete: RosterAthlete,
    now: datetime,
    limits: Limits,
    tracks: Tracks = NO_TRACKS,
) -> tuple[Difference, View]:
    """Judge what asks for it inside the caller's transaction and make the store stand so.

    While some of the digests are of other code or limits than the rest, past seasons keep their findings.
    """
    note_first_look(con, athlete.id, now)
    before = findings.judged_under(con, athlete.id)
    touched = findings.to_judge(con).get(athlete.id)
    mixed = athlete.id in recordings.digested_by_other_code(con, fingerprints.of_digests(limits))
    entry = "mixed" if mixed else under_entry(roster, athlete, limits)
    if not mixed and (before is None or before.split("/")[0] != entry):
        touched = date.min
    made = view(con, roster, athlete, now, limits, touched=touched, keep=True, tracks=tracks)
    since = made.judged_from or date.max
    judged = [finding for finding in made.judgement.findings if finding.date >= since]
    standing = findings.standing(con, athlete.id, since)
    if touched == date.min:
        standing = findings.standing(con, athlete.id)
    change = difference(athlete.id, [finding for finding in standing if _is_judged(finding, now)], judged)
    findings.apply(con, change, now)
    again = due_at(made, standing, now, limits)
    findings.note_judged(con, athlete.id, f"{entry}/{again.isoformat() if again else NEVER}", now)
    return change, made


def _is_judged(standing: Finding, now: datetime) -> bool:
    """What lies ahead was seen before the clock was set back; it stands as it is until its time comes again."""
    return _judged_after(standing) <= now


def _judged_after(standing: Finding) -> datetime:
    return standing.subject_start - (timedelta() if standing.session_start is not None else AHEAD)


def under_entry(roster: Roster, athlete: RosterAthlete, limits: Limits) -> str:
    """The part of the fingerprint that asks for judging all seasons again."""
    parts = (
        rules_version(),
        encoding.to_text(athlete.athlete),
        str(roster.alerts.silent_after_hours),
        limits.fingerprint,
    )
    return hashlib.sha256("\x1f".join(parts).encode()).hexdigest()[:24]


def due(
    con: duckdb.DuckDBPyConnection, roster: Roster, now: datetime, limits: Limits
) -> tuple[list[RosterAthlete], datetime | None]:
    """Athletes with facts not yet judged, judged under another roster entry or other limits, or whose time has come;
    and when the first of the others' comes.

    Those whose digests are being made anew wait until that is done: half a history of other numbers misleads.
    """
    unjudged, judged = findings.to_judge(con), findings.all_judged(con)
    mixed = recordings.digested_by_other_code(con, fingerprints.of_digests(limits))
    found, later = [], []
    for athlete in roster.athletes:
        if athlete.id in mixed:
            continue
        under, at = judged.get(athlete.id, ("", now))
        again = _again_at(under, under_entry(roster, athlete, limits))
        if athlete.id in unjudged or at > now or (again is not None and again <= now):  # `at`: the clock was set back
            found.append(athlete)
        elif again is not None:
            later.append(again)
    return found, min(later, default=None)


def _again_at(under: str, entry: str) -> datetime | None:
    """When a judgement ends to hold, None for never; long ago for one under another entry, or of an older program."""
    before, _, again = under.partition("/")
    if before != entry:
        return datetime.min.replace(tzinfo=UTC)
    try:
        return None if again == NEVER else datetime.fromisoformat(again)
    except ValueError:
        return datetime.min.replace(tzinfo=UTC)
