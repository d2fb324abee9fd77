"""A small disk of its own, where this process may mount one."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest


def mount(folder: Path, megabytes: int) -> None:
    """Put a disk of so many megabytes in the place of a folder; skips the test where that is not allowed."""
    if sys.platform != "linux":
        pytest.skip("mounts a small disk as Linux does")
    folder.mkdir(parents=True, exist_ok=True)
    command = ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m,mode=700", "tmpfs", str(folder)]
    try:
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    except FileNotFoundError:
        pytest.skip("there is no `mount` here")
    if done.returncode:
        pytest.skip(f"this user may not mount a disk: {done.stderr.strip()}")


def unmount(folder: Path) -> None:
    """Take it away as a share goes: at once, whoever is looking into it."""
    subprocess.run(["umount", "-l", str(folder)], capture_output=True, check=True)


@contextmanager
def small_disk(folder: Path, megabytes: int) -> Iterator[None]:
    mount(folder, megabytes)
    try:
        yield
    finally:
        with suppress(subprocess.CalledProcessError):
            unmount(folder)
