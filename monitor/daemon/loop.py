"""The daemon's loop: sleeps until something is due or an event comes, does it, and survives its failures."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass
from queue import Empty
from typing import TYPE_CHECKING, Literal, Protocol

from monitor import logs, words
from monitor.clock import Clock
from monitor.daemon.daemon_state import StateWriter
from monitor.daemon.delivery_thread import DeliveryThread, real_now
from monitor.daemon.folder_monitor import FolderMonitor, FolderScan
from monitor.daemon.protocols import Board, Scanner
from monitor.daemon.retry import FileRetry, StepGuard
from monitor.daemon.roster_reload import RosterFile
from monitor.daemon.service_manager import Service
from monitor.errors import RosterError
from monitor.folders.events import Hint
from monitor.home import Home
from monitor.roster.types import Roster

if TYPE_CHECKING:
    from monitor.store.database import StoreBroken


# The parts of the loop, and the events that wake it.

Signal = Literal["stop", "reload"]


@dataclass(frozen=True, slots=True)
class LoopTrouble:
    """An error of another thread that may concern the whole daemon, such as a damaged store."""

    error: BaseException


Waking = Hint | FolderScan | LoopTrouble | Signal


class WakeQueue(Protocol):
    """What wakes the loop: a queue, which signal handlers and threads may put into."""

    def get(self, block: bool = True, timeout: float | None = None) -> Waking: ...

    def get_nowait(self) -> Waking: ...


@dataclass(frozen=True, slots=True)
class LoopParts:
    """The parts of the daemon that the loop calls."""

    home: Home
    clock: Clock
    scanner: Scanner
    roster_file: RosterFile
    folder_watch: FolderMonitor
    wakings: WakeQueue
    delivery_loop: DeliveryThread
    board: Board
    service: Service
    out: Callable[[str], None]
    remark: Callable[[str], None]
    """Prints progress, for somebody at a terminal."""


TIMERS_SECONDS = 60.0
FIRST_TIMERS_SECONDS = 10.0
"""Files present at the start are read before silence is judged, if they settle within so long."""
TURN_WITHIN_SECONDS = 90.0
PASS_WITHIN_SECONDS = 6 * 3600.0
"""A first import of years takes long without hanging: every file in it has its own time limit."""
SHORTEST_WAIT_SECONDS = 0.02
SLOW_SECONDS = 0.5
"""How often the results of slow files are collected."""
REBUILD_APART_SECONDS = 600.0
"""A new store that is damaged sooner means a broken disk; it is not replaced again."""


class Loop:
    def __init__(self, parts: LoopParts) -> None:
        self._do = parts
        self._file_retry = FileRetry(parts.scanner)
        self._guard = StepGuard(parts.clock.monotonic, self._failed)
        self._stopping = False
        self._ready = False
        self._rescans = 0
        self._timers_at = self._roster_at = self._slow_at = 0.0
        parts.scanner.on_judged = self._changed
        self._new_roster: Roster | None = None
        self._notices: list[str] = []
        self._missing_told: dict[str, str] | None = None
        self._broken: StoreBroken | None = None
        self._ending: BaseException | None = None
        self._rebuilt_at: float | None = None
        self._state_writer = StateWriter(
            parts.home, parts.folder_watch, parts.roster_file, real_now, parts.clock.monotonic
        )

    def run(self) -> None:
        """Run until asked to stop; work that has begun is finished first."""
        heard: list[Waking] = []
        try:
            while not self._stopping:
                self.turn(heard)
                heard = [] if self._stopping else self.wait()
            if self._ending is not None:
                raise self._ending
        finally:
            self._do.service.stopping()
            self._do.folder_watch.close()
            if self._ready:
                self._do.board.stop()
                self._do.delivery_loop.stop()

    def wait(self) -> list[Waking]:
        """Sleep until something is due or comes; all that came."""
        now = self._now()
        heard: list[Waking] = []
        try:
            heard.append(self._do.wakings.get(timeout=max(self._next_due(now) - now, SHORTEST_WAIT_SECONDS)))
            while True:
                heard.append(self._do.wakings.get_nowait())
        except Empty:
            return heard

    def turn(self, heard: list[Waking]) -> None:
        """One round of everything that is due."""
        self._do.service.beat(TURN_WITHIN_SECONDS)
        self._stopping = self._stopping or "stop" in heard
        if "reload" in heard:
            self._do.roster_file.ask()
            self._roster_at = 0.0
        hints = [waking for waking in heard if isinstance(waking, Hint)]
        looked = [waking for waking in heard if isinstance(waking, FolderScan)]
        for waking in heard:
            if isinstance(waking, LoopTrouble):
                self._failed(waking.error)
        if self._stopping:
            return
        if self._broken is not None:
            self._guard.run("rebuild", self._rebuild)
        if self._do.folder_watch.store_replaced():
            self._begin_anew()
        if self._now() >= self._roster_at:
            self._guard.run("roster", self._look_at_roster)
        if self._new_roster is not None:
            self._guard.run("roster_change", self._use_new_roster)
        if hints and self._ready:
            self._guard.run("warm", self._do.scanner.warm)
        looking = self._guard.run("look", lambda: self._do.folder_watch.step(self._now(), hints, looked))
        if looking and not self._ready:
            self._say_ready()
        if self._do.folder_watch.rescans != self._rescans:
            self._rescans = self._do.folder_watch.rescans
            self._state_writer.looked()
        if self._ready:
            self._work()
        self._keep_state()

    # The steps of a turn

    def _work(self) -> None:
        if self._do.folder_watch.refused():
            self._guard.run("refused", self._tell_refused)
        if self._file_retry.due(self._do.folder_watch.ready(), self._now()):
            self._guard.run("pass", self._pass)
        if self._do.scanner.slow and self._now() >= self._slow_at:
            self._guard.run("slow", self._slow_files)
        if self._missing_told != self._do.folder_watch.missing(self._now()):
            self._guard.run("folders", self._tell_missing)
        if self._notices:
            self._guard.run("notice", self._tell_notices)
        if self._now() >= self._timers_at:
            self._guard.run("timers", self._timers)

    def _pass(self) -> None:
        now = self._now()
        items = self._file_retry.due(self._do.folder_watch.ready(), now)
        self._do.service.beat(PASS_WITHIN_SECONDS)
        try:
            done = self._file_retry.take(items, now, self._do.folder_watch.taken)
        finally:
            self._changed()
        self._state_writer.looked()
        logs.event("pass", files=done, seconds=self._now() - now)
        if done:
            self._do.remark(f"{real_now().astimezone():%H:%M:%S} {done} {'file' if done == 1 else 'files'} taken in")

    def _slow_files(self) -> None:
        self._slow_at = self._now() + SLOW_SECONDS
        if self._do.scanner.take_slow() is not None:
            self._changed()

    def _tell_refused(self) -> None:
        refused = self._do.folder_watch.refused()
        self._do.scanner.take([], refused)
        self._do.folder_watch.refused_told(refused)
        self._changed()
        logs.event("refused", things=sum(len(things) for things in refused.values()))

    def _tell_missing(self) -> None:
        missing = self._do.folder_watch.missing(self._now())
        self._do.scanner.roots(missing)
        self._missing_told = missing
        self._changed()

    def _tell_notices(self) -> None:
        while self._notices:
            self._do.scanner.notice(self._notices[0])
            self._notices.pop(0)
        self._do.delivery_loop.call()

    def _timers(self) -> None:
        done = self._do.scanner.timers()
        self._timers_at = self._now() + (0.0 if done.more else TIMERS_SECONDS)
        self._do.delivery_loop.call()
        if done.judged:
            self._do.board.changed()

    def _look_at_roster(self) -> None:
        now = self._now()
        found = self._do.roster_file.look(now)
        self._roster_at = self._do.roster_file.next_due(now)
        if isinstance(found, RosterError):
            logs.event("roster_bad")
            self._notice(words.doctor.ROSTER_NOT_VALID.format(elsewhere=found.elsewhere))
        elif found is not None:
            self._new_roster = found

    def _use_new_roster(self) -> None:
        if self._new_roster is not None:
            self._do.scanner.use(self._new_roster)
            self._do.folder_watch.use(self._new_roster)
            logs.event("roster_changed", athletes=len(self._new_roster.athletes))
            self._new_roster = None
            self._timers_at = 0.0
            self._changed()

    def _rebuild(self) -> None:
        broken = self._broken
        if broken is None or (self._rebuilt_at is not None and self._now() - self._rebuilt_at < REBUILD_APART_SECONDS):
            self._broken = None
            return

        self._do.scanner.rebuild(broken.identity)  # a failure is tried again
        self._broken = None
        self._rebuilt_at = self._now()
        self._do.folder_watch.read_all_again()
        logs.event("store_rebuilt", level=logging.WARNING)
        self._notice(words.doctor.STORE_REBUILT)

    def _begin_anew(self) -> None:
        """The store was replaced, here or by a command: it is filled before anything is judged by the clock."""
        self._missing_told = None
        self._timers_at = max(self._timers_at, self._now() + TIMERS_SECONDS)
        logs.event("store_replaced")

    def _say_ready(self) -> None:
        self._ready = True
        text = f"watching {self._do.folder_watch.folders} folders"
        self._state_writer.ready()
        self._keep_state()
        self._do.out(text)
        self._do.service.ready(text)
        if self._do.folder_watch.settling:
            self._timers_at = self._now() + FIRST_TIMERS_SECONDS
        self._do.delivery_loop.start()
        self._do.board.start()
        self._do.board.changed()
        logs.event("ready", folders=self._do.folder_watch.folders, polled=len(self._do.folder_watch.polled))

    # How it goes on

    def _notice(self, text: str) -> None:
        """Queue a notice for the owner, sent as soon as possible, and print it."""
        self._notices.append(text)
        self._do.out(text)

    def _changed(self) -> None:
        """Wake delivery and board."""
        self._do.delivery_loop.call()
        self._do.board.changed()

    def _failed(self, error: BaseException) -> None:
        from monitor.store.database import StoreBroken, StoreFull, StoreNewer  # noqa: PLC0415 - as in `_rebuild`

        if isinstance(error, StoreFull) and words.doctor.DISK_FULL not in self._notices:
            self._notice(words.doctor.DISK_FULL)
        if isinstance(error, StoreBroken):
            self._broken = error
        if isinstance(error, StoreNewer):
            self._stopping, self._ending = True, error

    def _keep_state(self) -> None:
        self._guard.run("state", lambda: self._state_writer.keep(self._troubles()))

    def _troubles(self) -> list[str]:
        steps = (*self._guard.failing, *self._do.delivery_loop.failing, *self._do.board.failing)
        said = {step: self._guard.said(step) for step in steps}
        fails, fails_as = words.doctor.STEP_FAILS, words.doctor.STEP_FAILS_AS
        troubles: list[str] = [
            fails_as.format(step=step, said=why) if why else fails.format(step=step)
            for step, why in said.items()
            if step != "state"
        ]
        if failing := self._file_retry.failing:
            troubles.append(words.doctor.FILES_NOT_STORED.format(failing=failing))
        return troubles

    def _next_due(self, now: float) -> float:
        """When the next step is due; one that failed is not due before its pause is over."""
        due = {"roster": self._roster_at, "look": self._do.folder_watch.next_due(now)}
        if self._ready:
            due["timers"] = self._timers_at
            if self._do.scanner.slow:
                due["slow"] = self._slow_at
            ready = self._do.folder_watch.ready()
            put_off = self._file_retry.next_due(ready)
            if self._file_retry.due(ready, now) or put_off is not None:
                due["pass"] = now if self._file_retry.due(ready, now) else put_off or now
        if self._broken is not None:
            due["rebuild"] = now
        steps = [self._guard.not_before(step, moment) for step, moment in due.items()]
        return min([*steps, *self._guard.next_tries()])

    def _now(self) -> float:
        return self._do.clock.monotonic()
