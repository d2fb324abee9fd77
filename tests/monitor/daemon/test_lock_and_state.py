"""One daemon a home, and what others can read of it."""

import os
import stat
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from monitor.daemon.daemon_state import DaemonState, HomeLock, is_held, read_state, write_state
from monitor.errors import WorkFailed
from monitor.home import Home

MOMENT = datetime(2026, 10, 7, 6, 0, tzinfo=UTC)


def nothing(seconds: float) -> None:
    """Stands for the pause between two tries of the lock."""


def test_a_second_daemon_on_one_home_is_told_so(tmp_path: Path) -> None:
    lock = HomeLock.take(Home(tmp_path))
    with pytest.raises(WorkFailed, match="another `fallow watch` is at work"):
        HomeLock.take(Home(tmp_path), nothing)
    lock.release()
    HomeLock.take(Home(tmp_path)).release()


def test_a_lock_file_left_behind_locks_nothing(tmp_path: Path) -> None:
    Home(tmp_path).lock.write_text("4711")
    assert not is_held(Home(tmp_path).lock)
    lock = HomeLock.take(Home(tmp_path))
    assert is_held(Home(tmp_path).lock)
    lock.release()
    assert not is_held(Home(tmp_path).lock)


def test_a_look_at_the_lock_does_not_make_a_daemon_give_up(tmp_path: Path) -> None:
    import fcntl

    home = Home(tmp_path)
    looking = os.open(home.lock, os.O_RDWR | os.O_CREAT)
    fcntl.flock(looking, fcntl.LOCK_SH)
    HomeLock.take(home, lambda seconds: os.close(looking) if is_held(home.lock) or True else None).release()


KILLED_WITH_A_CHILD = """
import os, sys
from pathlib import Path
from monitor.daemon.daemon_state import HomeLock
from monitor.home import Home
lock = HomeLock.take(Home(Path(sys.argv[1])))
if os.fork():
    os.kill(os.getpid(), 9)
print("up", flush=True)
sys.stdin.read()
"""


def test_a_child_that_outlives_the_killed_daemon_does_not_keep_its_lock(tmp_path: Path) -> None:
    command = [sys.executable, "-c", KILLED_WITH_A_CHILD, str(tmp_path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as daemon:
        assert daemon.stdout is not None
        assert daemon.stdout.readline() == b"up\n"
        assert daemon.wait() == -9
        assert not is_held(Home(tmp_path).lock)


def test_a_home_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    Home(tmp_path).lock.mkdir()
    with pytest.raises(WorkFailed, match=r"fallow\.lock: cannot be written"):
        HomeLock.take(Home(tmp_path))


def test_a_state_is_read_as_it_was_written_for_the_owner_alone(tmp_path: Path) -> None:
    home = Home(tmp_path)
    state = DaemonState(
        7, MOMENT, MOMENT, None, 3, {"runa": "the folder is not there"}, {"hal": "a nfs mount"}, "born = 19", "pass",
        {"runa": (3, 14)},
    )  # fmt: skip
    write_state(home, state)
    assert read_state(home) == state
    assert stat.S_IMODE(home.state.stat().st_mode) == 0o600
    assert [path.name for path in tmp_path.iterdir()] == [home.state.name]


def test_whether_a_daemon_runs_is_told_by_the_lock_and_not_by_what_is_written(tmp_path: Path) -> None:
    home = Home(tmp_path)
    assert read_state(home) is None
    write_state(home, DaemonState(os.getpid(), MOMENT))
    found = read_state(home)
    assert found is not None
    assert not found.running
    lock = HomeLock.take(home)
    found = read_state(home)
    assert found is not None
    assert found.running
    home.state.write_text('{"pid": "no number", ')
    found = read_state(home)
    assert found is not None
    assert found.running
    lock.release()
    assert read_state(home) is None
