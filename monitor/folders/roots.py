"""Watched folders that vanish, come back, or turn out to be another folder under the same path."""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path

from monitor import words
from monitor.folders.listing import look, look_at
from monitor.folders.stability import CLOSED_SETTLE_SECONDS, Stamp, under_way
from monitor.values import Listing, Seen

# One look for `scan`, and one more after a second for what is too young to be trusted.


def settled(
    root: Path,
    known: Mapping[str, Stamp],
    sleep: Callable[[float], None] = time.sleep,
    wall: Callable[[], float] = time.time,
    *,
    endings: Collection[str] | None = None,
) -> tuple[list[Seen], list[Seen], Listing]:
    """Files to take up, files that still change or whose download is under way, and all that was seen."""
    listing = look(root, endings)
    new = [seen for seen in listing.files if known.get(seen.relative) != seen.stamp]
    moment = wall()
    waiting = [seen for seen in new if under_way(seen, moment)]
    quiet = [seen for seen in new if not under_way(seen, moment)]
    young = [seen for seen in quiet if _young(seen, moment)]
    if not young:
        return quiet, waiting, listing
    sleep(CLOSED_SETTLE_SECONDS)
    taken_up = [seen for seen in quiet if not _young(seen, moment)]
    again = {seen.relative: seen for seen in look_at(root, [seen.relative for seen in young], endings).files}
    for before in young:
        seen_now = again.get(before.relative)
        if seen_now is not None:
            still = seen_now.stamp == before.stamp and not under_way(seen_now, moment)
            (taken_up if still else waiting).append(seen_now)
    return sorted(taken_up, key=lambda seen: seen.relative), waiting, listing


def _young(seen: Seen, moment: float) -> bool:
    """Changed within the settle time, or in the future, which says nothing of its age."""
    return moment - seen.mtime_ns / 1e9 < CLOSED_SETTLE_SECONDS


class RootState(Enum):
    SAME = "same"
    GONE = "gone"
    BACK = "back"
    ANOTHER = "another"  # the same path leads to another folder: events of the old one say nothing any more


Identity = tuple[int, int]


@dataclass(slots=True)
class Roots:
    """What was last known of every athlete's folder; `missing` holds why some cannot be looked into.

    A share that is unmounted leaves an empty folder of another identity in its place, which is as good as none. A
    folder that is emptied stays the same one. `held` is the identity under which each was last seen with files in it.
    """

    missing: dict[str, str] = field(default_factory=dict)
    held: dict[str, Identity] = field(default_factory=dict)
    _identity: dict[str, Identity] = field(default_factory=dict)

    def note(self, athlete: str, listing: Listing, *, whole: bool = False) -> RootState:
        """Take in a look; `whole` when it was one at everything in the folder."""
        if listing.missing is not None:
            return self.gone(athlete, listing.missing)
        identity = listing.root or (0, 0)
        if listing.files:
            self.held[athlete] = identity
        elif whole and not listing.refused and self.held.get(athlete) == identity:
            del self.held[athlete]  # emptied on purpose
        if not listing.files and not listing.refused and self.held.get(athlete, identity) != identity:
            known = (
                self.missing.get(athlete) == words.files.ANOTHER_EMPTY_FOLDER
                and self._identity.get(athlete) == identity
            )
            if whole or known:
                self._identity[athlete] = identity
                return self.gone(athlete, words.files.ANOTHER_EMPTY_FOLDER)
        return self.there(athlete, identity)

    def gone(self, athlete: str, reason: str) -> RootState:
        before = self.missing.get(athlete)
        self.missing[athlete] = reason
        return RootState.SAME if before is not None else RootState.GONE

    def there(self, athlete: str, identity: Identity) -> RootState:
        was_missing = self.missing.pop(athlete, None) is not None
        before = self._identity.get(athlete)
        self._identity[athlete] = identity
        if was_missing:
            return RootState.BACK
        return RootState.SAME if before in (None, identity) else RootState.ANOTHER

    def drop(self, athlete: str) -> None:
        self.missing.pop(athlete, None)
        self.held.pop(athlete, None)
        self._identity.pop(athlete, None)
