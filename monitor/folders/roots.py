"""Watched folders that vanish, come back, or turn out to be another folder under the same path."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

from monitor.folders.seen import Listing


class Change(Enum):
    SAME = "same"
    GONE = "gone"
    BACK = "back"
    ANOTHER = "another"  # the same path leads to another folder: events of the old one say nothing any more


@dataclass(slots=True)
class Roots:
    """What was last known of every athlete's folder; `missing` holds why some cannot be looked into."""

    missing: dict[str, str] = field(default_factory=dict)
    _identity: dict[str, tuple[int, int]] = field(default_factory=dict)

    def note(self, athlete: str, listing: Listing) -> Change:
        if listing.missing is not None:
            return self.gone(athlete, listing.missing)
        return self.there(athlete, listing.root or (0, 0))

    def gone(self, athlete: str, reason: str) -> Change:
        before = self.missing.get(athlete)
        self.missing[athlete] = reason
        return Change.SAME if before is not None else Change.GONE

    def there(self, athlete: str, identity: tuple[int, int]) -> Change:
        was_missing = self.missing.pop(athlete, None) is not None
        before = self._identity.get(athlete)
        self._identity[athlete] = identity
        if was_missing:
            return Change.BACK
        return Change.SAME if before in (None, identity) else Change.ANOTHER

    def drop(self, athlete: str) -> None:
        self.missing.pop(athlete, None)
        self._identity.pop(athlete, None)
