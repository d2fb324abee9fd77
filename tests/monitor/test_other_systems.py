"""What commands are made of exists on every system that the README names."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

MONITOR = Path(__file__).parent.parent.parent / "monitor"
SHELL = [
    *sorted((MONITOR / "cli").glob("*.py")),
    *sorted((MONITOR / "views").glob("*.py")),
    *(MONITOR / f"{name}.py" for name in ("addresses", "checkins", "demo", "doctor", "home", "initialise", "logs")),
]
NOT_ON_WINDOWS = {
    "O_CLOEXEC", "O_DIRECTORY", "O_NOFOLLOW", "O_NONBLOCK", "fchmod", "fork", "geteuid", "getuid", "killpg", "mkfifo",
    "register_at_fork", "sync", "uname", "AF_UNIX", "SIGALRM", "SIGHUP", "SIGKILL", "SIGUSR1", "SIGXCPU",
    "SOCK_CLOEXEC",
}  # fmt: skip
MODULES_NOT_ON_WINDOWS = {"fcntl", "grp", "pwd", "resource", "termios", "tty", "pty"}


@pytest.mark.parametrize("path", SHELL, ids=lambda path: path.stem)
def test_no_name_is_used_that_windows_has_not(path: Path) -> None:
    tree = ast.parse(path.read_text("utf-8"))
    named = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    imported = {
        name.split(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in ([alias.name for alias in node.names] if isinstance(node, ast.Import) else [node.module or ""])
    }
    assert not named & NOT_ON_WINDOWS
    assert not imported & MODULES_NOT_ON_WINDOWS
