"""What `fallow seen` can mark: a finding, or the question whether a run was a race."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING

from monitor.cli import opening
from monitor.errors import WrongUse

if TYPE_CHECKING:
    import duckdb

    from monitor.home import Home
    from monitor.roster import Roster, RosterAthlete


def to_mark(where: Home, roster: Roster, start_of_id: str, now: datetime) -> tuple[str, str]:
    """The whole id and what it is in words, of the one thing whose id begins so."""
    with opening.reading(where) as con:
        try:
            found, _ = opening.finding_of(con, start_of_id)
        except WrongUse:
            asked = _question(con, roster, start_of_id.strip(), now)
            if asked is None:
                raise
            return asked
    return found.id, f"{found.rule}, {found.date}"


def open_of(where: Home, athlete: RosterAthlete, until: date | None) -> list[tuple[str, str]]:
    """The findings of an athlete that stand and that nobody has seen, up to a day: whole ids, and what each is."""
    from monitor.store import findings

    with opening.reading(where) as con:
        marks = findings.marks(con)
        standing = findings.standing(con, athlete.id)
    return [
        (one.id, f"{one.rule}, {one.date}")
        for one in standing
        if one.id not in marks and (until is None or one.date <= until)
    ]


def _question(
    con: duckdb.DuckDBPyConnection, roster: Roster, start_of_id: str, now: datetime
) -> tuple[str, str] | None:
    """The one open question whose id begins so."""
    from monitor.judging.judge import view
    from monitor.views.questions import looks_like_races
    from rules.limits import default_limits

    limits = default_limits()
    made = [view(con, roster, athlete, now, limits) for athlete in roster.athletes]
    asked = [one for each in made for one in looks_like_races(each, (), now, limits)]
    found = [one for one in asked if start_of_id and one["id"].startswith(start_of_id)]
    return (found[0]["id"], f"no race, {found[0]['session_start'][:10]}") if len(found) == 1 else None
