"""What the board is made from: everything the store knows of the athletes, read in a few queries."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import duckdb

from monitor import words
from monitor.judging import View, facts_of, history_of, judged_from
from monitor.roster import Roster, RosterAthlete
from monitor.store import findings, intake
from monitor.store.database import Store
from monitor.store.seasons import Season, Window, seasons
from monitor.views.status import unsent_view
from monitor.views.triage import FindingAnswers
from rules.facts import Athlete, History
from rules.findings import Finding
from rules.history import Ordered, in_order
from rules.judge import judgement_of_findings
from rules.limits import Limits
from rules.plan import plan_length
from rules.race_file import hard_long_runs

AT_ONCE = 100
"""Athletes read on one connection; between two connections other processes can write."""
DAY = timedelta(days=1)
LATEST = 50
"""Sessions by start among whose last ones the one that ended last is looked for."""


def at_once() -> None:
    """Nothing has priority over the board."""


@dataclass(frozen=True, slots=True)
class BoardContext:
    """What is known beside the athletes' facts: who has seen what, files that could not be read, messages."""

    answers: FindingAnswers = field(default_factory=FindingAnswers)
    worse_at: dict[str, datetime] = field(default_factory=dict)
    unreadable: dict[str, list[tuple[str, str]]] = field(default_factory=dict)  # athlete -> (path, reason)
    messages: list[dict[str, Any]] = field(default_factory=list)  # of those not sent

    @property
    def marks(self) -> Mapping[str, Sequence[dict[str, Any]]]:
        return self.answers.marks


@dataclass(frozen=True, slots=True)
class KnownAthlete:
    """One athlete as the store knows them, with the plan as it stands and the findings that do, newest first."""

    made: View
    facts: Ordered
    standing: tuple[Finding, ...]
    asked_about: View | None = None  # with a longer history, where a run of late may have been a race

    @property
    def athlete(self) -> RosterAthlete:
        return self.made.athlete


def board_context(
    con: duckdb.DuckDBPyConnection, roster: Roster, athletes: Sequence[RosterAthlete] | None = None
) -> BoardContext:
    """All that lies beside the facts: of some athletes, where those are drawn, files and when findings were made."""
    drawn = [person.id for person in (roster.athletes if athletes is None else athletes)]
    unreadable: dict[str, list[tuple[str, str]]] = {}
    for athlete, path, reason in intake.unreadable(con, drawn):
        unreadable.setdefault(athlete, []).append((path, words.of_stored(reason)))
    answers = FindingAnswers(findings.marks(con), findings.made_at(con, drawn))
    return BoardContext(answers, findings.worse_at(con), unreadable, unsent_view(con, roster))


def gather(
    store: Store,
    roster: Roster,
    now: datetime,
    limits: Limits,
    give: Callable[[], None] = at_once,
    drawn: Sequence[RosterAthlete] | None = None,
) -> tuple[BoardContext, list[KnownAthlete]]:
    """All beside the facts, and those to be drawn or the whole roster, each judged as the findings that stand say."""
    wanted = roster.athletes if drawn is None else drawn
    with store.reading() as con:
        around = board_context(con, roster, wanted)
    athletes: list[KnownAthlete] = []
    for begin in range(0, len(wanted), AT_ONCE):
        some = wanted[begin : begin + AT_ONCE]
        give()
        with store.reading() as con:
            found = read(con, some, now, limits)
        for athlete in some:
            give()
            athletes.append(known(athlete, found[athlete.id], now, limits))
    return around, _asked_about(store, athletes, now, limits)


def _asked_about(store: Store, athletes: list[KnownAthlete], now: datetime, limits: Limits) -> list[KnownAthlete]:
    """The athletes, with a longer history for those whose last run may have been a race: that question needs it."""
    asked = {
        athlete.athlete.id
        for athlete in athletes
        if hard_long_runs(athlete.made.history.sessions, athlete.athlete.athlete, now, limits)
    }
    if not asked:
        return athletes
    with store.reading() as con:
        return [
            _with_longer(con, athlete, now, limits) if athlete.athlete.id in asked else athlete for athlete in athletes
        ]


def _with_longer(con: duckdb.DuckDBPyConnection, one: KnownAthlete, now: datetime, limits: Limits) -> KnownAthlete:
    day = one.athlete.athlete.local_date(now)
    since = judged_from(one.athlete, day, limits) or day
    history = history_of(one.athlete, facts_of(con, [(one.athlete, since)], now, limits)[one.athlete.id], now)
    return replace(one, asked_about=replace(one.made, history=history))


def read(
    con: duckdb.DuckDBPyConnection,
    athletes: Sequence[RosterAthlete],
    now: datetime,
    limits: Limits,
    touched: date | None = None,
) -> dict[str, Season]:
    """Facts by athlete, as far back as the plans that bear on today (or on `touched`) ask for."""
    windows = []
    for athlete in athletes:
        day = touched or athlete.athlete.local_date(now)
        since = judged_from(athlete, day, limits) or day
        first = since - timedelta(days=days_before(athlete.athlete, limits))
        start = datetime.combine(first, time.min, athlete.athlete.zone)
        windows.append(Window(athlete.id, start, start.date(), athlete.athlete.local_date(now + DAY)))
    return seasons(con, windows, now)


def days_before(athlete: Athlete, limits: Limits) -> float:
    """Days before a race that matter: the baselines, and the usual week before the taper.

    What lies further back only tells the threshold speed of an athlete whose roster does not.
    """
    if athlete.threshold_pace_s_per_km is None:
        return limits.history.days_before_race
    tapers = [plan_length(race, limits).base_days for race in athlete.races]
    usual = max(tapers, default=0) + 7 * limits.on_ramp.baseline_weeks
    return max(usual, limits.body.baseline_days) + 1


def known(athlete: RosterAthlete, season: Season, now: datetime, limits: Limits) -> KnownAthlete:
    history = History(
        athlete=athlete.athlete,
        sessions=tuple(season.sessions),
        nights=tuple(season.nights),
        mornings=tuple(season.mornings),
        checkins=tuple(season.checkins),
        holds=tuple(hold for hold in season.holds if hold.at <= now),
        last_file_at=_last_file_at(season, now),
    )
    standing = tuple(finding for finding in season.standing if finding.subject_start <= now + DAY)
    facts = in_order(history, limits)
    return KnownAthlete(
        View(athlete, history, judgement_of_findings(facts, now, limits, standing), None), facts, standing
    )


def _last_file_at(season: Season, now: datetime) -> datetime | None:
    """The latest moment, not after `now`, that any fact tells of (a day counts as its noon, UTC)."""
    dated = [facts[-1].date for facts in (season.nights, season.mornings, season.checkins) if facts]
    moments = [session.end for session in season.sessions[-LATEST:] if session.end <= now]
    if dated:
        moments.append(min(datetime.combine(max(dated), time(12), UTC), now))
    if season.last_arrival is not None and season.last_arrival <= now:
        moments.append(season.last_arrival)
    return max(moments, default=None)
