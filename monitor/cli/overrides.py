"""`fallow hold` and `fallow release`: the coach's word, which stands above the program's."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from monitor.cli import opening, screen
from monitor.cli.findings import login_name
from monitor.cli.options import AthleteArgument, HomeOption, JsonOption
from monitor.cli.plans import plan_of

if TYPE_CHECKING:
    from monitor.home import Home
    from monitor.roster import RosterAthlete
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
    json: JsonOption = False,
    home: HomeOption = None,
) -> None:
    """Hold an athlete's stage; all later days move.

    Example: fallow hold runa --days 3 --why "calf tight after the stairs"
    """
    from monitor import overriding  # noqa: PLC0415 - brings duckdb

    where, one, day, now = _opened(athlete, on, home)
    made = overriding.hold(where, one.id, day, days, why, by or login_name(), now)
    _told(where, one, made, json=json)


def release(
    athlete: AthleteArgument,
    why: Annotated[str, typer.Option(metavar="TEXT", help="The reason, kept in the history.")] = "",
    by: ByOption = None,
    on: OnOption = None,
    json: JsonOption = False,
    home: HomeOption = None,
) -> None:
    """Let an athlete's plan go on.

    Holds end, and what check-ins and mornings have shut up to today is open.

    Example: fallow release runa --why "seen by the physiotherapist"
    """
    from monitor import overriding  # noqa: PLC0415 - brings duckdb

    where, one, day, now = _opened(athlete, on, home)
    made = overriding.release(where, one.id, day, why, by or login_name(), now)
    _told(where, one, made, json=json)


def _opened(athlete: str, on: str | None, home: Path | None) -> tuple[Home, RosterAthlete, date, datetime]:
    where = opening.home_of(home)
    one = opening.athlete_of(opening.roster_of(where), athlete)
    now = datetime.now(UTC)
    return where, one, opening.day_of("--on", on) if on else one.athlete.local_date(now), now


def _told(home: Home, athlete: RosterAthlete, made: Hold, *, json: bool) -> None:
    """Judge again and say what became of the plan."""
    from monitor.cli.plans import STAGE_TITLES  # noqa: PLC0415 - only after the work

    shown = plan_of(home, opening.roster_of(home), athlete, made.at)
    if json:
        screen.as_json(shown)
        return
    days = f" for {made.days} days" if made.days else ""
    word = f"held{days}" if made.kind == "hold" else "released"
    screen.say(f"{athlete.athlete.name} is {word} from {made.on}, by {made.by}; kept in the history.")
    if shown["race"] is None or shown["today"]["stage"] in ("before", "done"):
        screen.say("No plan is active, so nothing moves.")
        return
    now_in = next(stage for stage in shown["stages"] if stage["stage"] == shown["today"]["stage"])
    until = f"at least to {now_in['last_date']}; the plan ends on {shown['race']['last_date']}"
    screen.say(f"Today: {STAGE_TITLES[now_in['stage']]}, {until}.")
