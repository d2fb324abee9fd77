"""What the program is made of exists on every system that the README names, or is asked for before it is used."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

MONITOR = Path(__file__).parent.parent.parent / "monitor"
FILES = sorted(MONITOR.rglob("*.py"))
NOT_ON_WINDOWS = {
    "O_CLOEXEC", "O_DIRECTORY", "O_NOFOLLOW", "O_NONBLOCK", "fchmod", "fork", "geteuid", "getuid", "killpg", "mkfifo",
    "register_at_fork", "sync", "uname", "AF_UNIX", "SIGALRM", "SIGHUP", "SIGKILL", "SIGUSR1", "SIGXCPU",
    "SOCK_CLOEXEC",
}  # fmt: skip
MODULES_NOT_ON_WINDOWS = {"fcntl", "grp", "pwd", "resource", "termios", "tty", "pty"}


ASKED_FOR_FIRST = {
    "daemon/daemon_state.py": {"register_at_fork", "fcntl"},
    "daemon/service_manager.py": {"AF_UNIX", "SOCK_CLOEXEC"},  # only where a service manager gave an address
    "daemon/run.py": {"SIGHUP"},
    "intake/worker_limits.py": {"resource"},
    "intake/worker_process.py": {"SIGALRM", "SIGHUP", "SIGKILL", "SIGXCPU"},
    "store/connections.py": {"fcntl"},
}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.relative_to(MONITOR).as_posix())
def test_no_name_is_used_that_windows_has_not(path: Path) -> None:
    tree = ast.parse(path.read_text("utf-8"))
    named = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    imported = {
        name.split(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in ([alias.name for alias in node.names] if isinstance(node, ast.Import) else [node.module or ""])
    }
    missing = (named & NOT_ON_WINDOWS) | (imported & MODULES_NOT_ON_WINDOWS)
    assert missing == ASKED_FOR_FIRST.get(path.relative_to(MONITOR).as_posix(), set())
