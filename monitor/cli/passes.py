"""`fallow scan`, `watch`, `rebuild`, `board`: reading, judging and sending, once or until stopped."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TextIO

import typer

from monitor import words
from monitor.cli import context, screen
from monitor.cli.context import AsOfOption, HomeOption, JsonOption
from monitor.errors import FallowError
from monitor.home import Home, find_home
from rules.words import amounts

if TYPE_CHECKING:
    from rich.progress import Progress

    from monitor.roster import Roster
    from monitor.scanning import Scanner
    from monitor.single_pass import Pass
    from rules.findings import Finding


# A progress bar for long reads.

WORTH_SHOWING_FILES = 30


@contextmanager
def progress(what: str, total: int, out: TextIO | None = None) -> Iterator[Callable[[int], object]]:
    """A progress bar, on a terminal and for many files only; yields the function that advances it."""
    out = out or sys.stderr
    if total < WORTH_SHOWING_FILES or not out.isatty():
        yield lambda done: None
        return
    with _drawn_on(out, what) as shown:
        task = shown.add_task(what, total=total, rate="")

        def advance(done: int) -> None:
            shown.advance(task, done)
            speed = shown.tasks[0].speed
            shown.update(task, rate=f", {speed:.0f} a second" if speed else "")

        yield advance


def _drawn_on(out: TextIO, what: str) -> Progress:
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    return Progress(
        TextColumn(what),
        BarColumn(bar_width=24),
        MofNCompleteColumn(),
        TextColumn("files{task.fields[rate]}, left"),
        TimeRemainingColumn(),
        console=Console(file=out),
        transient=True,
    )


# The board after a command that changed what it shows.


def write_board(home: Home, roster: Roster, now: datetime) -> Path:
    """board.html as of a moment."""
    from monitor.board import write
    from monitor.store.database import Store
    from rules.limits import default_limits

    return write(home.made(), roster, Store(home.store), now, default_limits())


def refresh_board(
    home: Home,
    roster: Roster,
    now: datetime,
    *,
    there: bool = False,
    let_through: tuple[type[FallowError], ...] = (),
) -> None:
    """Draw the board after other work; an error is only a warning. With `there` only where a board exists already."""
    if there and not home.board.exists():
        return
    try:
        write_board(home, roster, now)
    except let_through:
        raise
    except (OSError, FallowError) as error:
        screen.warn(words.commands.BOARD_NOT_WRITTEN.format(name=home.board.name, error=error))


def open_finding(home: Home, roster: Roster, finding: Finding, now: datetime) -> Path:
    """The page of one finding, opened in the browser where there is one."""
    import webbrowser

    from monitor.board import write_finding
    from monitor.store.database import Store
    from rules.limits import default_limits

    path = write_finding(home, roster, Store(home.store), finding, now, default_limits())
    if not webbrowser.open(path.as_uri()):
        screen.warn(words.commands.NO_BROWSER)
    return path


@contextmanager
def scanner_of(home: Home, as_of: str | None) -> Iterator[tuple[Scanner, Callable[[], None]]]:
    """A scanner with the real channels and the roster's secrets filled in, and what waits for its addresses' check.

    The check loads the sending library, which takes half a second, and goes on beside other work.
    """
    from concurrent.futures import ThreadPoolExecutor

    from monitor.alerts.channels import AppriseSender, check_roster
    from monitor.intake.workers import Workers
    from monitor.scanning import Scanner

    roster = context.roster_of(home, resolve=True)
    with Workers() as workers, ThreadPoolExecutor(1) as aside:
        checked = aside.submit(check_roster, roster)
        yield Scanner(home, roster, context.clock_of(as_of), workers=workers, send=AppriseSender()), checked.result


def scan(as_of: AsOfOption = None, json: JsonOption = False, home: HomeOption = None) -> None:
    """Read what is new, judge it, send what is due; once.

    For cron and scripts.

    Example: fallow scan
    """
    from monitor.single_pass import mended, single_pass
    from monitor.store.connections import kept
    from monitor.store.database import StoreBroken

    where = find_home(home)
    with kept(where.store), scanner_of(where, as_of) as (scanner, checked):

        def whole() -> Pass:
            done = single_pass(scanner, progress, looked=checked)
            now = context.clock_of(as_of).now()
            refresh_board(where, scanner.roster, now, let_through=(StoreBroken,))
            return done

        try:
            done = mended(scanner, whole, screen.warn)
        except KeyboardInterrupt:
            _say_what_was_kept(scanner)
            raise typer.Exit(130) from None
    for athlete_id, reason in done.missing.items():
        screen.warn(words.commands.FOLDER_MISSING.format(athlete_id=athlete_id, reason=reason))
    if json:
        screen.as_json(done.counts())
    else:
        _print_pass(done)
        _print_next(done.counts(), where)
    for what in done.left_out:
        screen.warn(words.commands.NOT_TOLD.format(what=what))
    if done.left_out:
        raise typer.Exit(1)


def _say_what_was_kept(scanner: Scanner) -> None:
    """After Ctrl-C: what is in the store by now, and that the rest comes with the next pass."""
    kept = sum(map(len, scanner.known_of([athlete.id for athlete in scanner.roster.athletes]).values()))
    print(file=sys.stderr)
    screen.warn(words.commands.stopped_reading(kept))


def _print_pass(done: Pass) -> None:
    counts = done.counts()
    became = ", ".join(
        f"{counts[word]} {word}" for word in ("read", "duplicate", "unreadable", "waiting") if counts[word]
    )
    other = words.commands.OTHER_KINDS.format(ignored=counts["ignored"]) if counts["ignored"] else ""
    held = words.shared.held(counts)
    seen = amounts.counted(counts["files_seen"], "file")
    new = counts["files_new"] - counts["ignored"]
    screen.say(f"{seen} seen, {new} new" + (f": {became}" if became else "") + other)
    if held:
        screen.say(words.commands.NEW_IN_THEM.format(held=held))
    found, sent = (
        amounts.counted(counts["findings"], "new finding"),
        amounts.counted(counts["alerts_sent"], "alert"),
    )
    screen.say(f"{found}; {sent} sent, {counts['alerts_waiting']} waiting")


def _print_next(counts: dict[str, int], home: Home) -> None:
    """Which commands show what this pass found."""
    looks = [
        ("findings", words.commands.SEE_FINDINGS),
        ("unreadable", words.commands.SEE_INTAKE),
        ("alerts_waiting", words.commands.SEE_OUTBOX),
    ]
    told = [text for key, text in looks if counts[key]]
    if told:
        screen.say("; ".join(told))
        screen.say_path("board:", home.board)


def watch(
    serve: Annotated[bool, typer.Option("--serve", help="Also serve the pages, in a process beside it.")] = False,
    as_of: AsOfOption = None,
    home: HomeOption = None,
) -> None:
    """Watch all folders until stopped.

    Reads, judges and sends within seconds. Runs in the foreground; Ctrl-C or SIGTERM ends it.

    Example: fallow watch
    """
    from monitor.daemon.run import run_watch

    where, clock = find_home(home), context.clock_of(as_of)

    def scanner(roster: Roster) -> Scanner:
        from monitor.alerts.channels import AppriseSender
        from monitor.intake.workers import Workers
        from monitor.scanning import Scanner

        return Scanner(where, roster, clock, workers=Workers(), send=AppriseSender(), patient=True)

    if sys.stderr.isatty():
        screen.warn(words.commands.WATCH_BEGINS)
    beside = _pages_beside(where, as_of) if serve else nullcontext()
    with context.without_roster_values(where), beside:
        raise typer.Exit(run_watch(where, clock, make_scanner=scanner))


@contextmanager
def _pages_beside(home: Home, as_of: str | None) -> Iterator[None]:
    """`fallow serve` in a process of its own; a roster without a [page] is said at once."""
    from monitor.cli.serving import command_of
    from monitor.pages.server import ServeProcess, page_of

    page_of(context.roster_of(home))
    pages = ServeProcess(command_of(home, as_of))
    pages.start()
    try:
        yield
    finally:
        pages.stop()


def board(
    as_of: AsOfOption = None,
    json: JsonOption = False,
    home: HomeOption = None,
) -> None:
    """Write board.html and print its path.

    One file to open from disk, to print, or to put on any static server.

    Example: fallow board
    """
    it = context.opened(home, as_of=as_of)
    path = write_board(it.home, it.roster, it.now)
    if json:
        screen.as_json({"path": str(path)})
    else:
        print(screen.plain(path))


def rebuild(
    yes: Annotated[bool, typer.Option("--yes", "-y", help="Do not ask.")] = False,
    home: HomeOption = None,
) -> None:
    """Begin a new store from the folders.

    The old one is set aside; holds, marks and what was sent are kept, and nothing is sent twice.

    Example: fallow rebuild
    """
    from monitor import rebuilding

    where = find_home(home)
    context.roster_of(where)
    if (
        not yes
        and screen.can_ask()
        and not screen.yes(words.commands.REBUILD_QUESTION.format(store=where.store), default=False)
    ):
        raise typer.Exit(0)
    try:
        aside = rebuilding.rebuild(where, datetime.now(UTC))
    except KeyboardInterrupt:
        print(file=sys.stderr)
        screen.warn(words.commands.REBUILD_STOPPED)
        raise typer.Exit(130) from None
    kept = words.commands.OLD_STORE_KEPT.format(name=aside.name) if aside else ""
    screen.say(words.commands.REBUILD_BEGUN.format(kept=kept))
