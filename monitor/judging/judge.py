"""Judge one athlete from the store: load, decide, compare with what stands."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import duckdb

from monitor.judging.difference import Difference, difference
from monitor.judging.history import AHEAD, judged_from, load_history
from monitor.roster import Roster, RosterAthlete
from monitor.store import codec, findings, history, recordings
from rules.facts import History, SampleContext, Session
from rules.findings import Breach
from rules.judge import Judgement, judge
from rules.limits import Limits

RULES_VERSION = "1"  # raised when the rules change in a way that asks for judging the stored history again

JudgeOne = Callable[[Session, SampleContext], tuple[Breach, ...]]


@dataclass(frozen=True, slots=True)
class View:
    """A judgement with the facts it was made from."""

    athlete: RosterAthlete
    history: History
    judgement: Judgement
    judged_from: date | None


def view(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    athlete: RosterAthlete,
    now: datetime,
    limits: Limits,
    *,
    touched: date | None = None,
    keep: bool = False,
) -> View:
    """Judge without changing findings. `touched` widens it to past seasons; `keep` stores verdicts on samples."""
    day = touched or athlete.athlete.local_date(now)
    since = judged_from(athlete, day, limits)
    facts = load_history(con, athlete, since or athlete.athlete.local_date(now), now, limits)
    judged = judge(facts, now, limits, roster.alerts.silent_after_hours, by_samples(con, athlete.id, limits, keep=keep))
    return View(athlete, facts, judged, since)


def by_samples(con: duckdb.DuckDBPyConnection, athlete_id: str, limits: Limits, *, keep: bool) -> JudgeOne:
    """Verdict on one session by its samples, remembered for the very same session, context and limits."""
    remembered = findings.verdicts(con, athlete_id)

    def judge_one(session: Session, context: SampleContext) -> tuple[Breach, ...]:
        text = "\x1f".join((RULES_VERSION, session.version, codec.to_text(context), limits.fingerprint))
        name = hashlib.sha256(text.encode()).hexdigest()[:24]
        known = remembered.get((session.key, name))
        if known is not None:
            return findings.breaches_of(known)
        from rules.session.verdict import judge_samples  # noqa: PLC0415 - brings polars, which most commands do without

        samples = recordings.samples_of(con, athlete_id, session.key)
        breaches = judge_samples(session, samples, context, limits)
        if keep:
            findings.keep_verdict(con, athlete_id, session.key, name, breaches)
        return breaches

    return judge_one


def fingerprint(roster: Roster, athlete: RosterAthlete, now: datetime, limits: Limits) -> str:
    """Under what a judgement holds: roster entry, limits, rules, and in an active plan the hour (silence, gates)."""
    races = athlete.athlete.races
    after = timedelta(days=limits.number("history.days_after_race"))
    active = any(race.finish <= now <= race.finish + after for race in races)
    hour = now.astimezone(athlete.athlete.zone).strftime("%Y-%m-%dT%H") if active else ""
    entry = codec.to_text(athlete.athlete)
    parts = (RULES_VERSION, entry, str(roster.alerts.silent_after_hours), limits.fingerprint, hour)
    return hashlib.sha256("\x1f".join(parts).encode()).hexdigest()[:24]


def rejudge(
    con: duckdb.DuckDBPyConnection, roster: Roster, athlete: RosterAthlete, now: datetime, limits: Limits
) -> tuple[Difference, View]:
    """Judge what asks for it inside the caller's transaction and make the store stand so."""
    before = history.judged_under(con, athlete.id)
    under = fingerprint(roster, athlete, now, limits)
    touched = history.to_judge(con).get(athlete.id)
    if before is None or before.split("/")[0] != under_entry(roster, athlete, limits):
        touched = date.min
    made = view(con, roster, athlete, now, limits, touched=touched, keep=True)
    since = made.judged_from or date.max
    judged = [finding for finding in made.judgement.findings if finding.date >= since]
    standing = findings.standing(con, athlete.id, since)
    if touched == date.min:
        standing = findings.standing(con, athlete.id)
    change = difference(athlete.id, [one for one in standing if one.subject_start <= now + AHEAD], judged)
    findings.apply(con, change, now)
    history.note_judged(con, athlete.id, f"{under_entry(roster, athlete, limits)}/{under}", now)
    return change, made


def under_entry(roster: Roster, athlete: RosterAthlete, limits: Limits) -> str:
    """The part of the fingerprint that asks for judging all seasons again."""
    parts = (RULES_VERSION, codec.to_text(athlete.athlete), str(roster.alerts.silent_after_hours), limits.fingerprint)
    return hashlib.sha256("\x1f".join(parts).encode()).hexdigest()[:24]


def due(con: duckdb.DuckDBPyConnection, roster: Roster, now: datetime, limits: Limits) -> list[RosterAthlete]:
    """Athletes with facts not yet judged, or judged under another roster entry, other limits or another hour."""
    unjudged, judged = history.to_judge(con), history.all_judged_under(con)
    found = []
    for athlete in roster.athletes:
        under = f"{under_entry(roster, athlete, limits)}/{fingerprint(roster, athlete, now, limits)}"
        if athlete.id in unjudged or judged.get(athlete.id) != under:
            found.append(athlete)
    return found
