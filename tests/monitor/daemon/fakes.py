"""Stand-ins for the clock, the queue, the scanner: no test of the loop waits for real time to pass."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from queue import Empty
from typing import Any

from monitor.roster.types import AlertSettings, Roster, RosterAthlete
from monitor.values import IntakeOptions, Refused, Seen
from rules.facts import Athlete

START = datetime(2026, 10, 7, 6, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Timed:
    judged: int
    more: bool


class HandClock:
    """Moves only when told."""

    def __init__(self, at: float = 1000.0) -> None:
        self.at = at

    def monotonic(self) -> float:
        return self.at

    def now(self) -> datetime:
        return START + timedelta(seconds=self.at - 1000.0)


class HandQueue:
    """A queue whose waiting moves the clock, and that acts by a script of (moment, what happens then)."""

    def __init__(self, clock: HandClock) -> None:
        self.clock = clock
        self.items: list[Any] = []
        self.script: list[tuple[float, Callable[[], None]]] = []
        self.waits: list[float] = []

    def put(self, item: Any, /) -> None:
        self.items.append(item)

    def at(self, moment: float, act: Callable[[], None]) -> None:
        self.script.append((moment, act))
        self.script.sort(key=lambda one: one[0])

    def get(self, block: bool = True, timeout: float | None = None) -> Any:
        if not self.items:
            assert timeout is not None
            self.waits.append(timeout)
            end = self.clock.at + timeout
            if self.script and self.script[0][0] <= end:
                moment, act = self.script.pop(0)
                self.clock.at = max(moment, self.clock.at)
                act()
            else:
                self.clock.at = end
        return self.get_nowait()

    def get_nowait(self) -> Any:
        if not self.items:
            raise Empty
        return self.items.pop(0)


@dataclass(frozen=True)
class Sent:
    next_due: datetime | None = None


@dataclass
class FakeScanner:
    """Knows what it took; fails as told."""

    store: dict[str, dict[str, tuple[int, int]]] = field(default_factory=dict)
    passes: list[list[str]] = field(default_factory=list)
    refused: list[tuple[str, str]] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)
    missing: list[dict[str, str]] = field(default_factory=list)
    rosters: list[Roster] = field(default_factory=list)
    timed: int = 0
    delivered: int = 0
    rebuilt: int = 0
    closed: bool = False
    asked_known: int = 0
    warmed: int = 0
    undecided: set[str] = field(default_factory=set)
    before_take: Callable[[Sequence[tuple[str, Seen]]], None] = lambda ready: None
    on_timers: Callable[[], None] = lambda: None
    to_judge: list[Timed] = field(default_factory=list)
    slow: int = 0
    on_judged: Callable[[], object] = lambda: None
    fail: dict[str, list[BaseException]] = field(default_factory=dict)

    def _fail(self, name: str) -> None:
        if self.fail.get(name):
            raise self.fail[name].pop(0)

    def known_of(self, athlete_ids: Iterable[str], /) -> dict[str, dict[str, tuple[int, int]]]:
        self.asked_known += 1
        self._fail("known")
        return {athlete_id: dict(self.store.get(athlete_id, {})) for athlete_id in athlete_ids}

    def warm(self) -> None:
        self.warmed += 1

    def take(
        self, ready: Sequence[tuple[str, Seen]], refused: Mapping[str, Sequence[Refused]] | None = None, /
    ) -> None:
        self._fail("take")
        self.before_take(ready)
        if ready:
            self.passes.append([seen.relative for _, seen in ready])
        for athlete, seen in ready:
            if seen.relative not in self.undecided:
                self.store.setdefault(athlete, {})[seen.relative] = seen.stamp
        for athlete, things in (refused or {}).items():
            self.refused += [(athlete, thing.relative) for thing in things]

    def take_slow(self) -> None:
        self._fail("slow")

    @property
    def taken(self) -> list[str]:
        return [name for one in self.passes for name in one]

    def roots(self, missing: Mapping[str, str], /) -> None:
        self._fail("roots")
        self.missing.append(dict(missing))

    def timers(self) -> Timed:
        self.timed += 1
        self.on_timers()
        self._fail("timers")
        return self.to_judge.pop(0) if self.to_judge else Timed(0, more=False)

    def deliver(self) -> Sent:
        self.delivered += 1
        return Sent()

    def notice(self, text: str, /) -> None:
        self._fail("notice")
        self.notices.append(text)

    def use(self, roster: Roster, /) -> None:
        self._fail("use")
        self.rosters.append(roster)

    def rebuild(self, broken: int | None = None, /) -> None:
        self._fail("rebuild")
        self.rebuilt += 1
        self.store.clear()

    def close(self) -> None:
        self.closed = True


@dataclass
class FakeBoard:
    """Counts how often it was told of a change."""

    changes: int = 0
    running: bool = False
    failing: tuple[str, ...] = ()

    def start(self) -> None:
        self.running = True

    def changed(self) -> None:
        self.changes += 1

    def stop(self) -> None:
        self.running = False


def roster_of(home: Path, *athletes: str, fingerprint: str = "1") -> Roster:
    """Athletes with folders of their own names in the home folder."""
    listed = tuple(
        RosterAthlete(Athlete(one, "UTC"), home / one, ("coach",), IntakeOptions("UTC"), "events") for one in athletes
    )
    return Roster(home / "roster.toml", AlertSettings(), (), listed, fingerprint)
