"""`fallow hold` and `fallow release`: the coach's word, which stands above the program's."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from monitor import words
from monitor.cli import context, passes, screen
from monitor.cli.context import AsOfOption, AthleteArgument, HomeOption, JsonOption
from monitor.cli.findings import login_name
from monitor.cli.plans import plan_of
from rules.numbers import counted

if TYPE_CHECKING:
    from monitor.home import Home
    from monitor.roster import Roster, RosterAthlete
    from rules.facts import Hold

ByOption = Annotated[str | None, typer.Option("--by", metavar="NAME", help="Who decides; else your login name.")]
OnOption = Annotated[str | None, typer.Option("--on", metavar="DATE", help="From this day; else today.")]


def register(app: typer.Typer) -> None:
    app.command()(hold)
    app.command()(release)


def hold(
    athlete: AthleteArgument,
    days: Annotated[int | None, typer.Option(metavar="DAYS", help="For so long; else until released.")] = None,
    why: Annotated[str, typer.Option(metavar="TEXT", help="The reason, kept in the history.")] = "",
    by: ByOption = None,
    on: OnOption = None,
    as_of: AsOfOption = None,
    json: JsonOption = False,
    home: HomeOption = None,
) -> None:
    """Hold an athlete's stage; all later days move.

    Example: fallow hold runa --days 3 --why "calf tight after the stairs"
    """
    from monitor import overriding

    it = _opened(athlete, on, as_of, home)
    made = overriding.hold(it.home, it.roster, it.athlete.id, it.day, days, why, by or login_name(), it.now)
    passes.refresh_board(it.home, it.roster, it.now, there=True)
    _told(it, made, json=json)


def release(
    athlete: AthleteArgument,
    why: Annotated[str, typer.Option(metavar="TEXT", help="The reason, kept in the history.")] = "",
    by: ByOption = None,
    on: OnOption = None,
    as_of: AsOfOption = None,
    json: JsonOption = False,
    home: HomeOption = None,
) -> None:
    """Let an athlete's plan go on.

    Holds end, and what check-ins and mornings have shut up to this minute is open, signs for a doctor too. What
    they tell later holds again.

    Example: fallow release runa --why "seen by the physiotherapist"
    """
    from monitor import overriding

    it = _opened(athlete, on, as_of, home)
    made = overriding.release(it.home, it.roster, it.athlete.id, it.day, why, by or login_name(), it.now)
    passes.refresh_board(it.home, it.roster, it.now, there=True)
    _told(it, made, json=json)


@dataclass(frozen=True, slots=True)
class _Opened:
    home: Home
    roster: Roster
    athlete: RosterAthlete
    day: date
    now: datetime


def _opened(athlete: str, on: str | None, as_of: str | None, home: Path | None) -> _Opened:
    where = context.home_of(home)
    roster = context.roster_of(where)
    one = context.athlete_of(roster, athlete)
    now = context.clock_of(as_of, one.athlete.zone).now()
    return _Opened(where, roster, one, context.day_of("--on", on) if on else one.athlete.local_date(now), now)


def _told(it: _Opened, made: Hold, *, json: bool) -> None:
    """Say what became of the plan."""

    shown = plan_of(it.home, it.roster, it.athlete, it.now)
    if json:
        screen.as_json(shown)
        return
    days = f" for {counted(made.days, 'day')}" if made.days else ""
    word = f"held{days}" if made.kind == "hold" else "released"
    screen.say(words.commands.IS_FROM.format(name=it.athlete.athlete.name, word=word, on=made.on, by=made.by))
    if shown["race"] is None or shown["today"]["stage"] in ("before", "done"):
        screen.say(words.commands.NO_PLAN_IS_ACTIVE)
        return
    now_in = next(stage for stage in shown["stages"] if stage["stage"] == shown["today"]["stage"])
    until = words.commands.HELD_AT_LEAST_TO.format(last_date=now_in["last_date"], plan_ends=shown["race"]["last_date"])
    screen.say(f"Today: {words.shared.stage_words(now_in['stage'])}, {until}.")
