"""`fallow watch`: one process, one home, until it is told to stop."""

from __future__ import annotations

import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from queue import SimpleQueue
from types import FrameType
from typing import TYPE_CHECKING

from monitor import logs
from monitor.board.board_thread import BoardThread
from monitor.clock import Clock
from monitor.daemon.daemon_state import HomeLock, read_state
from monitor.daemon.delivery_thread import DeliveryThread
from monitor.daemon.folder_monitor import FolderMonitor, FolderScans
from monitor.daemon.loop import Loop, LoopParts, LoopTrouble, Waking
from monitor.daemon.protocols import Scanner
from monitor.daemon.roster_reload import RosterFile, load_roster
from monitor.daemon.scanner import LazyScanner, ScanPriority
from monitor.daemon.service_manager import Service
from monitor.folders.events import Watching
from monitor.home import Home
from monitor.roster.types import Roster
from monitor.store.connections import kept

if TYPE_CHECKING:
    from monitor.board.session_view import ViewCache

STOP_SECONDS = 5.0
"""A pass that ends within so long after SIGTERM is finished; a longer one is cut short."""


def run_watch(
    home: Home,
    clock: Clock,
    *,
    make_scanner: Callable[[Roster], Scanner],
    out: Callable[[str], None] = print,
    load: Callable[[Path], Roster] = load_roster,
) -> int:
    """Watch the folders of this home until SIGTERM or SIGINT; the exit status.

    `make_scanner` is called once the daemon is ready, and may then import what it likes.
    RosterError for a roster that is wrong at the start, WorkFailed for a home that another daemon works on.
    """
    roster = load(home.roster)
    lock = HomeLock.take(home.made())
    try:
        logs.open_log(home)
        logs.event("start", athletes=len(roster.athletes))
        way = ScanPriority()
        scanner = LazyScanner(home, roster, make_scanner, way)
        try:
            with kept(home.store):
                _watch(home, clock, roster, scanner, way, out, load)
        finally:
            scanner.close()
        logs.event("end")
        return 0
    finally:
        logs.close_log()
        lock.release()


def _watch(
    home: Home,
    clock: Clock,
    roster: Roster,
    scanner: Scanner,
    way: ScanPriority,
    out: Callable[[str], None],
    load: Callable[[Path], Roster],
) -> None:
    wakings: SimpleQueue[Waking] = SimpleQueue()
    before = read_state(home)
    folder_watch = FolderMonitor(
        roster,
        scanner,
        Watching(wakings),
        FolderScans(wakings.put),
        wall=time.time,
        store_stamp=lambda: _stamp(home.store),
        store_identity=lambda: _identity(home.store),
        held=before.held if before else None,
    )
    roster_file = RosterFile(roster, load)

    def failed(error: BaseException) -> None:
        wakings.put(LoopTrouble(error))

    board = BoardThread(_board_writer(home, clock, roster_file, way), failed=failed)
    delivery_loop = DeliveryThread(scanner.deliver, failed=failed, wake_up=scanner.wake_up)
    say = _flushed(out)
    remark = say if sys.stdout is not None and sys.stdout.isatty() else _unsaid
    parts = LoopParts(
        home, clock, scanner, roster_file, folder_watch, wakings, delivery_loop, board, Service(), say, remark
    )
    with _signals(wakings, scanner):
        Loop(parts).run()


def _board_writer(home: Home, clock: Clock, roster_file: RosterFile, way: ScanPriority) -> Callable[[], object]:
    """Draws board.html with the roster in use, and keeps drawn parts for the next time."""
    shelves: list[ViewCache] = []

    def write() -> object:
        from monitor.board import write as write_board  # noqa: PLC0415 - brings the charts
        from monitor.board.session_view import ViewCache  # noqa: PLC0415 - brought only where it is needed
        from monitor.store.database import Store  # noqa: PLC0415 - brought only where it is needed
        from rules.limits import default_limits  # noqa: PLC0415 - brought only where it is needed

        store, limits = Store(home.store), default_limits()
        if not shelves:
            shelves.append(ViewCache(store, limits))
        return write_board(home, roster_file.good, store, clock.now(), limits, shelves[0], way.giver())

    return write


def _flushed(out: Callable[[str], None]) -> Callable[[str], None]:
    """Print a line at once; it is no error when nobody reads it."""

    def say(line: str) -> None:
        with suppress(OSError, ValueError):
            out(line)
            sys.stdout.flush()

    return say


def _unsaid(_: str) -> None:
    """Progress is not printed into a service's log."""


def _stamp(store: Path) -> tuple[int, ...] | None:
    """What changes whenever the store does: its file, or the log of one that is kept open."""
    try:
        found = store.stat()
    except OSError:
        return None
    log = store.with_name(f"{store.name}.wal")
    with suppress(OSError):
        beside = log.stat()
        return found.st_ino, found.st_size, found.st_mtime_ns, beside.st_size, beside.st_mtime_ns
    return found.st_ino, found.st_size, found.st_mtime_ns


def _identity(store: Path) -> tuple[int, int] | None:
    """What changes when another store is put in the place of one."""
    try:
        found = store.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


@contextmanager
def _signals(wakings: SimpleQueue[Waking], scanner: Scanner) -> Iterator[None]:
    """SIGTERM and SIGINT end the loop, SIGHUP reads the roster again; a second SIGINT ends at once."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    asked: SimpleQueue[bool] = SimpleQueue()
    over = threading.Event()

    def give_up_reading() -> None:
        """A pass over years of files is cut short: those not read yet are read after the next start."""
        asked.get()
        if not over.wait(STOP_SECONDS):
            scanner.close()

    def stop(number: int, frame: FrameType | None) -> None:
        signal.signal(number, before[number])
        asked.put(True)  # a SimpleQueue may be put to in a signal handler while it is waited on; an Event may deadlock
        wakings.put("stop")

    def reload(number: int, frame: FrameType | None) -> None:
        wakings.put("reload")

    wanted: dict[int, Callable[[int, FrameType | None], None]] = {signal.SIGTERM: stop, signal.SIGINT: stop}
    if hasattr(signal, "SIGHUP"):
        wanted[signal.SIGHUP] = reload
    before = {number: signal.signal(number, handler) for number, handler in wanted.items()}
    threading.Thread(target=give_up_reading, name="fallow-stop", daemon=True).start()
    try:
        yield
    finally:
        over.set()
        for number, handler in before.items():
            signal.signal(number, handler)
