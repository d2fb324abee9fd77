import signal
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from tests.process.daemons import started, surroundings
from tests.process.warm import Forked
from tests.targets import Target, http_target
from tests.waiting import PATIENCE_SECONDS

STEPS = ("after queue", "after claim", "after send", "before mark")

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="kills with SIGKILL")


def begun(home: Path, target: Target, number: int, step: str) -> subprocess.Popen[str] | Forked:
    program = "import runpy; runpy.run_module('tests.process.delivering', run_name='__main__')"
    command = [sys.executable, "-c", program, str(home), target.url(), str(number), step]
    return started(command, surroundings(), anew=False)


def run(home: Path, target: Target, number: int = 0, step: str = "never") -> subprocess.CompletedProcess[str]:
    process = begun(home, target, number, step)
    said, errors = process.communicate(timeout=PATIENCE_SECONDS)
    return subprocess.CompletedProcess([], process.wait(), said, errors)


def test_killed_at_every_step_no_alert_is_lost_and_each_kill_repeats_at_most_one(tmp_path: Path) -> None:
    kills = 0
    with http_target() as target:
        for number, step in enumerate(STEPS, start=1):
            before = len(target.accepted)
            killed = run(tmp_path, target, number, step)
            assert killed.returncode == -signal.SIGKILL, killed.stderr
            kills += 1
            assert len(target.accepted) - before <= 1, "the next message goes only when the last is in the books"
        last = run(tmp_path, target)
        assert last.returncode == 0, last.stderr
        assert last.stdout.split()[1] == "0", "nothing waits"
        for number in range(1, len(STEPS) + 1):
            for reader in ("coach", "athlete"):
                assert any(
                    f"finding number {number}" in (one.title + one.body).lower()
                    and ("Runa" in one.title) == (reader == "coach")
                    for one in target.accepted
                ), (number, reader)
        repeats = sum(count - 1 for count in Counter((one.title, one.body) for one in target.accepted).values())
        assert repeats <= 1, "only the kill between sending and the journal may repeat"
        assert run(tmp_path, target).stdout.split() == ["0", "0"]


def test_two_processes_never_send_the_same_row(tmp_path: Path) -> None:
    with http_target() as target:
        assert run(tmp_path, target, 1, "after queue").returncode == -signal.SIGKILL
        both = [begun(tmp_path, target, 0, "never") for _ in range(2)]
        sent = sum(int(process.communicate(timeout=PATIENCE_SECONDS)[0].split()[0]) for process in both)
        assert sent == 2
        assert len(target.received) == 2
