"""Checks of everything that must be right for an alert to come: each says what is fine, what is not, and what to do."""

from __future__ import annotations

import re
import shutil
import socket
from collections import UserDict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from monitor import words
from monitor.daemon.daemon_state import read_state
from monitor.errors import FallowError, Unreadable
from monitor.folders.listing import look
from monitor.home import Home
from monitor.roster import Roster, RosterAthlete, read_roster
from monitor.roster.mistakes import hint
from monitor.store import outbox
from monitor.store.database import Store, StoreNewer
from monitor.store.journal import Journal
from monitor.values import IntakeOptions, as_name
from rules.limits import default_limits

if TYPE_CHECKING:
    from monitor.alerts.channels import Send
    from monitor.intake.nights_csv import Preview

State = Literal["fine", "note", "wrong"]
MINUTES_AN_HOUR = 60
LITTLE_DISK_BYTES = 1_000_000_000
NO_DISK_BYTES = 50_000_000
EARLIEST_CLOCK = datetime(2025, 1, 1, tzinfo=UTC)
CLOCK_AHEAD = timedelta(hours=26)
QUIET_DAEMON = timedelta(minutes=15)
HEAD_BYTES = 1 << 16
ANSWER_SECONDS = 1.0
MOST_TABLES = 50
"""Tables of a folder that are looked at, the newest; years of exports share a few headers."""


@dataclass(frozen=True, slots=True)
class Check:
    """One line: what was looked at, how it stands, and what to do where it is not fine."""

    what: str
    state: State
    says: str
    do: str = ""
    athlete: str = ""  # whose, where it is told with what else there is of the athlete

    def as_json(self) -> dict[str, Any]:
        return {key: value for key, value in asdict(self).items() if key != "athlete"}


def examine(home: Home, roster: Roster, wall: datetime) -> Iterator[Check]:
    """All checks but those that send something."""
    yield check_roster(roster)
    for athlete in roster.athletes:
        yield from check_athlete(athlete, wall)
    yield check_store(home)
    yield check_outbox(home)
    yield from check_journal(home)
    yield check_disk(home)
    yield check_clock(wall)
    yield check_decoder()
    yield check_daemon(home, wall)
    yield from check_page(home, roster)


def check_roster(roster: Roster) -> Check:
    says = words.doctor.ROSTER_COUNTS.format(
        athletes=len(roster.athletes), contacts=len(roster.contacts), path=roster.path
    )
    if not roster.athletes:
        return Check("roster", "wrong", says, words.doctor.ADD_ATHLETE)
    unheard = [athlete.id for athlete in roster.athletes if not athlete.contacts]
    if unheard:
        return Check(
            "roster",
            "note",
            words.doctor.NOBODY_IS_TOLD.format(unheard=", ".join(unheard)),
            words.doctor.GIVE_CONTACTS,
        )
    return Check("roster", "fine", says)


def check_athlete(athlete: RosterAthlete, wall: datetime) -> Iterator[Check]:
    """Folder and what the roster knows of one athlete, which are told on one line; then the tables of the folder."""
    yield replace(_check_folder(athlete, wall), athlete=athlete.id)
    yield replace(_check_limits(athlete, wall), athlete=athlete.id)
    yield from check_tables(athlete)


def _check_limits(athlete: RosterAthlete, wall: datetime) -> Check:
    one = athlete.athlete
    what = f"{athlete.id}: limits"
    if not one.races:
        return Check(what, "note", words.doctor.NO_RACE, words.doctor.ADD_RACE)
    ahead = max((race.finish - wall).days for race in one.races)
    if ahead > default_limits().roster.finish_asked_days:
        return Check(what, "note", words.doctor.RACE_FAR_AHEAD.format(ahead=ahead), words.doctor.CORRECT_RACE_YEAR)
    if one.hr_max is None and one.intensity_model in ("hrmax", "hrr"):
        if one.born is None:
            do = words.doctor.MEASURE_HR_MAX
            return Check(what, "note", words.doctor.NO_HR_MAX, do)
        do = words.doctor.MEASURE_FOR_SURE
        return Check(what, "note", words.doctor.HR_MAX_IS_ESTIMATED, do)
    return Check(what, "fine", f"races: {len(one.races)}, model {one.intensity_model}")


def _check_folder(athlete: RosterAthlete, wall: datetime) -> Check:
    what = f"{athlete.id}: folder"
    listing = look(athlete.folder)
    if listing.missing is not None:
        return Check(what, "wrong", f"{athlete.folder}: {listing.missing}", words.doctor.CREATE_OR_MOUNT)
    from monitor.folders.events import mount_of  # noqa: PLC0415 - `status` asks after the daemon alone

    heard = athlete.watch == "events" or (athlete.watch == "auto" and mount_of(athlete.folder).tells)
    way = words.doctor.LISTENED_TO if heard else words.doctor.POLLED
    if not listing.files:
        return Check(
            what, "note", words.doctor.NO_KNOWN_FILE.format(folder=athlete.folder), words.doctor.LET_EXPORTS_LAND
        )
    newest = datetime.fromtimestamp(max(seen.mtime_ns for seen in listing.files) / 1e9, UTC)
    says = words.doctor.FOLDER_COUNTS.format(
        files=len(listing.files), newest=newest.astimezone(athlete.athlete.zone), way=way
    )
    if newest > wall + CLOCK_AHEAD:
        return Check(
            what,
            "note",
            words.doctor.FILE_IN_FUTURE.format(says=says),
            words.doctor.CHECK_CLOCK,
        )
    return Check(what, "fine", says)


@dataclass(frozen=True, slots=True)
class FolderTable:
    """A table that lies in a folder: how it would be read, or why it cannot be; and how many have the same header."""

    relative: str
    made: Preview | None
    reason: str
    alike: int


def tables_in(folder: Path, options: IntakeOptions) -> list[FolderTable]:
    """The newest table of each header in a folder, by its first rows."""
    found: dict[object, FolderTable] = {}
    tables = [seen for seen in look(folder, (".csv",)).files if seen.size]
    for seen in sorted(tables, key=lambda file: (-file.mtime_ns, file.relative))[:MOST_TABLES]:
        table = _looked_at(folder, seen.relative, options)
        key = (table.made.understood, table.made.passed_over) if table.made else table.reason
        before = found.get(key)
        found[key] = replace(before, alike=before.alike + 1) if before else table
    return list(found.values())


def _looked_at(folder: Path, relative: str, options: IntakeOptions) -> FolderTable:
    from monitor.intake import nights_csv  # noqa: PLC0415 - `status` asks after the daemon alone

    try:
        with (folder / as_name(relative)).open("rb") as file:
            head = file.read(HEAD_BYTES)
        whole = head if len(head) < HEAD_BYTES else head[: head.rfind(b"\n") + 1]
        return FolderTable(relative, nights_csv.preview(whole, options.of(relative)), "", 1)
    except OSError as error:
        return FolderTable(relative, None, error.strerror or words.doctor.UNREADABLE, 1)
    except Unreadable as reason:
        return FolderTable(relative, None, str(reason), 1)


def check_tables(athlete: RosterAthlete) -> Iterator[Check]:
    """How the tables in an athlete's folder are read: one line for each header."""
    for table in tables_in(athlete.folder, athlete.options):
        what = f"{athlete.id}: {table.relative}" + (
            words.doctor.FILES_ALIKE.format(alike=table.alike - 1) if table.alike > 1 else ""
        )
        if table.made is None:
            do = words.doctor.NAME_COLUMNS
            yield Check(what, "note", table.reason, do)
            continue
        columns = ", ".join(
            f"{header} as {field}" + (f" in {unit}" if unit else "") for header, field, unit in table.made.understood
        )
        passed = f"; passed over: {', '.join(table.made.passed_over)}" if table.made.passed_over else ""
        yield Check(what, "fine", words.doctor.SEE_PREVIEW.format(columns=columns, passed=passed))


def check_store(home: Home) -> Check:
    if not home.store.exists():
        return Check("store", "fine", words.doctor.NO_STORE_YET)
    try:
        with Store(home.store).reading() as con:
            row = con.execute("SELECT (SELECT count(*) FROM session), (SELECT count(*) FROM finding)").fetchone()
            mended = con.execute("SELECT what, rows FROM mended ORDER BY what").fetchall()
    except StoreNewer as error:
        return Check("store", "wrong", str(error), words.doctor.UPDATE_FALLOW)
    except FallowError as error:
        return Check("store", "wrong", str(error), words.doctor.REBUILD)
    sessions, found = row or (0, 0)
    says = words.doctor.STORE_COUNTS.format(sessions=sessions, found=found, megabytes=home.store.stat().st_size / 1e6)
    if mended:
        taken_out = ", ".join(f"{what} {count}" for what, count in mended)
        rows = sum(count for _, count in mended)
        says += words.doctor.UPGRADE_TOOK_OUT_ROWS.format(rows=rows, taken_out=taken_out)
        return Check("store", "note", says, words.doctor.ROWS_ARE_READ_AGAIN)
    return Check("store", "fine", says)


def check_outbox(home: Home) -> Check:
    if not home.store.exists():
        return Check("alerts", "fine", "none yet")
    try:
        with Store(home.store).reading() as con:
            counts = outbox.counts(con)
    except FallowError as error:
        return Check("alerts", "wrong", str(error))
    says = ", ".join(f"{count} {state}" for state, count in sorted(counts.items())) or "none yet"
    if counts.get("failed"):
        return Check("alerts", "wrong", says, words.doctor.OUTBOX_SHOWS_WHY)
    if counts.get("waiting"):
        return Check("alerts", "note", says, words.doctor.OUTBOX_SHOWS_WHAT)
    return Check("alerts", "fine", says)


def check_journal(home: Home) -> Iterator[Check]:
    """Whether a store was begun without some of the journal's lines; nothing where it was not."""
    odd = Journal(home.journal).odd
    if odd.exists():
        lines = odd.read_bytes().count(b"\n")
        says = words.doctor.odd_lines(lines, odd.name)
        yield Check("journal", "note", says, words.doctor.ODD_LINES)


def check_disk(home: Home) -> Check:
    place = next(path for path in (home.path, *home.path.parents) if path.exists())
    free = shutil.disk_usage(place).free
    says = words.doctor.DISK_FREE.format(free=free / 1e9, place=place)
    if free < NO_DISK_BYTES:
        return Check("disk", "wrong", says, words.doctor.FREE_SPACE)
    if free < LITTLE_DISK_BYTES:
        return Check("disk", "note", says, words.doctor.FREE_SPACE_SOON)
    return Check("disk", "fine", says)


def check_clock(wall: datetime) -> Check:
    says = f"{wall.astimezone():%Y-%m-%d %H:%M %Z}"
    if wall < EARLIEST_CLOCK:
        return Check("clock", "wrong", says, words.doctor.SET_CLOCK)
    return Check("clock", "fine", says)


def check_decoder() -> Check:
    if find_spec("fitfast") is None:
        return Check("FIT decoder", "note", words.doctor.FITPARSE_ONLY, words.doctor.NO_FAST_DECODER)
    return Check("FIT decoder", "fine", words.doctor.BOTH_DECODERS)


def check_daemon(home: Home, wall: datetime) -> Check:
    state = read_state(home)
    if state is None or not state.running:
        return Check("daemon", "note", "not running", words.doctor.START_WATCH)
    since = f"running since {state.started_at.astimezone():%Y-%m-%d %H:%M}"
    if state.roster_error:
        return Check(
            "daemon",
            "wrong",
            words.doctor.LAST_GOOD_ROSTER.format(since=since, roster_error=words.of_stored(state.roster_error)),
            words.doctor.MEND_ROSTER,
        )
    if state.trouble:
        return Check("daemon", "wrong", f"{since}; {words.of_stored(state.trouble)}", f"see {home.log}")
    if state.last_pass_at and wall - state.last_pass_at > QUIET_DAEMON:
        return Check(
            "daemon",
            "wrong",
            words.doctor.LAST_PASS.format(since=since, ago=_ago(wall - state.last_pass_at)),
            "restart it",
        )
    return Check("daemon", "fine", f"{since}, folders: {state.folders}")


def check_page(home: Home, roster: Roster) -> Iterator[Check]:
    """Whether anybody answers where the roster has pages, and whether anybody can get in."""
    page = roster.page
    if page is None:
        return
    try:
        with socket.create_connection((page.host, page.port), ANSWER_SECONDS):
            pass
    except OSError:
        start = words.doctor.START_SERVE
        yield Check("pages", "note", words.doctor.NOBODY_ANSWERS.format(here=page.here), start)
        return
    says = f"answer on {page.here}" + (f", for {page.url}" if page.url else words.doctor.ON_THIS_MACHINE)
    if not home.links.exists():
        yield Check("pages", "note", words.doctor.NO_LINK.format(says=says), words.doctor.MAKE_LINK)
    elif not page.url.startswith("https://") and page.insecure:
        yield Check("pages", "note", f"{says}, without https", words.doctor.PRIVATE_NETWORK_ONLY)
    else:
        yield Check("pages", "fine", says)


def _ago(span: timedelta) -> str:
    minutes = int(span.total_seconds() // 60)
    return f"{minutes // 60} h {minutes % 60} min" if minutes >= MINUTES_AN_HOUR else f"{minutes} min"


class _AsFarAsSet(UserDict[str, str]):
    """An environment in which a name that is not set stands for itself: one missing secret hides no other check."""

    def __contains__(self, name: object) -> bool:
        return True

    def __missing__(self, name: str) -> str:
        return f"${{{name}}}"


def roster_as_far_as_set(home: Home, environment: Mapping[str, str]) -> Roster:
    """The roster with the secrets that are set filled in; RosterError for anything else that is wrong with it."""
    return read_roster(home.roster, _AsFarAsSet(environment), resolve=True)


def check_channels(roster: Roster, contact_ids: Collection[str] | None = None) -> Iterator[Check]:
    """Every channel of a roster with its secrets filled in, or those of the contacts named; nothing is sent."""
    from monitor.alerts import channels  # noqa: PLC0415 - as above

    for contact in roster.contacts:
        if contact_ids is not None and contact.id not in contact_ids:
            continue
        for number, url in enumerate(contact.urls, start=1):
            what = f"{contact.id}: channel {number}"
            unset = re.findall(r"\$\{\w+\}", url)
            reason = words.doctor.SECRET_NOT_SET.format(unset=", ".join(unset)) if unset else channels.check_url(url)
            if reason is None and (missing := channels.lacks(url)):
                do = words.doctor.INSTALL_LIBRARY
                yield Check(what, "wrong", f"{channels.shown(url)}: {missing}", do)
            elif reason is None:
                yield Check(what, "fine", words.doctor.NOT_TRIED.format(url=channels.shown(url)))
            else:
                do = words.doctor.SET_WHERE_FALLOW_RUNS if unset else words.doctor.CORRECT_URLS.format(url=hint(url))
                yield Check(what, "wrong", f"{channels.shown(url)}: {reason}", do)


def try_channels(roster: Roster, send: Send, contact_ids: Collection[str] | None = None) -> Iterator[Check]:
    """Send one test message to every channel, or to those of the contacts named."""
    from monitor.alerts import channels  # noqa: PLC0415 - as above

    for contact in roster.contacts:
        if contact_ids is not None and contact.id not in contact_ids:
            continue
        for number, url in enumerate(contact.urls, start=1):
            if channels.check_url(url) is not None or channels.lacks(url) is not None:
                continue  # said already
            recipients = channels.recipients_of(url) or ("",)
            for turn, recipient in enumerate(recipients, start=1):
                result = send(url, words.doctor.TEST_TITLE, words.doctor.TEST_BODY, recipient=recipient)
                whom = f", recipient {turn} of {len(recipients)}" if recipient else ""
                what = f"{contact.id}: test message {number}{whom}"
                if result:
                    yield Check(what, "fine", f"{channels.shown(url)} took it")
                else:
                    do = words.sending.WHAT_TO_DO[result.trouble or "unknown"]
                    yield Check(what, "wrong", f"{channels.shown(url)}: {result.error}", do)
