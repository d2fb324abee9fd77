"""Waiting for what no event tells of; a test that waits in vain is ended by its timeout."""

from __future__ import annotations

import random
import socket
import subprocess
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

PATIENCE_SECONDS = 200.0
"""What is awaited takes as long as a busy machine makes it, and nobody waits longer than for the event."""
SYSTEM_TELLS = Path("/proc/self/stat")
FIRST_PORT, LAST_PORT = 16_000, 32_000
"""Below those that the system gives to connections, any of which it could hand out before a server takes it again."""


def until(true: Callable[[], bool]) -> None:
    while not true():
        time.sleep(0.02)


def alive(process_id: int) -> bool:
    """Whether a process runs; one that ended and waits for its parent to notice does not."""
    if not SYSTEM_TELLS.exists():
        asked = ["ps", "-o", "state=", "-p", str(process_id)]
        return subprocess.run(asked, capture_output=True, check=False).stdout.strip()[:1] not in (b"", b"Z")
    try:  # at once, where a process that asks costs as much as what is waited for
        told = (SYSTEM_TELLS.parent.parent / str(process_id) / "stat").read_bytes()
    except (FileNotFoundError, ProcessLookupError):
        return False
    return told.rpartition(b")")[2].split()[0] not in (b"Z", b"X")


def free_port() -> int:
    """A local port that nobody uses and that no connection will be given."""
    while True:
        port = random.SystemRandom().randrange(FIRST_PORT, LAST_PORT)
        with socket.socket() as probe, suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return port
