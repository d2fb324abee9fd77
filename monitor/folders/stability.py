"""When a file is quiet enough to be read: a state machine without a clock of its own."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Set
from dataclasses import dataclass

from monitor.values import Listing, Seen

CLOSED_SETTLE_SECONDS = 1.0
"""Quiet time for a file that its writer closed, or that was moved into place."""
SETTLE_SECONDS = 5.0
"""Quiet time for a file of which only size and time are known."""

Stamp = tuple[int, int]


@dataclass(slots=True)
class _Candidate:
    """A file that is not known yet: unchanged since `quiet_since`, last looked at at `looked_at`."""

    seen: Seen
    quiet_since: float
    looked_at: float
    settle_seconds: float
    under_way: bool

    @property
    def due(self) -> float:
        return self.quiet_since + self.settle_seconds

    @property
    def ready(self) -> bool:
        return not self.under_way and self.looked_at >= self.due

    @property
    def next_look(self) -> float:
        return self.looked_at + SETTLE_SECONDS if self.under_way else self.due


class StabilityTracker:
    """Holds the files that are not quiet yet, and those given away until the store says that it knows them."""

    def __init__(self) -> None:
        self._candidates: defaultdict[str, dict[str, _Candidate]] = defaultdict(dict)
        self._given: defaultdict[str, dict[str, Stamp]] = defaultdict(dict)

    def observe(
        self,
        athlete: str,
        listing: Listing,
        known: Mapping[str, Stamp],
        now: float,
        hints: Collection[str] = (),
        *,
        wall: float | None = None,
        only: Iterable[str] | None = None,
    ) -> None:
        """Take in a look.

        `hints` are files closed by their writer or moved into place. `wall` is the time of day in seconds, where the
        folder's own times can be trusted: a file unchanged for long at first sight need not be waited for. `only` names
        the files and folders of a partial look; what it did not look at stays as it is.
        """
        candidates, given = self._candidates[athlete], self._given[athlete]
        found = {seen.relative: seen for seen in listing.files}
        looked_at = None if only is None else frozenset(only)
        for relative in [
            candidate
            for candidate in candidates
            if candidate not in found and (looked_at is None or _covered(candidate, looked_at))
        ]:
            del candidates[relative]
        for relative, seen in found.items():
            if seen.stamp in (known.get(relative), given.get(relative)):
                candidates.pop(relative, None)
            else:
                candidates[relative] = _observed(candidates.get(relative), seen, now, wall, closed=relative in hints)

    def ready(self) -> list[tuple[str, Seen]]:
        """The quiet files, the same ones until `taken`; in the order of athletes and paths."""
        return [
            (athlete, candidate.seen)
            for athlete in sorted(self._candidates)
            for _, candidate in sorted(self._candidates[athlete].items())
            if candidate.ready
        ]

    def taken(self, athlete: str, files: Iterable[Seen]) -> None:
        """These were given away as they were seen; they come again only when they change or after `forget`."""
        for seen in files:
            self._given[athlete][seen.relative] = seen.stamp
            candidate = self._candidates[athlete].get(seen.relative)
            if candidate is not None and candidate.seen.stamp == seen.stamp:
                del self._candidates[athlete][seen.relative]

    def unconfirmed(self, athlete: str, known: Mapping[str, Stamp]) -> bool:
        """Whether something was given away that the store, as last asked, does not know (a file that waits)."""
        return any(known.get(relative) != stamp for relative, stamp in self._given[athlete].items())

    def forget(self, athlete: str) -> None:
        """What was given away is no longer held back: the store has been asked anew, and its word stands."""
        self._given.pop(athlete, None)

    def drop(self, athlete: str) -> None:
        """The athlete or the folder is gone."""
        self._candidates.pop(athlete, None)
        self._given.pop(athlete, None)

    def to_look_at(self, now: float) -> dict[str, list[str]]:
        """The files whose settle time is over and that must be looked at again before they count as quiet."""
        due = {
            athlete: [
                relative
                for relative, candidate in candidates.items()
                if not candidate.ready and candidate.next_look <= now
            ]
            for athlete, candidates in self._candidates.items()
        }
        return {athlete: sorted(relatives) for athlete, relatives in due.items() if relatives}

    def waiting(self) -> int:
        return sum(len(candidates) for candidates in self._candidates.values())

    def next_due(self, now: float) -> float | None:
        """When there is something to look at again or to give away; None when there is nothing to wait for."""
        anything_ready = any(
            candidate.ready for candidates in self._candidates.values() for candidate in candidates.values()
        )
        return now if anything_ready else self.next_look()

    def next_look(self, without: Collection[str] = ()) -> float | None:
        """When a file must be looked at again, of other athletes than these; None when no file is settling."""
        times = [
            candidate.next_look
            for athlete, candidates in self._candidates.items()
            if athlete not in without
            for candidate in candidates.values()
            if not candidate.ready
        ]
        return min(times, default=None)


def _covered(relative: str, only: Set[str]) -> bool:
    """Whether a partial look saw this file: by its name, or by that of a folder above it."""
    parts = relative.split("/")
    return any("/".join(parts[:depth]) in only for depth in range(len(parts) + 1))


def _observed(old: _Candidate | None, seen: Seen, now: float, wall: float | None, *, closed: bool) -> _Candidate:
    fetched = seen.is_under_way(wall)
    if old is None:
        settle_seconds = CLOSED_SETTLE_SECONDS if closed else SETTLE_SECONDS
        age = 0.0 if wall is None else max(wall - seen.mtime_ns / 1e9, 0.0)
        return _Candidate(seen, now - age, now, settle_seconds, fetched)
    changed = (old.seen.stamp, old.seen.inode) != (seen.stamp, seen.inode)
    settle_seconds = CLOSED_SETTLE_SECONDS if closed else SETTLE_SECONDS if changed else old.settle_seconds
    return _Candidate(seen, now if changed else old.quiet_since, now, settle_seconds, fetched)
