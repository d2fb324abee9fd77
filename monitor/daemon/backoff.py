"""Growing pauses after failures, so that a lasting trouble neither ends the loop nor keeps it busy."""

from __future__ import annotations

from collections.abc import Callable, Collection

from monitor import logs
from monitor.errors import WorkFailed

FIRST_SECONDS = 1.0
LONGEST_SECONDS = 300.0
ENDING = (KeyboardInterrupt, SystemExit, GeneratorExit)
"""What ends the program though something is there to catch everything else, the panics of libraries among it."""


class Pauses:
    """By name of what failed: each failure in a row doubles the pause, a success ends it."""

    def __init__(self, first_seconds: float = FIRST_SECONDS, longest_seconds: float = LONGEST_SECONDS) -> None:
        self._first_seconds = first_seconds
        self._longest_seconds = longest_seconds
        self._until: dict[str, float] = {}
        self._seconds: dict[str, float] = {}

    def failed(self, name: str, now: float) -> float:
        """Seconds until the next try."""
        seconds = min(self._seconds.get(name, self._first_seconds / 2) * 2, self._longest_seconds)
        self._seconds[name], self._until[name] = seconds, now + seconds
        return seconds

    def worked(self, name: str) -> bool:
        """True when it had failed before."""
        self._until.pop(name, None)
        return self._seconds.pop(name, None) is not None

    def until(self, name: str) -> float | None:
        return self._until.get(name)

    def over(self, name: str, now: float) -> bool:
        until = self._until.get(name)
        return until is None or now >= until

    def keep(self, names: Collection[str]) -> None:
        """Forget all others: what they were for is gone."""
        for name in [one for one in self._seconds if one not in names]:
            self.worked(name)

    @property
    def failing(self) -> tuple[str, ...]:
        return tuple(sorted(self._seconds))


class StepGuard:
    """Runs the steps of a loop. A failure is logged once, and its step tried again after a pause that grows."""

    def __init__(self, monotonic: Callable[[], float], failed: Callable[[BaseException], None]) -> None:
        self._monotonic = monotonic
        self._heard = failed
        self._pauses = Pauses()
        self._said: dict[str, str] = {}

    def run(self, step: str, act: Callable[[], None]) -> bool:
        """Whether the step was done: not when it stands in a pause, nor when it failed."""
        if not self._pauses.over(step, self._monotonic()):
            return False
        try:
            act()
        except ENDING:
            raise
        except BaseException as error:  # noqa: BLE001 - a library's panic is no Exception, and must not end the daemon
            first = step not in self._pauses.failing
            pause_seconds = self._pauses.failed(step, self._monotonic())
            if first:
                logs.failure("failed", error, step=step, pause_seconds=pause_seconds)
            self._said[step] = str(error) if isinstance(error, WorkFailed) else ""
            self._heard(error)
            return False
        if self._pauses.worked(step):
            logs.event("works_again", step=step)
        return True

    @property
    def failing(self) -> tuple[str, ...]:
        return self._pauses.failing

    def said(self, step: str) -> str:
        """What a failing step said last, where it was meant for people."""
        return self._said.get(step, "")

    def next_tries(self) -> list[float]:
        return [until for step in self._pauses.failing if (until := self._pauses.until(step)) is not None]

    def not_before(self, step: str, due: float) -> float:
        """When a step that is due then may run."""
        return max(due, self._pauses.until(step) or due)
