"""`fallow status`, `fallow intake`, `fallow outbox`: where everybody stands, what came in, what went out."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from monitor.cli import opening, screen
from monitor.cli.options import AsOfOption, CsvOption, HomeOption, JsonOption, MaybeAthleteArgument
from monitor.cli.screen import Column
from monitor.errors import WrongUse

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.home import Home
    from monitor.roster import Roster

OF_ITSELF = ("first", "notice")
"""Reasons of an alert that go without saying."""
STATES = ("read", "duplicate", "unreadable", "ignored", "waiting")


def register(app: typer.Typer) -> None:
    app.command()(status)
    app.command()(intake)
    app.command()(outbox)


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
    from monitor.views.outbox import unsent_view
    from monitor.views.status import COLUMNS, status_view
    from rules.limits import default_limits

    where = opening.home_of(home)
    roster = opening.roster_of(where)
    chosen = opening.athletes_of(roster, athlete)
    now = opening.clock_of(as_of, chosen[0].athlete.zone if athlete else None).now()
    with opening.reading_at_once(where) as con:
        rows = status_view(con, roster, chosen, now, default_limits())
        unsent = unsent_view(con, roster)
    if json:
        screen.as_json(rows)
    elif csv:
        screen.as_csv(rows, COLUMNS)
    else:
        _print_status(rows)
        _print_daemon(where, roster, unsent)


def _print_status(rows: list[dict[str, Any]]) -> None:
    """A line an athlete in order of need, then why and what to do for those who need a word, gates and questions."""
    from monitor.views.questions import question_words
    from monitor.views.words import wait_words

    if not rows:
        screen.say("Nobody is on the roster yet; `fallow init` adds an athlete.")
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
            waits = f"{wait_words(gate['before'])} since {gate['since']}"
            screen.say(f"{_name(row)}: {waits}: {'; '.join(gate['reasons'])}", hang="  ")
        if row["summary"]:
            screen.say(f"{_name(row)}: {' '.join(row['summary'])}", hang="  ")
        for run in row["looks_like_a_race"]:
            screen.say(f"{_name(row)}: {question_words(run)}", hang="  ")


def _name(row: dict[str, Any]) -> str:
    return str(row["name"] or row["athlete"])


def _status_row(row: dict[str, Any]) -> tuple[str, ...]:
    from monitor.cli.plans import STAGE_TITLES

    return (
        "" if row["need"] == "not" else row["need"],
        _name(row),
        "-" if row["day"] is None else str(row["day"]),
        STAGE_TITLES[row["stage"]] if row["stage"] else "no race",
        row["today"],
        (row["last_file_at"] or "-")[:10],
        _open(row["open_findings"]),
    )


def _open(counts: dict[str, int]) -> str:
    return ", ".join(f"{counts[word]} {word}" for word in ("stop", "caution", "note") if counts[word]) or "none"


def _print_daemon(home: Home, roster: Roster, unsent: Sequence[dict[str, Any]]) -> None:
    """Whether a daemon runs, since when, and what ails it, its folders and the channels."""
    from monitor.daemon.state import read_state
    from monitor.doctor import check_daemon
    from monitor.views.program import program

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
    where = opening.home_of(home)
    if preview:
        from monitor.cli import previews

        if athlete is None:
            raise WrongUse("--preview needs a file, as in: fallow intake sleep.csv --preview")
        previews.show(where, Path(athlete), whose, json=json)
        return
    from monitor.views.intake import LEDGER_COLUMNS, intake_view

    roster = opening.roster_of(where)
    if athlete and Path(athlete).suffix and roster.athlete(athlete) is None:
        raise WrongUse(f"{athlete} is no athlete; for how a table would be read: fallow intake {athlete} --preview")
    named = [one.id for one in opening.athletes_of(roster, athlete)] if athlete else None
    with opening.reading(where) as con:
        rows = intake_view(con, named, replaced=all_rows)
    if state is not None and state not in STATES:
        raise WrongUse(opening.no_such("state", state, STATES, "--state"))
    rows = [row for row in rows if state in (None, row["state"])]
    if json:
        screen.as_json(rows)
    elif csv:
        screen.as_csv(rows, LEDGER_COLUMNS)
    elif not rows:
        screen.say("No file yet." if state is None else f"No file is {state}.")
    else:
        _print_intake(rows)


def _print_intake(rows: list[dict[str, Any]]) -> None:
    facts = (("sessions", "session"), ("nights", "night"), ("mornings", "morning"), ("checkins", "check-in"))
    listed = []
    for row in rows:
        held = ", ".join(screen.counted(row[key], word) for key, word in facts if row[key])
        became = "; ".join(part for part in (held, row["reason"]) if part)
        listed.append(((row["athlete"], row["state"], row["path"]), became))
    screen.listing(listed)


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
    from monitor.views.outbox import OUTBOX_COLUMNS, outbox_view

    where = opening.home_of(home)
    roster = opening.roster_of(where, resolve=retry)
    named = [one.id for one in opening.athletes_of(roster, athlete)] if athlete else None
    if retry and where.store.exists():
        _retry(where)
    with opening.reading(where) as con:
        rows = outbox_view(con, roster, named)
    if json:
        screen.as_json(rows)
    elif csv:
        screen.as_csv(rows, OUTBOX_COLUMNS)
    elif not rows:
        screen.say("No alert yet.")
    else:
        screen.listing([_outbox_row(row) for row in rows])


def _outbox_row(row: dict[str, Any]) -> tuple[tuple[object, ...], str]:
    made = datetime.fromisoformat(row["created_at"]).astimezone().strftime("%Y-%m-%d %H:%M")
    why = row["last_error"] or ("" if row["reason"] in OF_ITSELF else row["reason"])
    tries = screen.counted(row["tries"], "try", "tries")
    if row["perhaps"]:
        tries += f", {row['perhaps']} perhaps arrived"
    to = f"{row['contact']}, recipient {row['recipient']}" if row["recipient"] else row["contact"]
    return (made, to, row["state"], tries), f"{row['title']} ({why})" if why else row["title"]


def _retry(home: Home) -> None:
    from monitor.cli.passes import scanner_of
    from monitor.store import outbox as stored

    with scanner_of(home, None) as scanner:
        with scanner.store.writing() as con:
            stored.retry(con, datetime.now(UTC))
        scanner.deliver(gather_now=True)
