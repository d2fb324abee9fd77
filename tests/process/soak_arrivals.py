"""The ways in which files come into watched folders, as steps in time; roots that go and come back on the way."""

from __future__ import annotations

import heapq
import random
import shutil
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from tests.process.soak_story import Arrival

Steps = Iterator[float]
"""A course of events: each value is the seconds to wait before the next step."""


@dataclass
class Agenda:
    """Steps of many courses, one after another in one thread."""

    due: list[tuple[float, int, Steps]] = field(default_factory=list)
    number: int = 0

    def begin(self, steps: Steps, after: float = 0.0) -> None:
        self.number += 1
        heapq.heappush(self.due, (time.monotonic() + after, self.number, steps))

    def run(self) -> None:
        """All that is due."""
        while self.due and self.due[0][0] <= time.monotonic():
            _, _, steps = heapq.heappop(self.due)
            for wait in steps:
                self.begin(steps, wait)
                break


@dataclass
class Folders:
    """The athletes' folders; one that is away still takes files, as a share does behind a cut cable."""

    top: Path
    rng: random.Random
    counts: Counter[str] = field(default_factory=Counter)
    away: set[str] = field(default_factory=set)
    busy: Counter[str] = field(default_factory=Counter)  # steps under way that hold a file open or a name in mind
    last: dict[tuple[str, str], bool] = field(default_factory=dict)

    def place(self, person: str) -> Path:
        return self.top / "away" / person if person in self.away else self.top / person

    def arrive(self, one: Arrival) -> Steps:
        """One file in all its states, in a way drawn by lot; files of one name come one after another."""
        while self.last.get((one.person, one.name)):
            yield 0.5
        self.last[one.person, one.name] = True
        for number, state in enumerate(one.states):
            if number:
                yield self.rng.uniform(2, 20)
            way = self.rng.choice([self._renamed, self._in_chunks, self._at_once, self._folder_moved_in])
            if (number or one.name == "nights.csv") and way == self._folder_moved_in:
                way = self._at_once
            while one.person in self.away:  # a name in a folder that moves is written when it is back
                yield 0.5
            self.busy[one.person] += 1
            self.counts[way.__name__.strip("_")] += 1
            yield from way(self.place(one.person) / one.name, state)
            self.busy[one.person] -= 1
        self.last[one.person, one.name] = False

    def _at_once(self, path: Path, data: bytes) -> Steps:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        yield 0.0

    def _renamed(self, path: Path, data: bytes) -> Steps:
        path.parent.mkdir(parents=True, exist_ok=True)
        beside = path.with_name(path.name + ".part")
        beside.write_bytes(data)
        yield self.rng.uniform(0, 3)
        beside.rename(path)

    def _in_chunks(self, path: Path, data: bytes) -> Steps:
        path.parent.mkdir(parents=True, exist_ok=True)
        cuts = sorted(self.rng.randrange(len(data) + 1) for _ in range(self.rng.randrange(1, 5)))
        with path.open("wb") as file:
            for begin, end in zip([0, *cuts], [*cuts, len(data)], strict=True):
                file.write(data[begin:end])
                file.flush()
                yield self.rng.uniform(0, 2.5)

    def _folder_moved_in(self, path: Path, data: bytes) -> Steps:
        beside = self.top / "outside" / f"{path.stem}-{self.rng.randrange(10**6)}"
        beside.mkdir(parents=True)
        (beside / path.name).write_bytes(data)
        (beside / ".hidden").write_bytes(b"x")
        yield 0.0
        path.parent.mkdir(parents=True, exist_ok=True)
        beside.rename(path.parent / f"in-{beside.name}")

    def root_away(self, person: str) -> Steps:
        """A root is renamed away and comes back, as itself or as a copy with another inode."""
        while self.busy[person]:
            yield 0.2
        if person in self.away:
            return
        (self.top / "away").mkdir(exist_ok=True)
        self.away.add(person)
        self.counts["root away"] += 1
        (self.top / person).rename(self.top / "away" / person)
        yield self.rng.choice([1, 4, 14, 25])
        if self.rng.random() < 0.5:
            shutil.copytree(self.top / "away" / person, self.top / "away" / f"{person}-copy")
            shutil.rmtree(self.top / "away" / person)
            (self.top / "away" / f"{person}-copy").rename(self.top / "away" / person)
        (self.top / "away" / person).rename(self.top / person)
        self.away.discard(person)


def answering(rng: random.Random, counts: Counter[str], failing: Callable[[], bool]) -> Callable[[int], int | str]:
    """Answers of a target that fails a third of the time, in five ways."""

    def answer(number: int) -> int | str:
        if not failing() or rng.random() > 1 / 3:
            return 200
        kinds: list[int | str] = [500, 429, "refuse", "hang", "accept then hang"]
        kind = rng.choices(kinds, [5, 4, 4, 1, 1])[0]
        counts[str(kind)] += 1
        return kind

    return answer
