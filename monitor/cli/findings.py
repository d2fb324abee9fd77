"""`fallow findings`, `fallow explain`, `fallow seen`."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Annotated, Any

import typer

from monitor import words
from monitor.cli import context, passes, screen
from monitor.cli.context import (
    AsOfOption,
    CsvOption,
    FindingArgument,
    HomeOption,
    JsonOption,
    MaybeAthleteArgument,
    Opened,
)
from monitor.cli.screen import Column
from monitor.errors import WrongUse

if TYPE_CHECKING:
    from collections.abc import Sequence

    import duckdb

    from monitor.home import Home
    from monitor.roster import RosterAthlete


# What `fallow seen` can mark: a finding, or the question whether a run was a race.


def to_mark(it: Opened, start_of_id: str) -> tuple[str, str]:
    """Id and description of the one finding, or open question, whose id begins so."""
    with it.reading() as con:
        try:
            found, _ = context.finding_of(con, start_of_id)
        except WrongUse:
            asked = _question(con, it, start_of_id.strip())
            if asked is None:
                raise
            return asked
    return found.id, f"{found.rule}, {found.date}"


def open_of(where: Home, athlete: RosterAthlete, until: date | None) -> list[tuple[str, str]]:
    """Id and description of an athlete's unseen findings, up to a day."""
    from monitor.store import findings

    with context.reading(where) as con:
        marks = findings.marks(con)
        standing = findings.standing(con, athlete.id)
    return [
        (finding.id, f"{finding.rule}, {finding.date}")
        for finding in standing
        if finding.id not in marks and (until is None or finding.date <= until)
    ]


def _question(con: duckdb.DuckDBPyConnection, it: Opened, start_of_id: str) -> tuple[str, str] | None:
    """The one open question whose id begins so."""
    from monitor.judging import view
    from monitor.views.plan import looks_like_races
    from rules.limits import default_limits

    limits = default_limits()
    made = [view(con, it.roster, athlete, it.now, limits) for athlete in it.athletes]
    asked = [race for view in made for race in looks_like_races(view, (), it.now, limits)]
    found = [question for question in asked if start_of_id and question["id"].startswith(start_of_id)]
    return (found[0]["id"], f"no race, {found[0]['session_start'][:10]}") if len(found) == 1 else None


SEVERITIES = ("note", "caution", "stop")


def findings(
    athlete: MaybeAthleteArgument = None,
    rule: Annotated[str | None, typer.Option(metavar="RULE", help="Only of this rule.")] = None,
    severity: Annotated[str | None, typer.Option(metavar="SEVERITY", help="Only so severe or more.")] = None,
    since: Annotated[str | None, typer.Option(metavar="DATE", help="Only from this day on.")] = None,
    json: JsonOption = False,
    csv: CsvOption = False,
    home: HomeOption = None,
) -> None:
    """List the findings that stand, who needs a word first.

    Those of the current plan that nobody has seen come first, the gravest before others. JSON and CSV come
    newest first.

    Example: fallow findings runa --severity caution
    """
    from monitor.views.findings import COLUMNS, findings_view
    from rules.catalogue import catalogue

    it = context.opened(home, athlete)
    if severity is not None:
        context.must_be_one_of(SEVERITIES, "severity", severity, "--severity")
    if rule is not None:
        context.must_be_one_of((entry.id for entry in catalogue()), "rule", rule, "the catalogue")
    least = SEVERITIES.index(severity or "note")
    first = context.day_of("--since", since).isoformat() if since else ""
    with it.reading() as con:
        rows = [
            row
            for row in findings_view(con, it.athletes)
            if rule in (None, row["rule"]) and SEVERITIES.index(row["severity"]) >= least and row["date"] >= first
        ]
    if screen.for_programs(rows, COLUMNS, json=json, csv=csv):
        return
    if not rows:
        narrowed = any(option is not None for option in (athlete, rule, severity, since))
        screen.say(words.commands.NO_SUCH_FINDINGS if narrowed else "No findings.")
    else:
        _print_findings(rows, _opened(it.athletes))


def _opened(athletes: Sequence[RosterAthlete]) -> dict[str, str]:
    """Athlete -> the day from which findings belong to the current plan: the finish of the latest race."""
    today = datetime.now(UTC)
    finishes = {
        athlete.id: [race.finish for race in athlete.athlete.races if race.finish <= today] for athlete in athletes
    }
    return {name: max(moments).date().isoformat() for name, moments in finishes.items() if moments}


def _print_findings(rows: list[dict[str, Any]], opened: dict[str, str]) -> None:
    """In order of need: open ones first, the gravest before others, the newest of them first."""

    def closed(row: dict[str, Any]) -> bool:
        return bool(row["seen"]) or row["date"] < opened.get(row["athlete"], "")

    ordered = sorted(rows, key=lambda row: (closed(row), 0 if closed(row) else -SEVERITIES.index(row["severity"])))
    columns = [
        Column("finding"), Column("date"), Column("athlete", one_line=False), Column("severity", one_line=False),
        Column("what", one_line=False),
    ]  # fmt: skip
    cells = [
        (
            row["id"],
            row["date"],
            row["name"],
            f"{row['severity']}, seen" if row["seen"] else row["severity"],
            f"{row['rule'].replace('_', ' ')}: {row['summary'].rstrip('.')}",
        )
        for row in ordered
    ]
    screen.table(columns, cells)


def explain(
    finding: FindingArgument,
    open_page: Annotated[
        bool, typer.Option("--open", help="Show it in the browser: the session over time, or the days.")
    ] = False,
    everything: Annotated[
        bool, typer.Option("--all", help="Also times, all numbers, limits and sources, cautions, who was told.")
    ] = False,
    json: JsonOption = False,
    home: HomeOption = None,
) -> None:
    """Show one finding: what, when, why, and what to do.

    With --all: times within the session, the limits and where they come from, what was masked or assumed, cautions.

    Example: fallow explain 3f9c --open
    """
    from monitor.views.findings import explain_view
    from rules.limits import default_limits

    it = context.opened(home)
    with it.reading() as con:
        found, withdrawn_at = context.finding_of(con, finding)
        shown = explain_view(con, it.roster, found, withdrawn_at, default_limits())
    if open_page:
        shown["page"] = str(passes.open_finding(it.home, it.roster, found, datetime.now(UTC)))
    if json:
        screen.as_json(shown)
        return
    if open_page:
        print(screen.plain(shown["page"]))
        return
    from monitor.cli.explain import print_explanation

    print_explanation(shown, everything=everything)


def seen(
    findings: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[FINDING]...",
            show_default=False,
            help="Ids of findings, as `fallow findings` shows them; their beginnings are enough.",
        ),
    ] = None,
    by: Annotated[
        str | None, typer.Option("--by", metavar="NAME", help="Who has seen it; else your login name.")
    ] = None,
    note: Annotated[str, typer.Option("--note", metavar="TEXT", help="What was said or agreed.")] = "",
    athlete: Annotated[str | None, typer.Option("--athlete", metavar="ID", help="Of this athlete; with --all.")] = None,
    everything: Annotated[bool, typer.Option("--all", help="All open findings of --athlete.")] = False,
    until: Annotated[
        str | None, typer.Option("--until", metavar="DATE", help="With --all: only those up to this day.")
    ] = None,
    as_of: AsOfOption = None,
    home: HomeOption = None,
) -> None:
    """Mark findings as seen.

    Also answers no where `status` asks whether a run was a race.

    Example: fallow seen 3f9c 81d2 --by "Coach Ida" --note "talked, rests until Friday"

    Example: fallow seen --athlete runa --all --until 2026-10-12
    """  # fmt: skip
    from monitor.overriding import mark_all_seen

    it = context.opened(home, as_of=as_of)
    named = findings or []
    if everything:
        if named or athlete is None:
            raise WrongUse(words.commands.SEEN_ALL_NEEDS_ATHLETE)
        last = context.day_of("--until", until) if until else None
        marked = open_of(it.home, context.athlete_of(it.roster, athlete), last)
    else:
        if athlete is not None or until is not None or not named:
            raise WrongUse(words.commands.SEEN_NEEDS_IDS)
        marked = [to_mark(it, start) for start in named]
    who = by or context.login_name()
    if not marked:
        screen.say(words.commands.NO_OPEN_FINDINGS)
        return
    mark_all_seen(it.home, list(dict(marked)), who, note)
    passes.refresh_board(it.home, it.roster, datetime.now(UTC), there=True)
    for finding_id, what in dict(marked).items():
        screen.say(words.commands.SEEN.format(each=finding_id, what=what, who=who))
