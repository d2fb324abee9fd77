"""Waiting for what no event tells of; a test that waits in vain is ended by its timeout."""

from __future__ import annotations

import subprocess
import time
from collections.abc import Callable


def until(true: Callable[[], bool]) -> None:
    while not true():
        time.sleep(0.02)


def alive(process_id: int) -> bool:
    """Whether a process runs; one that ended and waits for its parent to notice does not."""
    told = subprocess.run(["ps", "-o", "state=", "-p", str(process_id)], capture_output=True, check=False)
    return told.stdout.strip()[:1] not in (b"", b"Z")
