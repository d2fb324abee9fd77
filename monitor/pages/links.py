"""Personal links: who may open the pages. Whoever has the link is the person; only hashes of it are kept.

A link is 256 random bits, so a plain hash of it cannot be guessed back. The cookie that it leads to is made from it,
and kept as a hash too: neither the file of the links nor a cookie gives the link away. Nothing here is part of the
store, so that a store made anew knows the same people.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Literal

from monitor import words
from monitor.board.rendering import put
from monitor.errors import WorkFailed, WrongUse
from monitor.home import Home
from monitor.roster import Roster
from monitor.store import connections

Kind = Literal["athlete", "coach"]
TOKEN_BYTES = 32
USED_APART = timedelta(minutes=10)
"""Between two notes that a link is in use: a list for people asks for no more."""
PATIENCE_SECONDS = 5.0


@dataclass(frozen=True, slots=True)
class PageOwner:
    """Somebody with pages of their own: an athlete, or a coach, who is a contact of the roster."""

    kind: Kind
    id: str

    @property
    def name(self) -> str:
        return f"{self.kind}:{self.id}"


@dataclass(frozen=True, slots=True)
class Feed:
    """An athlete's calendar as somebody subscribes to it, by a link that opens nothing else."""

    reader: PageOwner
    athlete: str
    body: bool  # with what tells of the body

    @property
    def name(self) -> str:
        return f"{feeds_of(self.reader)}{self.athlete}:{'body' if self.body else 'plain'}"


def feeds_of(reader: PageOwner) -> str:
    """How the names of a person's feeds begin."""
    return f"feed:{reader.name}:"


@dataclass(frozen=True, slots=True)
class Link:
    """One person's link, or one feed's. `link` and `session` are hashes, of the link and of the cookie."""

    reader: str
    link: str
    session: str
    made_at: str


def hashed(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def session_of(token: str) -> str:
    """The cookie that a link leads to; it does not lead back."""
    return hashlib.sha256(b"session\x1f" + token.encode("utf-8", "surrogatepass")).hexdigest()


class Links:
    """The links of one home. The file is read again when it has changed: who runs the pages hears of a revoked one."""

    def __init__(self, home: Home) -> None:
        self._home = home
        self._stamp: tuple[int, int, int] | None = None
        self._links: dict[str, Link] = {}
        self._used: dict[str, datetime] = {}

    def make(self, reader: PageOwner, now: datetime) -> str:
        """A new link for a person, in the place of any before; the secret part of it, which is kept nowhere."""
        token, link = _made(reader.name, now)
        self._change(lambda links: {**_without(links, reader), reader.name: link})
        return token

    def revoke(self, reader: PageOwner) -> bool:
        """Make a person's link void, with every page that it opened and every feed; false where there was none."""
        there = reader.name in self._read()
        self._change(lambda links: _without(links, reader))
        return there

    def make_feed(self, feed: Feed, now: datetime) -> str:
        """A new link to a calendar, in the place of those of the same person to the same athlete's."""
        token, link = _made(feed.name, now)
        self._change(lambda links: {**_without_feed(links, feed), feed.name: link})
        return token

    def revoke_feed(self, feed: Feed) -> None:
        self._change(lambda links: _without_feed(links, feed))

    def of_feed(self, token: str) -> Feed | None:
        """Whose calendar a link is to; None for one that never was, and for one that is void."""
        found = self._name_of("link", hashed(token))
        return feed_named(found) if found else None

    def of_token(self, token: str) -> PageOwner | None:
        """Whose link it is; None for one that never was, and for one that is void."""
        return self._whose("link", hashed(token))

    def of_session(self, cookie: str) -> PageOwner | None:
        """Whose cookie it is."""
        return self._whose("session", hashed(cookie))

    def all(self) -> dict[str, Link]:
        """Name of a reader -> link."""
        return dict(self._read())

    def note_used(self, reader: PageOwner | Feed, now: datetime) -> None:
        """Remember that a link was used, now and then; a full disk costs the note."""
        last = self._used.get(reader.name)
        if last is not None and timedelta() <= now - last < USED_APART:
            return
        self._used[reader.name] = now
        known = used_at(self._home)
        try:
            put(self._home.links_used, json.dumps({**known, reader.name: now.astimezone(UTC).isoformat()}, indent=1))
        except OSError:
            return

    def _whose(self, kind: str, digest: str) -> PageOwner | None:
        """Compared with each in a time that tells nothing of how alike they are."""
        found = self._name_of(kind, digest)
        return reader_named(found) if found else None

    def _name_of(self, kind: str, digest: str) -> str | None:
        found = None
        for link in self._read().values():
            if secrets.compare_digest(getattr(link, kind), digest):
                found = link.reader
        return found

    def _read(self) -> Mapping[str, Link]:
        stamp = _stamp(self._home.links)
        if stamp != self._stamp or stamp is None:
            self._links, self._stamp = _load(self._home.links), stamp
        return self._links

    def _change(self, change: Callable[[dict[str, Link]], dict[str, Link]]) -> None:
        """One change at a time, whichever process makes it."""
        self._home.made()
        try:
            with connections.alone(self._home.links, PATIENCE_SECONDS):
                links = change(_load(self._home.links, strict=True))
                text = json.dumps([asdict(link) for link in links.values()], indent=1) + "\n"
                put(self._home.links, text)
        except OSError as error:
            raise WorkFailed(words.pages.LINKS_NOT_WRITTEN.format(links=self._home.links, why=error.strerror)) from None
        self._stamp = None


def _made(name: str, now: datetime) -> tuple[str, Link]:
    token = secrets.token_urlsafe(TOKEN_BYTES)
    return token, Link(name, hashed(token), hashed(session_of(token)), now.astimezone(UTC).isoformat())


def _without(links: Mapping[str, Link], reader: PageOwner) -> dict[str, Link]:
    """Without a person's link, and without the feeds that whoever had it may have made."""
    begins = feeds_of(reader)
    return {name: link for name, link in links.items() if name != reader.name and not name.startswith(begins)}


def _without_feed(links: Mapping[str, Link], feed: Feed) -> dict[str, Link]:
    begins = f"{feeds_of(feed.reader)}{feed.athlete}:"
    return {name: link for name, link in links.items() if not name.startswith(begins)}


def feed_named(name: str) -> Feed | None:
    parts = name.split(":")
    match parts:
        case ["feed", kind, reader_id, athlete, what] if reader := reader_named(f"{kind}:{reader_id}"):
            return Feed(reader, athlete, what == "body")
    return None


def used_at(home: Home) -> dict[str, str]:
    """Name of a reader -> when the link was last used, ISO 8601, UTC."""
    try:
        said = json.loads(home.links_used.read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return {str(name): str(at) for name, at in said.items()} if isinstance(said, dict) else {}


def reader_named(name: str) -> PageOwner | None:
    kind, _, of = name.partition(":")
    return PageOwner("athlete" if kind == "athlete" else "coach", of) if kind in ("athlete", "coach") and of else None


def reader_of(roster: Roster, told: str) -> PageOwner:
    """Who is meant: an athlete or a coach by id, a contact of one athlete's own as that athlete.

    WrongUse names whom there is; `athlete:ID` and `coach:ID` tell two of one id apart.
    """
    kind, _, named = told.rpartition(":")
    readers = [reader for reader in _readers(roster, named) if kind in ("", reader.kind)]
    if len(readers) == 1:
        return readers[0]
    if readers:
        raise WrongUse(words.pages.ATHLETE_OR_COACH.format(named=named))
    known = [
        *(athlete.id for athlete in roster.athletes),
        *(contact.id for contact in roster.contacts if contact.role == "coach"),
    ]
    raise WrongUse(words.pages.nobody(told, roster.path, list(dict.fromkeys(known))))


def _readers(roster: Roster, named: str) -> list[PageOwner]:
    page_owners: list[PageOwner] = [PageOwner("athlete", named)] if roster.athlete(named) else []
    contact = roster.contact(named)
    if contact is not None and contact.role == "coach":
        page_owners.append(PageOwner("coach", named))
    elif contact is not None and not page_owners:
        page_owners += [PageOwner("athlete", athlete.id) for athlete in roster.athletes if named in athlete.contacts]
    return page_owners


def _load(path: Path, *, strict: bool = False) -> dict[str, Link]:
    """What the file says; nobody comes in by one that is odd, and `strict` does not replace it: WorkFailed."""
    try:
        said = json.loads(path.read_text("utf-8"))
        return {str(entry["reader"]): Link(**{key: str(entry[key]) for key in Link.__slots__}) for entry in said}
    except FileNotFoundError:
        return {}
    except (OSError, ValueError, TypeError, KeyError):
        if strict:
            raise WorkFailed(words.pages.NO_LIST_OF_LINKS.format(path=path)) from None
        return {}


def _stamp(path: Path) -> tuple[int, int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_ino, found.st_size, found.st_mtime_ns
