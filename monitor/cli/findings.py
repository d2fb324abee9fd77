"""`fallow findings`, `fallow explain`, `fallow seen`."""

from __future__ import annotations

import getpass
from datetime import UTC, datetime
from typing import Annotated, Any

import typer

from monitor.cli import boards, opening, screen
from monitor.cli.marking import to_mark
from monitor.cli.options import AsOfOption, CsvOption, FindingArgument, HomeOption, JsonOption, MaybeAthleteArgument
from monitor.errors import WrongUse

SEVERITIES = ("note", "caution", "stop")


def register(app: typer.Typer) -> None:
    app.command()(findings)
    app.command()(explain)
    app.command()(seen)


def findings(
    athlete: MaybeAthleteArgument = None,
    rule: Annotated[str | None, typer.Option(metavar="RULE", help="Only of this rule.")] = None,
    severity: Annotated[str | None, typer.Option(metavar="SEVERITY", help="Only so severe or more.")] = None,
    since: Annotated[str | None, typer.Option(metavar="DATE", help="Only from this day on.")] = None,
    json: JsonOption = False,
    csv: CsvOption = False,
    home: HomeOption = None,
) -> None:
    """List the findings that stand, newest first.

    Example: fallow findings runa --severity caution
    """
    from monitor.views.findings import COLUMNS, findings_view

    where = opening.home_of(home)
    roster = opening.roster_of(where)
    chosen = opening.athletes_of(roster, athlete)
    if severity is not None and severity not in SEVERITIES:
        raise WrongUse(opening.no_such("severity", severity, SEVERITIES, "--severity"))
    if rule is not None:
        _known_rule(rule)
    least = SEVERITIES.index(severity or "note")
    first = opening.day_of("--since", since).isoformat() if since else ""
    with opening.reading(where) as con:
        rows = [
            row
            for row in findings_view(con, chosen)
            if rule in (None, row["rule"]) and SEVERITIES.index(row["severity"]) >= least and row["date"] >= first
        ]
    if json:
        screen.as_json(rows)
    elif csv:
        screen.as_csv(rows, COLUMNS)
    elif not rows:
        narrowed = any(each is not None for each in (athlete, rule, severity, since))
        screen.say("No findings like that." if narrowed else "No findings.")
    else:
        _print_findings(rows, several=len(roster.athletes) > 1)


def _known_rule(rule: str) -> None:
    from rules.catalogue import catalogue

    known = [one.id for one in catalogue()]
    if rule not in known:
        raise WrongUse(opening.no_such("rule", rule, known, "the catalogue"))


def _print_findings(rows: list[dict[str, Any]], *, several: bool) -> None:
    screen.listing(
        [
            (
                (
                    row["id"],
                    row["date"],
                    *((row["athlete"],) if several else ()),
                    row["severity"],
                    row["rule"],
                    "seen" if row["seen"] else "",
                ),
                row["summary"],
            )
            for row in rows
        ]
    )


def explain(
    finding: FindingArgument,
    open_page: Annotated[
        bool, typer.Option("--open", help="Show it in the browser: the session over time, or the days.")
    ] = False,
    json: JsonOption = False,
    home: HomeOption = None,
) -> None:
    """Show one finding with all its evidence.

    Numbers, times within the session, the limit and where it comes from, what was masked or assumed, advice, cautions.

    Example: fallow explain 3f9c --open
    """
    from monitor.views.explain import explain_view
    from rules.limits import default_limits

    where = opening.home_of(home)
    roster = opening.roster_of(where)
    with opening.reading(where) as con:
        found, withdrawn_at = opening.finding_of(con, finding)
        shown = explain_view(con, roster, found, withdrawn_at, default_limits())
    if open_page:
        shown["page"] = str(boards.open_finding(where, roster, found, datetime.now(UTC)))
    if json:
        screen.as_json(shown)
        return
    if open_page:
        print(screen.plain(shown["page"]))
        return
    from monitor.cli.explaining import print_explanation

    print_explanation(shown)


def seen(
    finding: FindingArgument,
    by: Annotated[
        str | None, typer.Option("--by", metavar="NAME", help="Who has seen it; else your login name.")
    ] = None,
    note: Annotated[str, typer.Option("--note", metavar="TEXT", help="What was said or agreed.")] = "",
    as_of: AsOfOption = None,
    home: HomeOption = None,
) -> None:
    """Mark a finding as seen.

    Also answers no where `status` asks whether a run was a race.

    Example: fallow seen 3f9c --by "Coach Ida" --note "talked, rests until Friday"
    """
    from monitor.overriding import mark_seen

    where = opening.home_of(home)
    roster = opening.roster_of(where)
    marked, what = to_mark(where, roster, finding, opening.clock_of(as_of).now())
    who = by or login_name()
    mark_seen(where, marked, who, note)
    boards.refresh_board(where, roster, datetime.now(UTC), there=True)
    screen.say(f"{marked} ({what}) is seen by {who}.")


def login_name() -> str:
    """Who types, as far as the machine knows."""
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):
        return "somebody"
