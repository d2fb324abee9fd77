"""What the pages know of an athlete: the facts of the store, and check-ins that were sent and are not in it yet.

Nothing is decided here. The plans come of the findings that stand, as on the board; a check-in on its way is one fact
more, so that what today allows is answered at once and not when the file has been read.
"""

from __future__ import annotations

import os
import re
import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from monitor.board.board_data import KnownAthlete, known, read
from monitor.checkins import SUBFOLDER, SUFFIX
from monitor.errors import Unreadable
from monitor.home import Home
from monitor.intake.checkin import read_checkins
from monitor.roster import RosterAthlete
from monitor.store import findings, intake
from monitor.store.connections import StoreHeld
from monitor.store.database import Store
from monitor.store.seasons import Season
from rules.facts import CheckIn
from rules.findings import Finding
from rules.limits import Limits

RECEIVED = "received"
PATIENCE_SECONDS = 0.3
"""For a store that another process holds, where there is something older to show."""
FIRST_PATIENCE_SECONDS = 20.0
KEPT = 64
SENT = re.compile(r"-([0-9a-f]{12})\.checkin\.json")
"""The end of the name of a check-in that a page has sent, with the name of that sending."""
LARGEST = 65536


@dataclass(frozen=True, slots=True)
class PageFacts:
    """One athlete as of a moment. `files`: rows of the ledger on uploads and check-ins, newest first."""

    known: KnownAthlete
    marks: Mapping[str, Sequence[dict[str, Any]]]
    files: tuple[dict[str, Any], ...]
    on_their_way: tuple[CheckIn, ...]
    now: datetime

    @property
    def athlete(self) -> RosterAthlete:
        return self.known.athlete

    @property
    def last_said(self) -> CheckIn | None:
        """The latest check-in of today; one without a time of day counts as of noon, and before noon it is behind."""
        today = self.athlete.athlete.local_date(self.now)
        checkins = [checkin for checkin in self.known.facts.checkins if checkin.date == today]
        by_now = [checkin for checkin in checkins if checkin.order <= self.now.timestamp()]
        return next(reversed(by_now or checkins), None)


@dataclass(frozen=True, slots=True)
class _Facts:
    stamp: object
    season: Season
    marks: Mapping[str, Sequence[dict[str, Any]]]
    files: tuple[dict[str, Any], ...]


class PageReading:
    """Reads the store for the pages, and keeps what it read until the store changes or is held by somebody else."""

    def __init__(self, home: Home, limits: Limits, beside: Callable[[], Iterable[RosterAthlete]]) -> None:
        """`beside` are those who are likely to ask next, and are read along with the first."""
        self._home = home
        self._limits = limits
        self._beside = beside
        self._kept: dict[str, _Facts] = {}
        self._turn = threading.Lock()

    def athlete(self, athlete: RosterAthlete, now: datetime) -> PageFacts:
        """WorkFailed where the store cannot be read and was not read before."""
        facts = self._facts(athlete, now)
        sent = on_their_way(athlete, {row["path"] for row in facts.files if row["state"] != "waiting"})
        season = replace(facts.season, checkins=[*facts.season.checkins, *sent])
        return PageFacts(known(athlete, season, now, self._limits), facts.marks, facts.files, sent, now)

    def earlier(self, look: PageFacts, finding_id: str) -> Finding | None:
        """What was called so once: a finding that was withdrawn, or the one that took its place."""
        if not self._home.store.exists():
            return None
        with Store(self._home.store, PATIENCE_SECONDS).reading() as con:
            found = findings.find(con, finding_id)
        return next((one for one, _ in found if one.athlete == look.athlete.id), None)

    def _facts(self, athlete: RosterAthlete, now: datetime) -> _Facts:
        """Nobody waits for the store who was read before: of two who ask at once one reads, the other has what was."""
        stamp = self._stamp(athlete, now)
        kept = self._kept.get(athlete.id)
        if kept is not None and kept.stamp == stamp:
            return kept
        if not self._turn.acquire(blocking=kept is None):
            assert kept is not None
            return kept
        try:
            kept = self._kept.get(athlete.id)  # somebody has read it while one waited
            if kept is None:
                others = [other for other in self._beside() if other.id not in self._kept and other.id != athlete.id]
                kept = self._read([athlete, *others[: KEPT - 1]], now, FIRST_PATIENCE_SECONDS)[athlete.id]
            elif kept.stamp != stamp:
                kept = self._read([athlete], now, PATIENCE_SECONDS)[athlete.id]
        except StoreHeld:
            if kept is None:
                raise
        finally:
            self._turn.release()
        return kept

    def _stamp(self, athlete: RosterAthlete, now: datetime) -> object:
        return (store_stamp(self._home.store), athlete, athlete.athlete.local_date(now))

    def _read(self, athletes: Sequence[RosterAthlete], now: datetime, patience: float) -> dict[str, _Facts]:
        """Read all of them on one opening of the store."""
        stamps = {athlete.id: self._stamp(athlete, now) for athlete in athletes}
        found = {athlete.id: _Facts(stamps[athlete.id], Season(), {}, ()) for athlete in athletes}
        if self._home.store.exists():
            with Store(self._home.store, patience).reading() as con:
                seasons = read(con, athletes, now, self._limits)
                marks = findings.marks(con)
                folders = (f"{RECEIVED}/", f"{SUBFOLDER}/")
                found = {
                    name: _Facts(stamp, seasons[name], marks, tuple(intake.below(con, name, folders)))
                    for name, stamp in stamps.items()
                }
        self._kept.update(found)
        for name in [name for name in self._kept if name not in found][: max(0, len(self._kept) - KEPT)]:
            del self._kept[name]
        return found


def on_their_way(athlete: RosterAthlete, decided: set[str]) -> tuple[CheckIn, ...]:
    """Check-ins that pages have put into the folder and that the ledger does not know yet, as they will be read."""
    checkins: list[CheckIn] = []
    for name in sent_names(athlete.folder):
        relative = f"{SUBFOLDER}/{name}"
        if relative in decided:
            continue
        try:
            facts = read_checkins(_content(athlete.folder / SUBFOLDER / name), athlete.options)
        except (OSError, Unreadable):
            continue
        checkins += [replace(checkin, source=relative) for checkin in facts.checkins]
    return tuple(checkins)


def sent_names(folder: Path) -> list[str]:
    """Names of the check-ins that pages have sent, oldest first."""
    try:
        names = [path.name for path in (folder / SUBFOLDER).iterdir()]
    except OSError:
        return []
    return sorted(name for name in names if name.endswith(SUFFIX) and SENT.search(name))


def _content(path: Path) -> bytes:
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
    with os.fdopen(handle, "rb") as file:
        return file.read(LARGEST)


def store_stamp(store: Path) -> tuple[int, int, int] | None:
    """What changes whenever the store does: it is opened and closed for every batch."""
    try:
        found = store.stat()
    except OSError:
        return None
    return found.st_ino, found.st_size, found.st_mtime_ns
