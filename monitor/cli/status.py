"""`fallow status`, `fallow intake`, `fallow outbox`: where everybody stands, what came in, what was sent."""

from __future__ import annotations

from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from monitor import words
from monitor.cli import context, screen
from monitor.cli.context import AsOfOption, CsvOption, HomeOption, JsonOption, MaybeAthleteArgument
from monitor.cli.screen import Column
from monitor.errors import Unreadable, WrongUse
from monitor.home import Home, find_home
from monitor.reasons import Why
from rules.words import amounts

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.intake.nights_csv import Preview
    from monitor.roster import Roster
    from monitor.values import IntakeOptions


# `fallow intake FILE --preview`: how a table would be read, before it is put into a folder.


def show_preview(home: Home, file: Path, athlete_id: str | None, *, json: bool) -> None:
    """Print what a table's columns were understood as, what was passed over, and its first rows as they are read."""
    from monitor.intake.nights_csv import preview

    try:
        data = file.read_bytes()
    except OSError as error:
        raise WrongUse(words.commands.PREVIEW_UNREADABLE.format(file=file, why=error.strerror or error)) from None
    try:
        made = preview(data, options_for(home, file, athlete_id).of(file.name))
    except Unreadable as reason:
        raise WrongUse(f"{file}: {reason}{'' if ';' in str(reason) else '; save it as CSV, then try again'}") from None
    if json:
        screen.as_json(preview_as_json(made))
    else:
        print_preview(file, made)


def options_for(home: Home, file: Path, athlete_id: str | None) -> IntakeOptions:
    """The options of the named athlete, of the one in whose folder the file lies, or of the only one; else defaults."""
    from monitor.values import IntakeOptions

    if athlete_id is None and not home.roster.exists():
        return IntakeOptions(timezone="UTC")
    roster = context.roster_of(home)
    if athlete_id is not None:
        return context.athlete_of(roster, athlete_id).options
    within = [athlete for athlete in roster.athletes if file.resolve().is_relative_to(athlete.folder.resolve())]
    if not within and len(roster.athletes) > 1:
        raise WrongUse(words.commands.PREVIEW_OF_WHOM.format(file=file))
    chosen = within or list(roster.athletes)
    return chosen[0].options if chosen else IntakeOptions(timezone="UTC")


def preview_as_json(made: Preview) -> dict[str, Any]:
    """The preview as JSON."""
    return {
        "header_line": made.header_line,
        "understood": [{"header": header, "as": field, "unit": unit} for header, field, unit in made.understood],
        "passed_over": list(made.passed_over),
        "rows": list(made.rows),
        "nights": [asdict(night) for night in made.facts.nights],
        "mornings": [asdict(morning) for morning in made.facts.mornings],
        "checkins": [asdict(checkin) for checkin in made.facts.checkins],
        "remarks": list(made.facts.remarks),
    }


def print_preview(file: Path, made: Preview) -> None:
    from monitor.intake.nights_csv import EXPECTED

    screen.say(words.commands.PREVIEW_HEADING.format(name=file.name, header_line=made.header_line))
    screen.table(
        [Column("column", one_line=False), Column(words.commands.PREVIEW_FIELD_LABEL, one_line=False), Column("in")],
        [(header, field, unit or "-") for header, field, unit in made.understood],
    )
    if made.passed_over:
        free = next((field for field in EXPECTED if field not in {field for _, field, _ in made.understood}), "note")
        screen.say(
            words.commands.PREVIEW_PASSED_OVER.format(
                passed_over=", ".join(made.passed_over), free=free, first=made.passed_over[0]
            ),
            hang="  ",
        )
    screen.say(words.commands.PREVIEW_ROWS.format(rows=amounts.counted(len(made.rows), "row")))
    for night in made.facts.nights:
        slept = (
            f"{night.total_sleep_min / 60:.1f} h asleep"
            if night.total_sleep_min is not None
            else words.commands.SLEEP_NOT_TOLD
        )
        screen.say(f"{night.date}: night, {slept}", indent="  ")
    for morning in made.facts.mornings:
        parts = [
            words.commands.RESTING_HEART_RATE.format(resting_hr=morning.resting_hr)
            if morning.resting_hr is not None
            else "",
            f"RMSSD {morning.rmssd_ms:g} ms" if morning.rmssd_ms is not None else "",
        ]
        screen.say(f"{morning.date}: morning, {', '.join(part for part in parts if part)}", indent="  ")
    for checkin in made.facts.checkins:
        screen.say(f"{checkin.date}: check-in", indent="  ")
    for remark in made.facts.remarks:
        screen.say(f"not taken: {remark}", indent="  ", hang="    ")


# `fallow status`, `fallow intake`, `fallow outbox`: where everybody stands, what came in, what went out.

OF_ITSELF = (Why.FIRST, Why.NOTICE)
"""Ordinary reasons of an alert, which are not printed."""
STATES = ("read", "duplicate", "unreadable", "ignored", "waiting")


def status(
    athlete: MaybeAthleteArgument = None,
    as_of: AsOfOption = None,
    json: JsonOption = False,
    csv: CsvOption = False,
    home: HomeOption = None,
) -> None:
    """Show where every athlete stands, who needs a word first.

    Day, stage, what today allows, last file, open findings; why and what to do; shut gates. A finding is open until
    `fallow seen` marks it.

    Example: fallow status
    """
    from monitor.views.status import COLUMNS, status_view, unsent_view
    from rules.limits import default_limits

    it = context.opened(home, athlete, as_of)
    with context.reading_at_once(it.home) as con:
        rows = status_view(con, it.roster, it.athletes, it.now, default_limits())
        unsent = unsent_view(con, it.roster)
    if not screen.for_programs(rows, COLUMNS, json=json, csv=csv):
        _print_status(rows)
        _print_daemon(it.home, it.roster, unsent)


def _print_status(rows: list[dict[str, Any]]) -> None:
    """A line an athlete in order of need, then why and what to do for those who need a word, gates and questions."""
    from monitor.views.plan import question_words

    if not rows:
        screen.say(words.commands.EMPTY_ROSTER)
        return
    ordered = sorted(rows, key=lambda row: (row["need_rank"], _name(row).casefold()))
    columns = [
        Column("word"), Column("athlete", one_line=False), Column("day", "right"), Column("stage", one_line=False),
        Column("today", one_line=False), Column("last file"), Column("open", one_line=False),
    ]  # fmt: skip
    screen.table(columns, [_status_row(row) for row in ordered])
    for row in ordered:
        if row["need"] != "not":
            print()
            screen.say(f"{_name(row)}: {row['why']}", hang="  ")
            if row["do"]:
                screen.say(f"-> {row['do']}", indent="  ", hang="     ")
        for gate in row["gates"]:
            waits = f"{words.shared.wait_words(gate['before'])} since {gate['since']}"
            screen.say(f"{_name(row)}: {waits}: {'; '.join(gate['reasons'])}", hang="  ")
        if row["summary"]:
            screen.say(f"{_name(row)}: {' '.join(row['summary'])}", hang="  ")
        for run in row["looks_like_a_race"]:
            screen.say(f"{_name(row)}: {question_words(run)}", hang="  ")


def _name(row: dict[str, Any]) -> str:
    return str(row["name"] or row["athlete"])


def _status_row(row: dict[str, Any]) -> tuple[str, ...]:

    return (
        "" if row["need"] == "not" else row["need"],
        _name(row),
        "-" if row["day"] is None else str(row["day"]),
        words.shared.stage_words(row["stage"]) if row["stage"] else "no race",
        row["today"],
        _last_file(row["last_file_at"]),
        _open(row["open_findings"]),
    )


def _last_file(moment: str | None) -> str:
    """ "26 Nov", with the year where it is another."""
    if moment is None:
        return "-"
    on = datetime.fromisoformat(moment)
    return f"{on.day} {on:%b}" + ("" if on.year == datetime.now(UTC).year else f" {on.year}")


def _open(counts: dict[str, int]) -> str:
    """How many of the gravest, and how many others: "1 stop +2"."""
    text = [word for word in ("stop", "caution", "note") if counts[word]]
    if not text:
        return "none"
    others = sum(counts[word] for word in text[1:])
    return f"{counts[text[0]]} {text[0]}" + (f" +{others}" if others else "")


def _print_daemon(home: Home, roster: Roster, unsent: Sequence[dict[str, Any]]) -> None:
    """Whether a daemon runs, since when, and what is wrong with it, its folders and the channels."""
    from monitor.daemon.daemon_state import read_state
    from monitor.doctor import check_daemon
    from monitor.views.status import program

    state = read_state(home)
    check = check_daemon(home, datetime.now(UTC))
    passed = f"; last pass {state.last_pass_at.astimezone():%Y-%m-%d %H:%M}" if state and state.last_pass_at else ""
    print()
    runs = state is not None and state.running
    screen.say(f"daemon: {check.says}{passed if runs else ''}", hang="  ")
    seen = program(home, roster, unsent, runs=runs)
    for trouble in (*seen.channels, *seen.folders):
        screen.say(trouble, hang="  ")


def intake(
    athlete: Annotated[
        str | None,
        typer.Argument(metavar="ID", help="The athlete's id; with --preview, a table that need not be in a folder."),
    ] = None,
    preview: Annotated[
        bool, typer.Option("--preview", help="Show how a table would be read; nothing is taken in.")
    ] = False,
    whose: Annotated[
        str | None, typer.Option("--athlete", metavar="ID", help="With --preview: whose table it is.")
    ] = None,
    all_rows: Annotated[bool, typer.Option("--all", help="Also what lay at a path before it was replaced.")] = False,
    state: Annotated[
        str | None, typer.Option(metavar="STATE", help="Only read, duplicate, unreadable, ignored or waiting.")
    ] = None,
    json: JsonOption = False,
    csv: CsvOption = False,
    home: HomeOption = None,
) -> None:
    """List every file seen, what became of it and why.

    Example: fallow intake --state unreadable
    """
    where = find_home(home)
    if preview:
        if athlete is None:
            raise WrongUse(words.commands.PREVIEW_NEEDS_FILE)
        show_preview(where, Path(athlete), whose, json=json)
        return
    from monitor.views.status import LEDGER_COLUMNS, intake_view

    roster = context.roster_of(where)
    if athlete and Path(athlete).suffix and roster.athlete(athlete) is None:
        raise WrongUse(words.commands.IS_NO_ATHLETE.format(athlete=athlete))
    named = [context.athlete_of(roster, athlete).id] if athlete else None
    with context.reading(where) as con:
        rows = intake_view(con, named, replaced=all_rows)
    if state is not None:
        context.must_be_one_of(STATES, "state", state, "--state")
    rows = [row for row in rows if state in (None, row["state"])]
    if screen.for_programs(rows, LEDGER_COLUMNS, json=json, csv=csv):
        return
    if not rows:
        screen.say(words.commands.NO_FILE_YET if state is None else words.commands.NO_FILE.format(state=state))
    else:
        _print_intake(rows)


def _print_intake(rows: list[dict[str, Any]]) -> None:
    screen.listing(
        [
            (
                (row["athlete"], row["state"], row["path"]),
                "; ".join(filter(None, (words.shared.held(row), row["reason"]))),
            )
            for row in rows
        ]
    )


def outbox(
    athlete: MaybeAthleteArgument = None,
    retry: Annotated[
        bool, typer.Option("--retry", help="Send at once what waits for its pause or was given up.")
    ] = False,
    json: JsonOption = False,
    csv: CsvOption = False,
    home: HomeOption = None,
) -> None:
    """List every alert: sent, waiting, failed or held.

    Example: fallow outbox --retry
    """
    from monitor.views.status import OUTBOX_COLUMNS, outbox_view

    where = find_home(home)
    roster = context.roster_of(where, resolve=retry)
    named = [context.athlete_of(roster, athlete).id] if athlete else None
    if retry and where.store.exists():
        _retry(where)
    with context.reading(where) as con:
        rows = outbox_view(con, roster, named)
    if screen.for_programs(rows, OUTBOX_COLUMNS, json=json, csv=csv):
        return
    if not rows:
        screen.say(words.commands.NO_ALERT_YET)
    else:
        screen.listing([_outbox_row(row) for row in rows])


def _outbox_row(row: dict[str, Any]) -> tuple[tuple[object, ...], str]:
    made = datetime.fromisoformat(row["created_at"]).astimezone().strftime("%Y-%m-%d %H:%M")
    why = row["last_error"] or ("" if row["reason_code"] in OF_ITSELF else row["reason"])
    tries = amounts.counted(row["tries"], "try", "tries")
    if row["perhaps"]:
        tries += f", {row['perhaps']} perhaps arrived"
    to = f"{row['contact']}, recipient {row['recipient']}" if row["recipient"] else row["contact"]
    return (made, to, row["state"], tries), f"{row['title']} ({why})" if why else row["title"]


def _retry(home: Home) -> None:
    from monitor.cli.passes import scanner_of
    from monitor.store import outbox as stored

    with scanner_of(home, None) as (scanner, checked):
        checked()
        with scanner.store.writing() as con:
            stored.retry(con, datetime.now(UTC))
        scanner.deliver(gather_now=True)
