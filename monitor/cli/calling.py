"""How commands are written so that they can be copied into the terminal they stand in."""

from __future__ import annotations

import shlex
import shutil
import subprocess
import sys
from pathlib import Path

NAME = "fallow"


def called() -> str:
    """The program as this terminal knows it: by its name, or by the path with which it was called."""
    if shutil.which(NAME) or Path(sys.argv[0]).stem != NAME:
        return NAME
    return quoted(sys.argv[0])


def quoted(text: object) -> str:
    """One word of a command line."""
    return subprocess.list2cmdline([str(text)]) if sys.platform == "win32" else shlex.quote(str(text))


def known_by_path() -> str:
    """A sentence for a terminal that does not know the program by its name; else empty."""
    name = called()
    if name == NAME:
        return ""
    return f"This terminal knows `{NAME}` only as {name}; write that, or activate its environment first."
