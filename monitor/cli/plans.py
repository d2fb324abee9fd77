"""`fallow plan`, `today`, `calendar`; and `hold` and `release`, the coach's word on a plan."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from monitor import words
from monitor.cli import context, passes, screen
from monitor.cli.context import AsOfOption, AthleteArgument, HomeOption, JsonOption, MaybeAthleteArgument, Opened
from monitor.cli.screen import Column
from monitor.errors import WrongUse
from rules.words import amounts

if TYPE_CHECKING:
    from monitor.home import Home
    from monitor.roster import Roster, RosterAthlete
    from rules.facts import Athlete, Hold, Race


RaceOption = Annotated[
    int | None,
    typer.Option("--race", metavar="N", help="The plan after the athlete's Nth race by finish; else the one of now."),
]


def plan(
    athlete: AthleteArgument,
    race: RaceOption = None,
    as_of: AsOfOption = None,
    json: JsonOption = False,
    home: HomeOption = None,
) -> None:
    """Show an athlete's stages, dates, limits, reasons.

    Every limit in bpm and minutes with its reason, which gates and holds moved the days, what the race file suggests.

    Example: fallow plan runa
    """
    it = context.opened(home, athlete, as_of)
    shown = plan_of(it.home, it.roster, it.athlete, it.now, race)
    if json:
        screen.as_json(shown)
    else:
        _print_plan(shown, it.athlete.athlete.name)


def plan_of(
    home: Home, roster: Roster, athlete: RosterAthlete, now: datetime, number: int | None = None
) -> dict[str, Any]:
    """The plan of one athlete in the shape of `plan --json`; `number` chooses one of several races."""
    from monitor.judging import view
    from monitor.views.plan import plan_view
    from rules.limits import default_limits

    race = _race(athlete.athlete, number) if number is not None else None
    since = race.finish.date() if race else None
    with context.reading(home) as con:
        made = view(con, roster, athlete, now, default_limits(), touched=since)
    return plan_view(made, now, default_limits(), race=race)


def _race(athlete: Athlete, number: int) -> Race:
    """The Nth race by finish."""
    from monitor.views.plan import in_turn

    races = in_turn(athlete)
    if not 1 <= number <= len(races):
        listed = ", ".join(f"{n} = {race.event} {race.finish.date()}" for n, race in enumerate(races, start=1))
        raise WrongUse(f"--race {number}: {athlete.id} has {listed or 'no race in the roster'}")
    return races[number - 1]


def show_plan(home: Home, roster: Roster, athlete: RosterAthlete, now: datetime) -> None:
    """Print the plan of one athlete at a glance, without the reasons of its limits."""
    shown = plan_of(home, roster, athlete, now)
    _print_head(shown, athlete.athlete.name)
    if shown["race"] is not None:
        print()
        print_stages(shown)
    for sentence in shown["estimated"]:
        print()
        screen.say(f"Estimated: {sentence}.")


def print_stages(shown: dict[str, Any]) -> None:
    """The stages as a table: days, dates, and what each allows."""
    columns = [
        Column("stage"),
        Column("days"),
        Column("dates"),
        Column("running", one_line=False),
        Column("a day", "right"),
        Column("heart rate", "right"),
    ]
    screen.table(columns, [_stage_row(stage) for stage in shown["stages"]])


def _stage_row(stage: dict[str, Any]) -> tuple[str, ...]:
    cap, ceiling = stage["duration_cap_min"], stage["ceiling_bpm"]
    return (
        words.shared.stage_words(stage["stage"]),
        _span(stage["first_day"], stage["last_day"], "-"),
        _span(stage["first_date"][5:], stage["last_date"][5:], " to "),
        stage["running"],
        f"{cap} min" if cap else "no cap",
        f"to {ceiling}" if ceiling else "by feel",
    )


def _span(first: object, last: object, between: str) -> str:
    """ "8-14", or the one where both are the same."""
    return str(first) if first == last else f"{first}{between}{last}"


def _print_plan(shown: dict[str, Any], name: str) -> None:
    _print_head(shown, name)
    if shown["race"] is None:
        return
    for stage in shown["stages"]:
        print()
        _print_stage(stage, now_in=stage["stage"] == shown["today"]["stage"])
    _print_notes(shown)


def _print_head(shown: dict[str, Any], name: str) -> None:
    """Whose plan, after which race, how long and why, and where today stands."""
    race, today = shown["race"], shown["today"]
    if race is None:
        screen.say(words.commands.NO_RACE.format(name=name))
        return
    event = f"{race['distance_km']:g} km" if race["event"] == "custom" else race["event"].replace("_", " ")
    screen.heading(
        words.commands.PLAN_HEADING.format(
            name=name, length_days=race["length_days"], event=event, finish=race["finish"][:16].replace("T", " ")
        )
    )
    moved = (
        ""
        if race["last_day"] == race["length_days"]
        else words.commands.PLAN_MOVED.format(last_day=race["last_day"], last_date=race["last_date"])
    )
    screen.say("; ".join(race["reasons"]) + moved)
    screen.say(
        words.commands.TODAY.format(
            date=today["date"], day=today["day"], stage=words.shared.stage_words(today["stage"])
        )
    )
    for sentence in shown["decision"]["sentences"]:
        screen.say(sentence)
    week = shown["usual_week"]
    if week is not None and week["minutes"] is not None:
        allowed = ", then ".join(f"{minutes} min" for minutes in week["allowed_min"])
        usual = words.commands.USUAL_WEEK.format(minutes=week["minutes"], reason=week["reason"])
        screen.say(words.commands.ON_RAMP_WEEKS.format(usual=usual, allowed=allowed))
    for sentence in shown["summary"]:
        screen.say(sentence)


def _print_stage(stage: dict[str, Any], *, now_in: bool) -> None:
    from monitor.views.plan import stage_lines

    mark = " <- today" if now_in else ""
    number = "day" if stage["first_day"] == stage["last_day"] else "days"
    numbers = _span(stage["first_day"], stage["last_day"], "-")
    days = f"{number} {numbers}, {_span(stage['first_date'], stage['last_date'], ' to ')}"
    screen.say(f"{words.shared.stage_words(stage['stage']).capitalize()}: {days}{mark}")
    because = [("" if number else "because", reason) for number, reason in enumerate(stage["reasons"])]
    screen.entries([*stage_lines(stage), *because], indent="  ")


def _print_notes(shown: dict[str, Any]) -> None:
    told = {reason for stage in shown["stages"] for reason in stage["reasons"]}
    for gate in shown["gates"]:
        _print_gate(gate, told)
    for hold in shown["holds"]:
        days = f" for {amounts.counted(hold['days'], 'day')}" if hold["days"] else ""
        word = "Held" if hold["kind"] == "hold" else "Released"
        print()
        screen.say(f"{word} on {hold['on']}{days} by {hold['by'] or 'somebody'}: {hold['why'] or 'no reason given'}.")
    if shown["race_file"] is not None:
        print()
        for sentence in shown["race_file"]["sentences"]:
            screen.say(sentence)
    for title, sentences in (("Estimated", shown["estimated"]), (words.commands.THIN_DATA, shown["thin"])):
        for sentence in sentences:
            print()
            screen.say(f"{title}: {sentence}.")
    if shown["other_races"]:
        print()
        others = "; ".join(f"{race['number']} = {race['event']} {race['finish'][:10]}" for race in shown["other_races"])
        screen.say(words.commands.OTHER_RACES.format(others=others))


def _print_gate(gate: dict[str, Any], told: set[str]) -> None:
    """A gate that was or is shut; its reasons where the stage before it has not said them already."""
    state = "waits" if gate["until"] is None else f"waited until {gate['until']}"
    reasons = [reason for reason in gate["reasons"] if reason not in told]
    why = f": {'; '.join(reasons)}" if reasons else ""
    print()
    what = (
        words.commands.END_OF_PLAN
        if gate["before"] == "done"
        else f"The stage {words.shared.stage_words(gate['before'])}"
    )
    screen.say(f"{what} {state}, since {gate['since']}{why}.")
    if gate["until"] is None and gate["asks"]:
        screen.say(words.commands.WHAT_OPENS.format(asks="; ".join(gate["asks"])), indent="  ", hang="  ")


def today(
    athlete: MaybeAthleteArgument = None, as_of: AsOfOption = None, json: JsonOption = False, home: HomeOption = None
) -> None:
    """Say what is allowed today, and why.

    Example: fallow today runa
    """
    from monitor.judging import view
    from monitor.views.plan import today_of, today_view
    from rules.limits import default_limits

    it = context.opened(home, athlete, as_of)
    with it.reading() as con:
        made = [view(con, it.roster, person, it.now, default_limits()) for person in it.athletes]
    if json:
        shown = [today_view(athlete_view, it.now, default_limits()) for athlete_view in made]
        screen.as_json(shown[0] if athlete else shown)
        return
    for number, athlete_view in enumerate(made):
        if number:
            print()
        day = today_of(athlete_view, it.now, default_limits())
        screen.heading(f"{athlete_view.athlete.athlete.name}, {day.date:%A} {day.date}")
        for sentence in (*day.sentences, *day.remarks):
            screen.say(sentence)


def calendar(
    athlete: AthleteArgument,
    out: Annotated[Path | None, typer.Option(metavar="FILE", help="Into this file; else it is printed.")] = None,
    with_body: Annotated[
        bool, typer.Option("--with-body", help="Also what tells of the body: pain, pulse, signs, the coach's reasons.")
    ] = False,
    as_of: AsOfOption = None,
    json: JsonOption = False,
    home: HomeOption = None,
) -> None:
    """Write an athlete's plan as a calendar file.

    An iCalendar file, for any calendar: stages as spans, each day's allowance as its text, gates and holds, in the
    athlete's own days. Opened again after a stage has moved, it moves there too.

    Example: fallow calendar runa --out runa.ics
    """
    from monitor.board.rendering import put
    from monitor.calendars import as_icalendar, as_json, calendar_of

    it = context.opened(home, athlete, as_of)
    made = calendar_of(it.home, it.roster, it.athlete, it.now, body=with_body)
    if out is not None:
        try:
            put(out, as_icalendar(made).decode())
        except OSError as error:
            raise WrongUse(words.commands.OUT_NOT_WRITTEN.format(out=out, why=error.strerror)) from None
    if json:
        screen.as_json(as_json(made))
    elif out is not None:
        screen.say_path(f"{amounts.counted(len(made.kept), 'entry', 'entries')} in", out)
    else:
        screen.as_bytes(as_icalendar(made))


# The coach's word on a plan, which stands above the program's.

ByOption = Annotated[str | None, typer.Option("--by", metavar="NAME", help="Who decides; else your login name.")]
OnOption = Annotated[str | None, typer.Option("--on", metavar="DATE", help="From this day; else today.")]


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

    it = context.opened(home, athlete, as_of)
    day = context.day_of("--on", on) if on else it.athlete.athlete.local_date(it.now)
    made = overriding.hold(it.home, it.roster, it.athlete.id, day, days, why, by or context.login_name(), it.now)
    _put_through(it, made, json=json)


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

    it = context.opened(home, athlete, as_of)
    day = context.day_of("--on", on) if on else it.athlete.athlete.local_date(it.now)
    made = overriding.release(it.home, it.roster, it.athlete.id, day, why, by or context.login_name(), it.now)
    _put_through(it, made, json=json)


def _put_through(it: Opened, made: Hold, *, json: bool) -> None:
    """Draw the board anew and say what became of the plan."""
    passes.refresh_board(it.home, it.roster, it.now, there=True)
    shown = plan_of(it.home, it.roster, it.athlete, it.now)
    if json:
        screen.as_json(shown)
        return
    days = f" for {amounts.counted(made.days, 'day')}" if made.days else ""
    word = f"held{days}" if made.kind == "hold" else "released"
    screen.say(words.commands.HELD_OR_RELEASED.format(name=it.athlete.athlete.name, word=word, on=made.on, by=made.by))
    if shown["race"] is None or shown["today"]["stage"] in ("before", "done"):
        screen.say(words.commands.NO_ACTIVE_PLAN)
        return
    now_in = next(stage for stage in shown["stages"] if stage["stage"] == shown["today"]["stage"])
    until = words.commands.STAGE_LASTS.format(last_date=now_in["last_date"], plan_ends=shown["race"]["last_date"])
    screen.say(f"Today: {words.shared.stage_words(now_in['stage'])}, {until}.")
