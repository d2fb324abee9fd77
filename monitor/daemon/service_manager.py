"""Telling the service manager that the daemon is ready, alive, or ending; silent where there is none that asks.

The protocol is that of sd_notify(3): lines in a datagram to the socket named by NOTIFY_SOCKET.
"""

from __future__ import annotations

import os
import socket
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress

PULSE_NAME = "fallow-pulse"
SEND_SECONDS = 1.0


class Service:
    """`beat` announces the next beat within so many seconds; without it the keep-alive stops."""

    def __init__(
        self, environment: Mapping[str, str] | None = None, monotonic: Callable[[], float] = time.monotonic
    ) -> None:
        said = os.environ if environment is None else environment
        self._address = said.get("NOTIFY_SOCKET", "")
        self._monotonic = monotonic
        self._good_until = monotonic()
        self._ended = threading.Event()
        self._pulse_seconds = _pulse_seconds(said) if self._address else None
        self._pulse: threading.Thread | None = None

    def ready(self, status: str) -> None:
        self._send(f"READY=1\nSTATUS={status}")
        if self._pulse_seconds is not None and self._pulse is None:
            self._pulse = threading.Thread(target=self._beat_on, name=PULSE_NAME, daemon=True)
            self._pulse.start()

    def beat(self, within_seconds: float) -> None:
        self._good_until = self._monotonic() + within_seconds

    def stopping(self) -> None:
        self._ended.set()
        self._send("STOPPING=1")

    def pulse_once(self) -> bool:
        """Say that the daemon is alive, if it is."""
        alive = self._monotonic() <= self._good_until
        if alive:
            self._send("WATCHDOG=1")
        return alive

    def _beat_on(self) -> None:
        while not self._ended.wait(self._pulse_seconds):
            self.pulse_once()

    def _send(self, text: str) -> None:
        if not self._address:
            return
        address = "\0" + self._address[1:] if self._address.startswith("@") else self._address
        with suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as sender:
            sender.settimeout(SEND_SECONDS)  # a manager that does not read must not block the daemon
            sender.sendto(text.encode(), address)


def _pulse_seconds(environment: Mapping[str, str]) -> float | None:
    """A third of the time after which the manager gives up; None when it does not watch this process."""
    wanted, pid = environment.get("WATCHDOG_USEC", ""), environment.get("WATCHDOG_PID", "")
    if not wanted.isdigit() or int(wanted) == 0 or (pid and pid != str(os.getpid())):
        return None
    return int(wanted) / 1e6 / 3
