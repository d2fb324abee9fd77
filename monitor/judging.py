"""Judge one athlete from the store: load, decide, compare with what stands."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from types import MappingProxyType
from typing import TYPE_CHECKING

import duckdb

from monitor import fingerprints
from monitor.drawing import MOST_TRACKS, keep_traces
from monitor.roster import Roster, RosterAthlete
from monitor.store import decisions, encoding, findings, recordings
from monitor.store.intake import WATCHED
from monitor.store.seasons import Season, Window, seasons
from monitor.values import Difference, Recording, difference
from rules.facts import History, SampleContext, Session
from rules.findings import Breach, Finding
from rules.history import in_order
from rules.judge import Judgement, judge, judgement_of_findings
from rules.limits import Limits

if TYPE_CHECKING:
    from rules.session.timeline import Samples
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


def facts_of(
    con: duckdb.DuckDBPyConnection, wanted: Sequence[tuple[RosterAthlete, date]], now: datetime, limits: Limits
) -> dict[str, Season]:
    """Facts by athlete, from some months before a day up to a day past `now`, of all of them in a few queries."""
    windows = []
    for athlete, since in wanted:
        start, end = window(athlete, since, now, limits)
        windows.append(Window(athlete.id, start, start.date(), athlete.athlete.local_date(end)))
    return seasons(con, windows, now)


def history_of(athlete: RosterAthlete, season: Season, now: datetime) -> History:
    """The facts as the rules want them: sessions that have begun, holds that were given."""
    seen = [season.last_arrival, season.last_fact_at]
    if season.clock_set_back:
        seen.append(now)  # files came, though by a clock that was set back since: that is no silence
    return History(
        athlete=athlete.athlete,
        sessions=tuple(session for session in season.sessions if session.start <= now),
        nights=tuple(season.nights),
        mornings=tuple(season.mornings),
        checkins=tuple(season.checkins),
        holds=tuple(hold for hold in season.holds if hold.at <= now),
        last_file_at=max((moment for moment in seen if moment is not None and moment <= now), default=None),
        watched_since=min(season.watched_since or now, now),
    )


def note_first_look(con: duckdb.DuckDBPyConnection, athlete: str, season: Season, now: datetime) -> None:
    """From now on the athlete can be silent; the journal keeps it for the next store."""
    if not season.watch_is_noted:
        decisions.first_time(con, f"{WATCHED}:{athlete}", season.watched_since or now, owed=True)


def rules_version() -> str:
    """Names the rules: other code, or other words to read check-ins by, ask for judging the stored history again."""
    made_by = (fingerprints.JUDGEMENT, fingerprints.VERDICT, fingerprints.TRACES)
    return f"{fingerprints.code_of(*made_by)}-{fingerprints.words_of_rules()}"


Tracks = Mapping[str, Recording]
"""Version of a session -> the recording just read that it was made from, with its cleaned samples."""
NEVER = "never"
"""In the place of when an athlete is judged again: the clock alone changes nothing."""
READ_AT_ONCE = 100
"""Athletes whose facts are in memory at a time."""
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
    standing: tuple[Finding, ...] = ()  # newest first, of all seasons


def view(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    athlete: RosterAthlete,
    now: datetime,
    limits: Limits,
    *,
    touched: date | None = None,
    measured: Remeasured | None = None,
) -> View:
    """Judge one athlete without changing anything. `touched` widens it to past seasons.

    `measured` stands in the place of the sessions of the store.
    """
    wanted = _wanted(athlete, touched, now, limits)
    season = facts_of(con, [(athlete, wanted[1])], now, limits)[athlete.id]
    if measured is not None:
        first, _ = window(athlete, wanted[1], now, limits)
        season.sessions = [session for session in measured.sessions if first <= session.start <= now]
    remembered = findings.verdicts(con, [athlete.id])[athlete.id]
    judge_one = by_samples(con, athlete.id, limits, remembered, samples=measured.samples if measured else None)
    return _judged(roster, athlete, wanted[0], season, now, limits, judge_one)


def views(
    con: duckdb.DuckDBPyConnection, roster: Roster, athletes: Sequence[RosterAthlete], now: datetime, limits: Limits
) -> Iterator[View]:
    """The same of many: by the findings that stand, and judged only where these are not of now."""
    known = _holding(con, roster, now, limits)
    wanted = {athlete.id: _wanted(athlete, None, now, limits) for athlete in athletes}
    for begin in range(0, len(athletes), READ_AT_ONCE):
        some = [athlete for athlete in athletes[begin : begin + READ_AT_ONCE] if athlete.id in known]
        found = facts_of(con, [(athlete, wanted[athlete.id][1]) for athlete in some], now, limits)
        for athlete in athletes[begin : begin + READ_AT_ONCE]:
            if athlete.id not in found:
                yield view(con, roster, athlete, now, limits)
                continue
            season, since = found[athlete.id], wanted[athlete.id][0]
            history = history_of(athlete, season, now)
            of_plans = [finding for finding in season.standing if since and finding.date >= since]
            judgement = judgement_of_findings(in_order(history, limits), now, limits, of_plans)
            yield View(athlete, history, judgement, since, tuple(season.standing))


def _wanted(athlete: RosterAthlete, touched: date | None, now: datetime, limits: Limits) -> tuple[date | None, date]:
    """From which day on is judged, None where no plan is, and from which day on facts are wanted."""
    today = athlete.athlete.local_date(now)
    since = judged_from(athlete, touched or today, limits)
    return since, since or today


def _judged(
    roster: Roster, athlete: RosterAthlete, since: date | None, season: Season, now: datetime, limits: Limits,
    judge_one: JudgeOne,
) -> View:  # fmt: skip
    history = history_of(athlete, season, now)
    judgement = judge(history, now, limits, roster.alerts.silent_after_hours, judge_one)
    return View(athlete, history, judgement, since, tuple(season.standing))


def by_samples(
    con: duckdb.DuckDBPyConnection,
    athlete_id: str,
    limits: Limits,
    remembered: findings.Verdicts,
    *,
    keep: bool = False,
    samples: Callable[[str], Samples] | None = None,
    tracks: Tracks = NO_TRACKS,
    cleaned: dict[str, Track] | None = None,
) -> JudgeOne:
    """Verdict on one session by its samples, remembered for the very same session, context and limits.

    Samples that had to be cleaned for it are put into `cleaned` by the key of their session, `MOST_TRACKS` at most.
    """

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


def due_at(made: View, season: Season, now: datetime, limits: Limits) -> datetime | None:
    """The moment (UTC) before which the clock alone changes nothing of a judgement; None where it never does.

    A day begins (gates, stages), a race ends, a silence is long enough, or something comes that lay ahead.
    """
    zone, after = made.athlete.athlete.zone, timedelta(days=limits.history.days_after_race + 1)
    finishes = [race.finish.astimezone(UTC) for race in made.athlete.athlete.races]
    moments = [finish for finish in finishes if finish > now]
    if any(finish <= now <= finish + after for finish in finishes):
        tomorrow = made.athlete.athlete.local_date(now) + timedelta(days=1)
        moments.append(datetime.combine(tomorrow, time.min, zone).astimezone(UTC))
    if made.judgement.silence_changes_at is not None:
        moments.append(made.judgement.silence_changes_at)
    ahead = [*(session.start for session in season.sessions), *(hold.at for hold in season.holds)]
    moments += [moment for moment in ahead if moment > now]
    moments += [_judged_after(finding) for finding in season.standing if not _is_judged(finding, now)]
    return min(moments, default=None)


def rejudge(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    athletes: Sequence[RosterAthlete],
    now: datetime,
    limits: Limits,
    tracks: Tracks = NO_TRACKS,
) -> Iterator[tuple[Difference, View]]:
    """Judge what asks for it inside the caller's transaction and make the store stand so, one athlete after another.

    While some of the digests are of other code or limits than the rest, past seasons keep their findings.
    """
    ids = [athlete.id for athlete in athletes]
    unjudged, judged, remembered = findings.to_judge(con), findings.all_judged(con, ids), findings.verdicts(con, ids)
    mixed = recordings.digested_by_other_code(con, fingerprints.of_digests(limits), ids)
    entries = {
        athlete.id: "mixed" if athlete.id in mixed else under_entry(roster, athlete, limits) for athlete in athletes
    }
    touched = {
        of: unjudged.get(of) if entry in ("mixed", judged.get(of, ("", now))[0].split("/")[0]) else date.min
        for of, entry in entries.items()
    }
    wanted = {athlete.id: _wanted(athlete, touched[athlete.id], now, limits) for athlete in athletes}
    found = facts_of(con, [(athlete, wanted[athlete.id][1]) for athlete in athletes], now, limits)
    under = {}
    for athlete in athletes:
        season, since = found[athlete.id], wanted[athlete.id][0]
        note_first_look(con, athlete.id, season, now)
        cleaned: dict[str, Track] = {}
        known = remembered[athlete.id]
        judge_one = by_samples(con, athlete.id, limits, known, keep=True, tracks=tracks, cleaned=cleaned)
        made = _judged(roster, athlete, since, season, now, limits, judge_one)
        if cleaned:
            keep_traces(con, athlete, made.history, made.judgement, cleaned, limits)
        if touched[athlete.id] != date.min:
            season.standing = [finding for finding in season.standing if since and finding.date >= since]
        stands = [finding for finding in season.standing if _is_judged(finding, now)]
        new = [finding for finding in made.judgement.findings if since and finding.date >= since]
        change = difference(athlete.id, stands, new)
        findings.apply(con, change, now)
        again = due_at(made, season, now, limits)
        under[athlete.id] = f"{entries[athlete.id]}/{again.isoformat() if again else NEVER}"
        yield change, made
    findings.note_judged(con, under, now)


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
    holding = _holding(con, roster, now, limits)
    mixed = recordings.digested_by_other_code(con, fingerprints.of_digests(limits))
    found = [one for one in roster.athletes if one.id not in holding and one.id not in mixed]
    later = [again for one, again in holding.items() if again is not None and one not in mixed]
    return found, min(later, default=None)


def _holding(
    con: duckdb.DuckDBPyConnection, roster: Roster, now: datetime, limits: Limits
) -> dict[str, datetime | None]:
    """Those whose last judgement is that of now, and when it ends to be (None: never by the clock alone)."""
    unjudged, judged = findings.to_judge(con), findings.all_judged(con)
    found = {}
    for athlete in roster.athletes:
        under, at = judged.get(athlete.id, ("", now))
        again = _again_at(under, under_entry(roster, athlete, limits))
        if athlete.id not in unjudged and at <= now and (again is None or again > now):  # else the clock was set back
            found[athlete.id] = again
    return found


def _again_at(under: str, entry: str) -> datetime | None:
    """When a judgement ends to hold, None for never; long ago for one under another entry, or of an older program."""
    before, _, again = under.partition("/")
    if before != entry:
        return datetime.min.replace(tzinfo=UTC)
    try:
        return None if again == NEVER else datetime.fromisoformat(again)
    except ValueError:
        return datetime.min.replace(tzinfo=UTC)
