"""What a command opens before it does its work: home, roster, athlete, clock, store."""

from __future__ import annotations

import difflib
import getpass
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from monitor import words
from monitor.cli import typed
from monitor.clock import Clock, FixedClock, SystemClock
from monitor.errors import RosterError, WrongUse
from monitor.home import Home, find_home

MOST_LISTED = 5

if TYPE_CHECKING:
    import duckdb

    from monitor.roster import Roster, RosterAthlete
    from rules.findings import Finding


# Options that many commands share.

HomeOption = Annotated[
    Path | None,
    typer.Option(
        "--home",
        metavar="DIR",
        help="Home folder with roster.toml (else FALLOW_HOME, else your user data folder).",
        show_default=False,
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON for other programs.")]
CsvOption = Annotated[bool, typer.Option("--csv", help="Print CSV for a spreadsheet.")]
AsOfOption = Annotated[
    str | None,
    typer.Option(
        "--as-of",
        metavar="TIME",
        help="Judge as of this moment, as in 2026-10-13T18:30 or 2026-10-13 (noon); "
        "local time of the named athlete, else of this machine, unless it carries an offset.",
        show_default=False,
    ),
]
AthleteArgument = Annotated[str, typer.Argument(metavar="ID", help="The athlete's id in the roster.")]
MaybeAthleteArgument = Annotated[
    str | None, typer.Argument(metavar="ID", help="The athlete's id in the roster; without it, everybody.")
]
FindingArgument = Annotated[
    str,
    typer.Argument(metavar="FINDING", help="Id of a finding, as `fallow findings` shows it; its beginning is enough."),
]


@dataclass(frozen=True, slots=True)
class Opened:
    """What a command works on: the home and its roster, the athletes meant, and the moment of judging."""

    home: Home
    roster: Roster
    athletes: tuple[RosterAthlete, ...]
    now: datetime

    @property
    def athlete(self) -> RosterAthlete:
        """The one who was named."""
        return self.athletes[0]

    @contextmanager
    def reading(self) -> Iterator[duckdb.DuckDBPyConnection]:
        with reading(self.home) as con:
            yield con


def opened(home: Path | None, athlete: str | None = None, as_of: str | None = None) -> Opened:
    """Open a home for the athlete named, or all. `as_of` without an offset is local to the athlete named."""
    where = find_home(home)
    roster = roster_of(where)
    chosen = roster.athletes if athlete is None else (athlete_of(roster, athlete),)
    return Opened(where, roster, chosen, clock_of(as_of, chosen[0].athlete.zone if athlete else None).now())


def roster_of(home: Home, *, resolve: bool = False) -> Roster:
    """The roster of a home, validated. `resolve` fills in the secrets of contact URLs from the environment."""
    from monitor.roster import read_roster

    return read_roster(home.roster, resolve=resolve)


def athlete_of(roster: Roster, athlete_id: str) -> RosterAthlete:
    """One athlete by id; WrongUse names the nearest one there is."""
    must_be_one_of((athlete.id for athlete in roster.athletes), "athlete", athlete_id, str(roster.path))
    return next(athlete for athlete in roster.athletes if athlete.id == athlete_id)


def must_be_one_of(known: Iterable[str], what: str, given: str, where: str) -> None:
    """WrongUse, with the nearest known name, unless `given` is one of `known`."""
    names = list(known)
    if given not in names:
        raise WrongUse(no_such(what, given, names, where))


def no_such(what: str, wrong: str, known: Iterable[str], where: str) -> str:
    """The error line about an unknown name, with the nearest known one."""
    names = list(known)
    lowered = {name.lower(): name for name in names}
    near = difflib.get_close_matches(wrong.lower(), list(lowered), 1, 0.6)
    if near:
        return words.commands.NO_SUCH_NAME.format(what=what, wrong=wrong, where=where, lowered=lowered[near[0]])
    return words.commands.not_among(what, wrong, where, names)


def clock_of(as_of: str | None, zone: tzinfo | None = None) -> Clock:
    """The real clock, or a fixed one at --as-of."""
    return SystemClock() if as_of is None else FixedClock(moment_of(as_of, zone))


def moment_of(text: str, zone: tzinfo | None) -> datetime:
    """An aware moment. A date alone is its noon; without an offset it is local to `zone`, else to this machine."""
    try:
        moment = datetime.fromisoformat(typed.iso(text))
        if typed.day_of(text) is not None:
            moment = datetime.combine(moment.date(), time(12))
        return moment if moment.tzinfo else (moment.replace(tzinfo=zone) if zone else moment.astimezone())
    except (ValueError, OverflowError, OSError):
        raise WrongUse(words.commands.MUST_BE_MOMENT.format(text=text)) from None


def day_of(option: str, text: str) -> date:
    """A calendar day from an option."""
    day = typed.day_of(text)
    if day is None:
        raise WrongUse(words.commands.MUST_BE_DATE.format(option=option, text=text))
    return day


@contextmanager
def without_roster_values(home: Home) -> Iterator[None]:
    """Without a terminal, stderr is a service's log: roster errors are reported without values of the roster."""
    try:
        yield
    except RosterError as error:
        if sys.stderr.isatty():
            raise
        raise RosterError(f"{home.roster}: {error.elsewhere}") from None


@contextmanager
def reading(home: Home) -> Iterator[duckdb.DuckDBPyConnection]:
    """The store for reading; where there is none yet, an empty one in memory."""
    import duckdb

    from monitor.store.database import CONFIG, Store
    from monitor.store.migrations import migrate

    if home.store.exists():
        with Store(home.store).reading() as con:
            yield con
        return
    with duckdb.connect(":memory:", config=CONFIG) as con:
        migrate(con)
        yield con


@contextmanager
def reading_at_once(home: Home) -> Iterator[duckdb.DuckDBPyConnection]:
    """Like `reading`, without waiting: of a store that another process holds, its last known state, with a warning."""
    from monitor.cli import screen
    from monitor.store.database import Store

    if not home.store.exists():
        with reading(home) as con:
            yield con
        return
    with Store(home.store).reading_at_once() as (con, itself):
        if not itself:
            screen.warn(words.commands.STORE_IN_USE.format(name=home.store.name))
        yield con


def finding_of(con: duckdb.DuckDBPyConnection, start_of_id: str) -> tuple[Finding, datetime | None]:
    """The one finding whose id begins so, and when it was withdrawn; WrongUse unless there is exactly one."""
    from monitor.store import findings

    found = findings.find(con, start_of_id.strip()) if start_of_id.strip() else []
    if len({finding.id for finding, _ in found}) == 1:
        return found[0]
    if not found:
        known = [finding.id for finding in findings.standing(con)]
        near = difflib.get_close_matches(start_of_id.lower(), known, 1, 0.7)
        hint = words.commands.DID_YOU_MEAN.format(near=near[0]) if near else words.commands.SEE_FINDINGS
        raise WrongUse(words.commands.NO_FINDING_BEGINS.format(start_of_id=start_of_id, hint=hint))
    listed = ", ".join(f"{finding.id} ({finding.rule}, {finding.date})" for finding, _ in found[:MOST_LISTED])
    left = len(found[MOST_LISTED:])
    more = f" and {left} more" if left else ""
    raise WrongUse(
        words.commands.SEVERAL_FINDINGS_BEGIN.format(
            start_of_id=start_of_id, found=len(found), listed=listed, more=more
        )
    )


def login_name() -> str:
    """The login name of who runs the command."""
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):
        return "somebody"
