"""Decides which folders are looked at when, and keeps what was seen; reads no file itself."""

from __future__ import annotations

import threading
import time
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from monitor import logs, words
from monitor.folders import listing
from monitor.folders.events import Hint, Watching
from monitor.folders.listing import Identity, Roots, RootState, root_identity, why_missing
from monitor.folders.stability import StabilityTracker, Stamp
from monitor.roster.types import Roster, RosterAthlete
from monitor.values import Listing, Refused, Seen

# Local folders are listed at once; shares in a thread each, since they may never answer.

ANSWER_SECONDS = 60.0


@dataclass(frozen=True, slots=True)
class FolderScan:
    """The result of listing a folder. `only` names the paths that were listed, None the whole folder."""

    athlete: str
    listing: Listing
    only: tuple[str, ...] | None = None
    closed: frozenset[str] = field(default_factory=frozenset)


def in_a_thread(act: Callable[[], None], name: str) -> None:
    threading.Thread(target=act, name=name, daemon=True).start()


class FolderScans:
    """`put` hands listings made in threads to the loop."""

    def __init__(
        self, put: Callable[[FolderScan], None], begin: Callable[[Callable[[], None], str], None] = in_a_thread
    ) -> None:
        self._put = put
        self._begin = begin
        self._asked_at: dict[str, float] = {}

    def at_once(self, athlete: str, root: Path, only: Iterable[str] | None, closed: Iterable[str] = ()) -> FolderScan:
        names = None if only is None else tuple(sorted(only))
        found = listing.look(root) if names is None else listing.look_at(root, names)
        return FolderScan(athlete, found, names, frozenset(closed))

    def apart(self, athlete: str, root: Path, only: Iterable[str] | None, now: float) -> None:
        """List a folder in a thread, unless one is still at it."""
        if athlete in self._asked_at:
            return
        self._asked_at[athlete] = now
        names = None if only is None else tuple(sorted(only))
        self._begin(lambda: self._run(athlete, root, names), f"look-{athlete}")

    def came(self, looked: FolderScan) -> None:
        self._asked_at.pop(looked.athlete, None)

    @property
    def out(self) -> frozenset[str]:
        """The athletes whose folders have not answered yet."""
        return frozenset(self._asked_at)

    def silent(self, now: float) -> list[str]:
        """The athletes whose folders have not answered for too long."""
        return [athlete for athlete, asked in self._asked_at.items() if now - asked > ANSWER_SECONDS]

    def _run(self, athlete: str, root: Path, names: tuple[str, ...] | None) -> None:
        try:
            looked = self.at_once(athlete, root, names)
        except Exception as error:  # noqa: BLE001 - the look must come back, else the folder is never looked at again
            looked = FolderScan(
                athlete, Listing(missing=words.files.FOLDER_CANNOT_BE_READ.format(error=type(error).__name__))
            )
        self._put(looked)


TICK_SECONDS = 5.0
"""How often the root folders are checked, with one system call each."""
RESCAN_SECONDS = 300.0
MOST_SHARE, LONGEST_APART_SECONDS = 0.001, 1800.0
"""Share of a core that checks and rescans may each take; where they would take more, they come less often."""
POLL_SECONDS = 60.0
AGAIN_SECONDS = 2.0
"""When to list again after a burst or a new folder, for files that came before its events were watched."""
MOST_NAMED = 200
"""From so many events at once the whole folder is listed, which is cheaper than looking at each file."""
MISSING_GRACE_SECONDS = 10.0
"""A folder that is back within so long is not reported: sync tools replace folders."""
CLOCK_SKEW_SECONDS = 120.0
"""How far the clock of a share may be off."""


def _apart(seconds: float, act: Callable[[], None]) -> float:
    """Do it; seconds until the next time."""
    before = time.thread_time()
    act()
    return min(max(seconds, (time.thread_time() - before) / MOST_SHARE), LONGEST_APART_SECONDS)


Known = dict[str, Stamp]


class KnownFiles(Protocol):
    """Asks the store which files need not be read again."""

    def known_of(self, athlete_ids: Iterable[str], /) -> dict[str, Known]: ...


class FolderMonitor:
    """Keeps the watches alive, lists folders after events and from time to time, and tells which files are settled."""

    def __init__(
        self,
        roster: Roster,
        store: KnownFiles,
        watching: Watching,
        looks: FolderScans,
        *,
        wall: Callable[[], float],
        store_stamp: Callable[[], object],
        store_identity: Callable[[], object] = lambda: None,
        held: Mapping[str, Identity] | None = None,
    ) -> None:
        self._athletes: dict[str, RosterAthlete] = {athlete.id: athlete for athlete in roster.athletes}
        self._store, self._watching, self._looks = store, watching, looks
        self._wall, self._store_stamp, self._store_identity = wall, store_stamp, store_identity
        self._store_was = store_identity()
        known = {athlete: identity for athlete, identity in (held or {}).items() if athlete in self._athletes}
        self._stability, self._roots = StabilityTracker(), Roots(held=known)
        self._known: dict[str, Known] = {}
        self._known_at: object = None
        self._told: defaultdict[str, set[Refused]] = defaultdict(set)
        self._untold: defaultdict[str, list[Refused]] = defaultdict(list)
        self._missing_since: dict[str, float] = {}
        self.rescans = 0
        self._tick_at = self._rescan_at = self._poll_at = 0.0
        self._again: dict[str, tuple[float, frozenset[str] | None]] = {}

    # What the loop asks

    def step(self, now: float, hints: Sequence[Hint] = (), looked: Sequence[FolderScan] = ()) -> None:
        """Do all listing that is due or that events asked for."""
        for scan in looked:
            self._looks.came(scan)
            self._take_in(scan, now)
        self._hear(hints, now)
        if now >= self._tick_at:
            self._tick_at = now + _apart(TICK_SECONDS, lambda: self._tick(now))
        if now >= self._rescan_at:
            self._rescan_at = now + _apart(RESCAN_SECONDS, lambda: self._rescan_all(now))
            self._poll_at = now + POLL_SECONDS
        elif now >= self._poll_at:
            self._rescan([athlete for athlete in self._athletes if athlete in self._watching.polled], now)
            self._poll_at = now + POLL_SECONDS
        for athlete in [waiting for waiting, (due, _) in self._again.items() if due <= now]:
            _, only = self._again.pop(athlete)
            self._look(athlete, only, now)
        for athlete, files in self._stability.to_look_at(now).items():
            self._look(athlete, files, now)

    def ready(self) -> list[tuple[str, Seen]]:
        return self._stability.ready()

    @property
    def settling(self) -> bool:
        """Whether there are files that are not quiet yet, or folders that have not answered."""
        return bool(self._looks.out) or self._stability.next_look() is not None

    def taken(self, items: Iterable[tuple[str, Seen]]) -> None:
        for athlete, seen in items:
            self._stability.taken(athlete, [seen])

    def refused(self) -> dict[str, list[Refused]]:
        """Refused files that were not reported yet."""
        return {athlete: list(things) for athlete, things in self._untold.items() if things}

    def refused_told(self, told: Mapping[str, Sequence[Refused]]) -> None:
        for athlete, things in told.items():
            self._told[athlete].update(things)
            self._untold[athlete] = [thing for thing in self._untold[athlete] if thing not in self._told[athlete]]

    def missing(self, now: float) -> dict[str, str]:
        """The folders that have been missing for longer than a moment, with the reason."""
        return {
            athlete: reason
            for athlete, reason in sorted(self._roots.missing.items())
            if now - self._missing_since.get(athlete, now) >= MISSING_GRACE_SECONDS
        }

    @property
    def polled(self) -> dict[str, str]:
        return self._watching.polled

    @property
    def held(self) -> dict[str, Identity]:
        """Device and inode of each athlete's folder, kept for the next start."""
        return dict(self._roots.held)

    @property
    def folders(self) -> int:
        return len(self._athletes)

    def use(self, roster: Roster) -> None:
        """Continue with the folders of another roster; all are listed again."""
        new = {athlete.id: athlete for athlete in roster.athletes}
        for athlete, old in self._athletes.items():
            now = new.get(athlete)
            if now is None or (now.folder, now.watch) != (old.folder, old.watch):
                self._drop(athlete)
        self._athletes = new
        self._known_at = None
        self._tick_at = self._rescan_at = 0.0

    def store_replaced(self) -> bool:
        """Whether another store lies in the place of the one known: everything that it does not know is to be read."""
        before, self._store_was = self._store_was, self._store_identity()
        if before is None or self._store_was in (None, before):
            self._store_was = self._store_was or before
            return False
        self.read_all_again()
        return True

    def read_all_again(self) -> None:
        """The store was begun anew: everything that it does not know is to be read."""
        self._known.clear()
        self._known_at = None
        self._told.clear()
        self._rescan_at = 0.0

    def next_due(self, now: float) -> float:
        settling = self._stability.next_look(self._looks.out)
        again = [due for due, _ in self._again.values()]
        grace = [since + MISSING_GRACE_SECONDS for since in self._missing_since.values()]
        due = [self._tick_at, self._rescan_at, self._poll_at, *again, *(end for end in grace if end > now)]
        return min(due) if settling is None else min(*due, settling)

    def close(self) -> None:
        self._watching.close()

    # How it looks

    def _hear(self, hints: Sequence[Hint], now: float) -> None:
        where: defaultdict[str, set[str]] = defaultdict(set)
        closed: defaultdict[str, set[str]] = defaultdict(set)
        for hint in hints:
            if hint.athlete not in self._athletes:
                continue
            if not hint.relative:
                self._watching.doubt(hint.athlete)
                self._tick_at = 0.0
                continue
            where[hint.athlete].add(hint.relative)
            if hint.closed:
                closed[hint.athlete].add(hint.relative)
            if hint.folder:
                self._look_again(hint.athlete, frozenset({hint.relative}), now)
        for athlete, relatives in where.items():
            if len(relatives) > MOST_NAMED:
                self._look_again(athlete, None, now)
            self._look(athlete, relatives, now, closed[athlete])

    def _look_again(self, athlete: str, only: frozenset[str] | None, now: float) -> None:
        _, before = self._again.get(athlete, (0.0, frozenset()))
        self._again[athlete] = (now + AGAIN_SECONDS, None if only is None or before is None else before | only)

    def _tick(self, now: float) -> None:
        """Check that every root is there, is the same folder, and is still watched."""
        for athlete in self._athletes.values():
            if self._watching.polls(athlete.id, athlete.folder, athlete.watch):
                continue
            try:
                identity = root_identity(athlete.folder)
            except OSError as error:
                self._note(athlete.id, Listing(missing=why_missing(error)), now)
                self._watching.tend(athlete.id, athlete.folder, None)
                continue
            change = self._note(athlete.id, Listing(root=identity), now)
            armed = self._watching.tend(athlete.id, athlete.folder, identity)
            if (armed or change is not RootState.SAME) and self._rescan_at > now:
                self._look_again(athlete.id, None, now)
                self._look(athlete.id, None, now)
        for silent in self._looks.silent(now):
            self._note(silent, Listing(missing=words.files.FOLDER_DOES_NOT_ANSWER), now)

    def _note(self, athlete: str, listing: Listing, now: float, *, whole: bool = False) -> RootState:
        change = self._roots.note(athlete, listing, whole=whole)
        if change is RootState.GONE:
            self._missing_since[athlete] = now
            logs.event("folder_missing", athlete=athlete)
        elif change is RootState.BACK:
            self._missing_since.pop(athlete, None)
            logs.event("folder_back", athlete=athlete)
        elif change is RootState.ANOTHER:
            logs.event("folder_replaced", athlete=athlete)
        return change

    def _rescan_all(self, now: float) -> None:
        stamp = self._store_stamp()
        self._rescan(list(self._athletes), now)
        self._known_at = stamp
        self.rescans += 1

    def _rescan(self, athletes: Sequence[str], now: float) -> None:
        """Whole looks, after asking the store again where it changed or where a file was not settled with."""
        stamp = self._store_stamp()
        fresh = stamp is not None and stamp == self._known_at
        asked = [athlete for athlete in athletes if not fresh or self._unsure_of(athlete)]
        if asked:
            self._known.update(self._store.known_of(asked))
        for athlete in asked:
            self._stability.forget(athlete)
        for athlete in athletes:
            self._look(athlete, None, now)

    def _unsure_of(self, athlete: str) -> bool:
        known = self._known.get(athlete)
        return known is None or self._stability.unconfirmed(athlete, known)

    def _look(self, athlete: str, only: Collection[str] | None, now: float, closed: Iterable[str] = ()) -> None:
        root = self._athletes[athlete].folder
        if only is not None and len(only) > MOST_NAMED:
            only = None
        if athlete in self._watching.polled:
            self._looks.apart(athlete, root, only, now)
        else:
            self._take_in(self._looks.at_once(athlete, root, only, closed), now)

    def _take_in(self, looked: FolderScan, now: float) -> None:
        athlete = looked.athlete
        if athlete not in self._athletes:
            return
        change = self._note(athlete, looked.listing, now, whole=looked.only is None)
        if change in (RootState.BACK, RootState.ANOTHER) and looked.only is not None:
            self._look_again(athlete, None, now)
        polled = athlete in self._watching.polled
        self._stability.observe(
            athlete,
            looked.listing,
            self._known.get(athlete, {}),
            now,
            looked.closed,
            wall=self._wall() - (CLOCK_SKEW_SECONDS if polled else 0.0),
            only=looked.only,
        )
        told = self._told[athlete].union(self._untold[athlete])
        self._untold[athlete] += [thing for thing in looked.listing.refused if thing not in told]

    def _drop(self, athlete: str) -> None:
        self._watching.drop(athlete)
        self._stability.drop(athlete)
        self._roots.drop(athlete)
        self._known.pop(athlete, None)
        self._told.pop(athlete, None)
        self._untold.pop(athlete, None)
        self._missing_since.pop(athlete, None)
        self._again.pop(athlete, None)
