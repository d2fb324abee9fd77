"""`fallow init`, `doctor`, `demo`: setting up, and checking that alerts can come."""

from __future__ import annotations

import os
import shlex
import sys
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from monitor import words
from monitor.cli import context, screen
from monitor.cli.context import HomeOption, JsonOption
from monitor.cli.screen import known_by_path
from monitor.errors import WorkFailed, WrongUse
from monitor.home import Home, find_home, replace_file
from rules.words import amounts

if TYPE_CHECKING:
    from monitor import initialise as making
    from monitor.cli.interview import InitFlags
    from monitor.doctor import Check
    from monitor.roster import Roster, RosterAthlete


# A crontab line for cron's bare environment: absolute paths, secrets from a file that only its owner can read.

EVERY = "*/5 * * * *"
IN_PYTHON = "from monitor.cli.main import run; run()"


def this_program() -> list[str]:
    """This program as a command line of absolute paths."""
    called = Path(sys.argv[0]).absolute()
    if called.name.startswith("fallow") and os.access(called, os.X_OK):
        return [str(called)]
    return [sys.executable, "-c", IN_PYTHON]


def names_needed(roster: Roster) -> list[str]:
    """Names of the environment that a roster's addresses, as written, need."""
    from monitor.roster.read import names_in

    return list(dict.fromkeys(name for contact in roster.contacts for url in contact.urls for name in names_in(url)))


def keep_secrets(home: Home, names: Iterable[str], environment: Mapping[str, str]) -> Path | None:
    """Write the values for a shell into a file of mode 0600, replaced in one step; None where nothing is needed."""
    lines = [f"{name}={shlex.quote(environment[name])}\n" for name in names]
    if not lines:
        return None
    try:
        replace_file(home.secrets, "".join(lines).encode())
    except OSError as error:
        raise WorkFailed(words.doctor.SECRETS_NOT_WRITTEN.format(secrets=home.secrets, why=error.strerror)) from None
    return home.secrets


def crontab_line(home: Home, program: Sequence[str], secrets: Path | None) -> str:
    """A scan every five minutes. Its errors go to stderr, which cron mails to the user."""
    scan = f"{shlex.join([*program, 'scan', '--home', str(home.path)])} >/dev/null"
    command = f"set -a; . {shlex.quote(str(secrets))}; set +a; {scan}" if secrets else scan
    return f"{EVERY} " + command.replace("%", r"\%")  # cron ends the command at a plain %


QUIET_HOURS = "21:30-06:30"


def demo(
    home: Annotated[
        Path | None, typer.Option("--home", metavar="DIR", help="A new folder for it; else a temporary one.")
    ] = None,
) -> None:
    """Show the whole job on invented exports.

    Reads them, shows plan, findings and alerts as they arrive at a target on this machine, and says where the board is.

    Example: fallow demo
    """
    from monitor.cli.demo import run_demo

    run_demo(home)


def init(
    name: Annotated[str | None, typer.Option(metavar="NAME", help="The athlete's name.")] = None,
    athlete: Annotated[str | None, typer.Option("--athlete", metavar="ID", help="Id; else from the name.")] = None,
    folder: Annotated[str | None, typer.Option(metavar="DIR", help="Where the exports land.")] = None,
    timezone: Annotated[str | None, typer.Option(metavar="ZONE", help="As Europe/Oslo; else this machine's.")] = None,
    born: Annotated[int | None, typer.Option(metavar="YEAR", help="Year of birth, only for estimates.")] = None,
    sex: Annotated[str | None, typer.Option(metavar="female|male", help="Only for the weighting of load.")] = None,
    hr_max: Annotated[int | None, typer.Option(metavar="BPM", help="Highest heart rate, measured.")] = None,
    hr_rest: Annotated[int | None, typer.Option(metavar="BPM", help="Resting heart rate; else learned.")] = None,
    event: Annotated[str | None, typer.Option(metavar="EVENT", help="The race: 10k, half, marathon, ...")] = None,
    distance_km: Annotated[float | None, typer.Option(metavar="KM", help="For the event `custom`.")] = None,
    finish: Annotated[str | None, typer.Option(metavar="TIME", help="Its finish, local time.")] = None,
    result: Annotated[str | None, typer.Option(metavar="H:MM:SS", help="Its result.")] = None,
    taper_days: Annotated[int | None, typer.Option(metavar="DAYS", help="How long the taper was.")] = None,
    condition: Annotated[list[str] | None, typer.Option(metavar="WORD", help="heat, hills, ...; repeatable.")] = None,
    alert: Annotated[list[str] | None, typer.Option(metavar="URL", help="Where alerts go; repeatable.")] = None,
    contact: Annotated[
        str | None, typer.Option(metavar="ID", help="Who gets them, beside the coach who is there; else the athlete.")
    ] = None,
    contact_name: Annotated[str | None, typer.Option(metavar="NAME", help="The name of who gets them.")] = None,
    receives: Annotated[
        str | None, typer.Option(metavar="SEVERITY", help="Least severity sent: note, caution (default), stop.")
    ] = None,
    quiet_hours: Annotated[
        str | None, typer.Option(metavar="SPAN", help=f"No alert but `stop` then; of a new roster. [{QUIET_HOURS}]")
    ] = None,
    send: Annotated[bool, typer.Option("--send", help="Send one test message.")] = False,
    home: HomeOption = None,
) -> None:
    """Put an athlete on the roster by asking.

    Or from flags. A second athlete is one more `init`; with the --athlete of one who is there, a race or a contact is
    added. What stands there otherwise is not changed.

    Example: fallow init --name "Runa Vik" --hr-max 188 --event marathon --finish 2026-10-04T13:47
    """
    from monitor import initialise as making
    from monitor.cli.interview import InitFlags

    where = find_home(home)
    known = making.known_roster(where, os.environ)
    if known is not None and quiet_hours is not None:
        raise WrongUse(words.interview.QUIET_HOURS_ARE_SET.format(roster=where.roster))
    _tell_unset(alert or (), send=send)
    answers = InitFlags(
        name, athlete, folder, timezone, born, sex, hr_max, hr_rest, event, distance_km, finish, result, taper_days,
        tuple(condition or ()), tuple(alert or ()), contact, contact_name, receives,
    )  # fmt: skip
    if known is not None and athlete is not None and known.athlete(athlete) is not None:
        _extend(answers, known, where, send=send)
        return
    new, told = _completed(answers, known, where)
    text, roster = making.roster_with(where, new, told, quiet_hours or QUIET_HOURS, os.environ)
    _who_is_told(roster, new.id)
    _confirmed()
    there = making.folder_path(where, new.folder).is_dir()
    made = making.make_folder(where, new.folder)
    making.write_roster(where, text)
    screen.say_path(words.interview.ADDED_TO.format(name=screen.plain(new.name)), where.roster)
    screen.say_path(words.interview.EXPORTS_GO_TO, made)
    screen.say(_exports(made, roster, there=there))
    _preview_tables(context.athlete_of(roster, new.id))
    _show_plan(where, roster, new.id)
    if send or (
        (told.new or told.addresses) and screen.can_ask() and screen.yes(words.interview.ASK_SEND_TEST, default=True)
    ):
        _send_tests(where, new.contacts)
    if not new.contacts:
        screen.say(words.interview.NOBODY_IS_TOLD_YET.format(name=where.roster.name))
    screen.say(words.interview.WHAT_NEXT)
    if path := known_by_path():
        screen.say(path)


def _tell_unset(urls: Sequence[str], *, send: bool) -> None:
    """Report variables that are not set before asking any question."""
    from monitor.roster.read import unset

    missing = list(dict.fromkeys(name for url in urls for name in unset(url, os.environ)))
    if not missing:
        return
    named = ", ".join(f"${{{name}}}" for name in missing)
    said = words.interview.ALERT_NOT_SET.format(named=named)
    if send:
        raise WrongUse(words.interview.SET_AND_START_AGAIN.format(said=said))
    screen.warn(words.interview.SET_BEFORE_WATCH.format(said=said))


def _extend(answers: InitFlags, known: Roster, home: Home, *, send: bool) -> None:
    """Add a race or a contact to an athlete who stands on the roster."""
    from monitor import initialise as making
    from monitor.cli.interview import addition

    athlete_id, races, told = addition(answers, known)
    text, roster = making.roster_extended(home, athlete_id, races, told, os.environ)
    _who_is_told(roster, athlete_id)
    _confirmed()
    making.write_roster(home, text)
    screen.say_path(
        words.interview.CHANGED_IN.format(name=screen.plain(context.athlete_of(roster, athlete_id).athlete.name)),
        home.roster,
    )
    if races:
        _show_plan(home, roster, athlete_id)
    if send:
        _send_tests(home, told.ids)


def _who_is_told(roster: Roster, athlete_id: str) -> None:
    """Who will be told what of an athlete, before it is written."""
    from monitor.alerts.channels import shown

    for contact in roster.contacts_of(athlete_id):
        least = {1: "everything", 2: words.interview.FROM_CAUTION, 3: words.interview.FROM_STOP}[int(contact.receives)]
        places = ", ".join(map(shown, contact.urls))
        screen.say(
            words.interview.TOLD_OF.format(
                athlete_id=athlete_id, name=contact.name, id=contact.id, least=least, places=places
            ),
            hang="  ",
        )


def _confirmed() -> None:
    """Ask for confirmation in a terminal; no ends the command with nothing changed."""
    if screen.can_ask() and not screen.yes("Write it?", default=True):
        screen.warn(words.interview.STOPPED)
        raise typer.Exit(130)


def _completed(answers: InitFlags, known: Roster | None, home: Home) -> tuple[making.NewAthlete, making.Recipients]:
    """The flags completed by questions; stopping in the middle changes nothing, and says so."""
    from monitor.cli.interview import complete

    try:
        return complete(answers, known, home)
    except (KeyboardInterrupt, EOFError):
        print(file=sys.stderr)
        screen.warn(words.interview.STOPPED)
        raise typer.Exit(130) from None


def _exports(folder: Path, roster: Roster, *, there: bool) -> str:
    """What is in the folder of the exports, and what becomes of it."""
    from monitor.folders.listing import look

    if not there:
        return words.interview.FOLDER_MADE
    files = len(look(folder).files)
    if not files:
        return words.interview.FOLDER_EMPTY
    late = words.interview.OLD_IS_NOT_SENT.format(late_after_days=roster.alerts.late_after_days)
    return words.interview.FILES_THERE.format(files=amounts.counted(files, "file"), late=late)


def _preview_tables(athlete: RosterAthlete) -> None:
    """How the tables that lie in the folder already will be read."""
    from monitor.cli import status
    from monitor.doctor import tables_in

    for table in tables_in(athlete.folder, athlete.options):
        print()
        if table.made is None:
            screen.say(f"{table.relative}: {table.reason}.", hang="  ")
            continue
        status.print_preview(Path(table.relative), table.made)
        if table.alike > 1:
            screen.say(words.interview.TABLES_ALIKE.format(alike=amounts.counted(table.alike - 1, "table")))


def _show_plan(home: Home, roster: Roster, athlete_id: str) -> None:
    from monitor.cli.plans import show_plan

    athlete = context.athlete_of(roster, athlete_id)
    if athlete.athlete.races:
        print()
        show_plan(home, roster, athlete, datetime.now(UTC))
        screen.say(words.interview.SEE_PLAN.format(athlete_id=athlete_id))
        print()


def _send_tests(home: Home, contact_ids: Collection[str]) -> None:
    from monitor import doctor as checks
    from monitor.alerts.channels import AppriseSender

    roster = checks.roster_as_far_as_set(home, os.environ)
    named = [channel for channel in checks.check_channels(roster, contact_ids) if channel.state == "wrong"]
    _print_checks([*named, *checks.try_channels(roster, AppriseSender(), contact_ids)])


def doctor(
    send: Annotated[bool, typer.Option("--send", help="Send one test message to every contact.")] = False,
    cron: Annotated[
        bool, typer.Option("--cron", help="Print a crontab line with whole paths; keeps the secrets for it.")
    ] = False,
    json: JsonOption = False,
    home: HomeOption = None,
) -> None:
    """Check all that must be right for alerts to come.

    Roster, folders, channels, store, disk, clock, daemon: what is fine, what is not, and what to do. The status is 1
    when something keeps the work from being done. With --cron: only the line that a crontab needs; secrets that the
    roster names are kept in fallow.env in the home folder, readable by you alone.

    Example: fallow doctor --send
    """
    from monitor import doctor as checks
    from monitor.alerts.channels import AppriseSender

    where = find_home(home)
    if cron:
        _print_cron(where)
        return
    roster = checks.roster_as_far_as_set(where, os.environ)
    found = [*checks.examine(where, roster, datetime.now(UTC)), *checks.check_channels(roster)]
    if send:
        found += checks.try_channels(roster, AppriseSender())
    if json:
        screen.as_json([check.as_json() for check in found])
    else:
        _print_checks(found)
    if any(check.state == "wrong" for check in found):
        raise typer.Exit(1)


def _print_cron(home: Home) -> None:
    """The line alone on standard output, so that it can be piped; what was kept where on standard error."""

    names = names_needed(context.roster_of(home))
    if missing := [name for name in names if name not in os.environ]:
        named = ", ".join(f"${{{name}}}" for name in missing)
        raise WrongUse(words.interview.SECRET_NOT_SET.format(named=named))
    secrets = keep_secrets(home, names, os.environ)
    if secrets is not None:
        screen.warn(words.interview.SECRETS_KEPT.format(names=", ".join(names), secrets=secrets))
    print(crontab_line(home, this_program(), secrets))


def _print_checks(found: Sequence[Check]) -> None:
    """One line for each check, one for all of an athlete; the same remedy in a row is printed once."""
    lines = [line for _, checks in groupby(found, key=lambda check: check.athlete) for line in _as_lines(list(checks))]
    for number, (state, what, says, do) in enumerate(lines):
        screen.say(f"{'WRONG' if state == 'wrong' else state:<5}  {what}: {says}", hang=" " * 7)
        after = lines[number + 1] if number + 1 < len(lines) else None
        if do and state != "fine" and (after is None or (after[0], after[3]) != (state, do)):
            screen.say(f"-> {do}", indent=" " * 7, hang=" " * 10)


def _as_lines(checks: list[Check]) -> Iterator[tuple[str, str, str, str]]:
    """(state, what, text, remedy): one line for an athlete, unless something is wrong there."""
    if not checks[0].athlete or any(check.state == "wrong" for check in checks):
        yield from ((check.state, check.what, check.says, check.do) for check in checks)
        return
    odd = [check for check in checks if check.state == "note"]
    says = "; ".join(check.says for check in checks)
    yield "note" if odd else "fine", checks[0].athlete, says, "; ".join(check.do for check in odd)
