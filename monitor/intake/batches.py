"""Files that one look brought, being read: when what has come is stored, what is held, and what is left behind.

A slow file holds only itself: where no result comes for a moment, what there is is stored.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from monitor.intake.storing import ReadFile
from monitor.intake.workers import FilesReading, ReadJob, ReadResult, Workers
from monitor.roster import RosterAthlete
from monitor.values import Seen

BATCH_FILES = 100
BATCH_SAMPLES = 400_000
SLOW_SECONDS = 0.3
"""Where no file was read for so long, what was read before is stored, judged and told of."""
LEAVE_SECONDS = 2.0
"""After so long the daemon leaves what is still being read behind, and looks at what else came."""
LOOK_IN_SECONDS = 0.02
FIRST_LOOK_SECONDS = 5.0
"""What a first look brings is judged as one, but does not wait longer for a slow file."""
TRACKS_AT_ONCE = 16
"""Of so many files at the most what was cleaned for their digests is held for their verdicts: about a MB each."""
Item = tuple[str, Seen]


@dataclass(frozen=True, slots=True)
class Due:
    """What is held is to be stored now; judged as well, but for athletes whose first look is still under way."""

    judge: bool = True
    but: frozenset[str] = frozenset()
    more: bool = False  # to come in this look


@dataclass(slots=True)
class Look:
    """Files not read yet by their place, what was read and is not stored, and whose first look it is."""

    jobs: dict[tuple[Path, str], Item]
    first: set[str]
    reading: FilesReading
    held: dict[str, list[ReadFile]] = field(default_factory=lambda: defaultdict(list))
    samples: int = 0
    failures: int = 0  # to store what is held, in a row

    @classmethod
    def begin(cls, items: Iterable[Item], athletes: Sequence[RosterAthlete], first: set[str], workers: Workers) -> Look:
        """Have files read, small ones first; those of athletes off the roster wait."""
        by_id = {athlete.id: athlete for athlete in athletes}
        jobs = {
            (by_id[athlete_id].folder, seen.relative): (athlete_id, seen)
            for athlete_id, seen in sorted(items, key=lambda item: item[1].size)
            if athlete_id in by_id
        }
        few = len(jobs) <= TRACKS_AT_ONCE
        asked = [
            ReadJob(by_id[athlete_id].folder, seen.relative, by_id[athlete_id].options, few)
            for athlete_id, seen in jobs.values()
        ]
        return cls(jobs, first & {athlete_id for athlete_id, _ in jobs.values()}, workers.reading(asked))

    @property
    def items(self) -> list[Item]:
        """What is not stored yet."""
        held = ((athlete_id, file.seen) for athlete_id, files in self.held.items() for file in files)
        return [*self.jobs.values(), *held]

    def due(self, patient: bool, done: Callable[[int], object]) -> Iterator[Due]:
        """Whenever what is held is to be stored, until all is read; the patient leave what is slow behind."""
        waited = 0.0
        while not self.reading.over:
            result = self.reading.next(SLOW_SECONDS)
            if result is None:
                waited += SLOW_SECONDS
            else:
                self._hold(*result)
                waited = 0.0
                done(1)
            if self.reading.over:
                break
            if waited >= self._leave_after(waited) and patient:
                break
            if self._full or (waited and self.held):
                yield Due(bool(waited), frozenset(self._unfinished(waited)), more=True)
        yield Due()

    def look_in(self) -> bool:
        """Take what has come since of a look that was left behind; whether anything is held."""
        while not self._full and (result := self.reading.next(LOOK_IN_SECONDS)) is not None:
            self._hold(*result)
        return bool(self.held)

    def stored(self) -> None:
        """What was held is in the store."""
        self.held.clear()
        self.samples = self.failures = 0

    def _hold(self, job: ReadJob, result: ReadResult) -> None:
        athlete_id, seen = self.jobs.pop((job.root, job.relative))
        self.held[athlete_id].append(ReadFile(seen, result.sha256, result.facts, result.reason))
        recordings = result.facts.recordings if result.facts else ()
        self.samples += sum(len(recording.samples.get("t_s", ())) for recording in recordings)

    @property
    def _full(self) -> bool:
        return sum(map(len, self.held.values())) >= BATCH_FILES or self.samples >= BATCH_SAMPLES

    def _unfinished(self, waited: float) -> set[str]:
        """Athletes whose first look is still under way, and not for a file that takes for ever: judged as one."""
        return {one for one, _ in self.jobs.values()} & self.first if waited < FIRST_LOOK_SECONDS else set()

    def _leave_after(self, waited: float) -> float:
        """After how many seconds without a result the rest is left behind."""
        return FIRST_LOOK_SECONDS if self._unfinished(waited) else LEAVE_SECONDS
