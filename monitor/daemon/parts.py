"""What the daemon's loop is put together from, and what wakes it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, Protocol

from monitor.clock import Clock
from monitor.daemon.courier import Courier
from monitor.daemon.eyes import Eyes
from monitor.daemon.looks import Looked
from monitor.daemon.notify import Service
from monitor.daemon.reload import RosterFile
from monitor.daemon.seams import Board, Scanner
from monitor.folders.watching import Hint
from monitor.home import Home

Signal = Literal["stop", "reload"]


@dataclass(frozen=True, slots=True)
class Trouble:
    """What went wrong beside the loop, in a thread of its own, and may concern all."""

    error: BaseException


Waking = Hint | Looked | Trouble | Signal


class Wakings(Protocol):
    """What wakes the loop: a queue, which signal handlers and threads may put into."""

    def get(self, block: bool = True, timeout: float | None = None) -> Waking: ...

    def get_nowait(self) -> Waking: ...


@dataclass(frozen=True, slots=True)
class Parts:
    """What the loop is put together from."""

    home: Home
    clock: Clock
    scanner: Scanner
    roster_file: RosterFile
    eyes: Eyes
    wakings: Wakings
    courier: Courier
    board: Board
    service: Service
    out: Callable[[str], None]
    remark: Callable[[str], None]
    """What only somebody who looks on wants to read."""
