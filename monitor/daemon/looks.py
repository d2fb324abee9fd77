"""Looks at folders: at once for those of this machine, in a thread of their own for shares, which may never answer."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

from monitor.folders import listing
from monitor.folders.seen import Listing

ANSWER_SECONDS = 60.0
NO_ANSWER = "the folder does not answer"


@dataclass(frozen=True, slots=True)
class Looked:
    """What a look came to. `only` names what was looked at, None being the whole folder."""

    athlete: str
    listing: Listing
    only: tuple[str, ...] | None = None
    closed: frozenset[str] = field(default_factory=frozenset)


def in_a_thread(act: Callable[[], None], name: str) -> None:
    threading.Thread(target=act, name=name, daemon=True).start()


class Looks:
    """`put` hands the looks of threads back to the loop."""

    def __init__(
        self, put: Callable[[Looked], None], begin: Callable[[Callable[[], None], str], None] = in_a_thread
    ) -> None:
        self._put = put
        self._begin = begin
        self._asked_at: dict[str, float] = {}

    def at_once(self, athlete: str, root: Path, only: Iterable[str] | None, closed: Iterable[str] = ()) -> Looked:
        names = None if only is None else tuple(sorted(only))
        found = listing.look(root) if names is None else listing.look_at(root, names)
        return Looked(athlete, found, names, frozenset(closed))

    def apart(self, athlete: str, root: Path, only: Iterable[str] | None, now: float) -> None:
        """Begin a look in a thread, unless one is still out."""
        if athlete in self._asked_at:
            return
        self._asked_at[athlete] = now
        names = None if only is None else tuple(sorted(only))
        self._begin(lambda: self._run(athlete, root, names), f"look-{athlete}")

    def came(self, looked: Looked) -> None:
        self._asked_at.pop(looked.athlete, None)

    @property
    def out(self) -> frozenset[str]:
        """The athletes whose folders have not answered yet."""
        return frozenset(self._asked_at)

    def silent(self, now: float) -> list[str]:
        """Those that have not answered for too long."""
        return [athlete for athlete, asked in self._asked_at.items() if now - asked > ANSWER_SECONDS]

    def _run(self, athlete: str, root: Path, names: tuple[str, ...] | None) -> None:
        try:
            looked = self.at_once(athlete, root, names)
        except Exception as error:  # noqa: BLE001 - the look must come back, else the folder is never looked at again
            looked = Looked(athlete, Listing(missing=f"the folder cannot be read ({type(error).__name__})"))
        self._put(looked)
