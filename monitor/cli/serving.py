"""`fallow serve` and `fallow link`: the pages that people open on their phones, and the links to them."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from monitor import words
from monitor.cli import context, screen
from monitor.cli.context import AsOfOption, HomeOption, JsonOption
from monitor.errors import WorkFailed, WrongUse
from monitor.home import Home, find_home
from rules.words import amounts

if TYPE_CHECKING:
    from monitor.pages.links import PageOwner
    from monitor.roster import Roster


def serve(
    with_parent: Annotated[bool, typer.Option("--with-parent", hidden=True)] = False,
    as_of: AsOfOption = None,
    home: HomeOption = None,
) -> None:
    """Serve the pages on which athletes and coaches read and answer.

    Where the roster has [page]. A process of its own beside `fallow watch`, or started by `fallow watch --serve`. Only
    who was given a personal link (`fallow link ID`) gets in.

    Example: fallow serve
    """
    from monitor.pages.server import begin_anew, run_serve
    from rules.limits import default_limits

    where = find_home(home)
    with context.without_roster_values(where):
        roster = context.roster_of(where)
        if run_serve(where, roster, context.clock_of(as_of), default_limits(), _say, with_parent=with_parent):
            begin_anew(command_of(where, as_of, with_parent=with_parent))


def _say(line: str) -> None:
    print(line, flush=True)


def command_of(home: Home, as_of: str | None, *, with_parent: bool = True) -> list[str]:
    """The command line of `fallow serve`, for `watch --serve` and for its own restart."""
    more = [*(["--with-parent"] if with_parent else []), *(["--as-of", as_of] if as_of else [])]
    return [sys.executable, "-P", "-m", "monitor.cli.main", "serve", "--home", str(home.path), *more]


def link(
    person: Annotated[
        str | None, typer.Argument(metavar="ID", help="An athlete, or a coach, of the roster; without it, who has one.")
    ] = None,
    revoke: Annotated[bool, typer.Option("--revoke", help="Make the link void, and close what it opened.")] = False,
    png: Annotated[
        Path | None, typer.Option("--png", metavar="FILE", help="Write the link as a QR code to a picture.")
    ] = None,
    json: JsonOption = False,
    home: HomeOption = None,
) -> None:
    """Make somebody's personal link to the pages.

    As text and as a QR code. Whoever has it is the person: hand it over as you would a key. A new one makes the
    one before void. Only a hash is kept, so it is shown this once. Without ID: who has a link, and
    when it was last used.

    Example: fallow link runa
    """
    where = find_home(home)
    roster = context.roster_of(where)
    if person is None:
        if revoke or png is not None:
            raise WrongUse(words.commands.WHOSE_LINK)
        _list(where, roster, json=json)
        return
    from monitor.pages.links import Links, reader_of

    reader = reader_of(roster, person)
    links = Links(where)
    if revoke:
        there = links.revoke(reader)
        if json:
            screen.as_json({"id": reader.id, "kind": reader.kind, "revoked": there})
        else:
            screen.say(
                f"{_name(roster, reader)}: " + (words.commands.LINK_IS_VOID if there else words.commands.HAD_NO_LINK)
            )
        return
    _make(links, roster, reader, png, json=json)


def _make(links: Any, roster: Roster, reader: PageOwner, png: Path | None, *, json: bool) -> None:
    from monitor.pages.server import page_of

    page = page_of(roster)
    before = reader.name in links.all()
    _folders(roster, reader)
    address = f"{page.url or page.here}/k/{links.make(reader, datetime.now(UTC))}"
    if png is not None:
        _write_png(address, png)
    if json:
        screen.as_json({"id": reader.id, "kind": reader.kind, "link": address, "png": str(png) if png else None})
        return
    screen.say(words.commands.PERSONAL_LINK.format(name=_name(roster, reader)))
    print(address)
    if png is not None:
        screen.say_path(words.commands.LINK_PICTURE, png)
    elif sys.stdout.isatty():
        import segno

        segno.make(address, error="m").terminal(compact=True)
    if before:
        screen.say(words.commands.OLD_LINK_IS_VOID)
    if not page.url:
        screen.say(words.commands.LINK_OF_THIS_MACHINE)


def _folders(roster: Roster, reader: PageOwner) -> None:
    """Make the folders for check-ins and uploads, so that the server needs no right to make folders."""
    from monitor.checkins import SUBFOLDER
    from monitor.pages.page_facts import RECEIVED

    athlete = roster.athlete(reader.id) if reader.kind == "athlete" else None
    if athlete is None or not athlete.folder.is_dir():
        return
    for name in (SUBFOLDER, RECEIVED):
        try:
            (athlete.folder / name).mkdir(mode=0o700, exist_ok=True)
        except OSError as error:
            screen.warn(words.commands.FOLDER_NOT_MADE.format(folder=athlete.folder / name, why=error.strerror))


def _write_png(address: str, path: Path) -> None:
    """Readable by its owner only: whoever sees the picture has the link."""
    import io

    import segno

    from monitor.home import replace_file

    try:
        picture = io.BytesIO()
        segno.make(address, error="m").save(picture, kind="png", scale=8, border=4)
        replace_file(path, picture.getvalue())
    except OSError as error:
        raise WorkFailed(words.commands.PICTURE_NOT_WRITTEN.format(path=path, why=error.strerror)) from None


def _list(home: Home, roster: Roster, *, json: bool) -> None:
    from monitor.pages.links import Links, feeds_of, reader_named, used_at

    used, every = used_at(home), Links(home).all()
    rows = [
        {
            "id": reader.id,
            "kind": reader.kind,
            "name": _name(roster, reader),
            "made_at": one.made_at,
            "used_at": used.get(name),
            "calendars": sum(name_of_link.startswith(feeds_of(reader)) for name_of_link in every),
        }
        for name, one in every.items()
        if (reader := reader_named(name)) is not None
    ]
    if json:
        screen.as_json(rows)
        return
    if not rows:
        screen.say(words.commands.NO_LINKS)
    for row in rows:
        last = (
            words.commands.LINK_LAST_USED.format(moment=str(row["used_at"])[:16].replace("T", " "))
            if row["used_at"]
            else words.commands.LINK_UNUSED
        )
        feeds = f", {amounts.counted(int(row['calendars'] or 0), 'calendar')}" if row["calendars"] else ""
        screen.say(f"{row['name']} ({row['kind']} {row['id']}): made {str(row['made_at'])[:10]}, {last}{feeds}")


def _name(roster: Roster, reader: PageOwner) -> str:
    if reader.kind == "coach":
        contact = roster.contact(reader.id)
        return contact.name if contact else reader.id
    athlete = roster.athlete(reader.id)
    return athlete.athlete.name if athlete else reader.id
