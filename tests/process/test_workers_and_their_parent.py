"""Worker processes never outlive the program that started them, however it ends."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.waiting import alive, until

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="limits of the system are POSIX")

ROOT = Path(__file__).resolve().parents[2]

PARENT = """
import sys
from dataclasses import replace
from pathlib import Path
from monitor.values import IntakeOptions
from monitor.intake.worker_limits import WorkerLimits
from monitor.intake.workers import ReadJob, Workers
limits = replace(WorkerLimits.default(), wall_seconds=20.0)  # what ends one that hangs, and is waited for
workers = Workers(1, idle_seconds=600, limits=limits, module="tests.hostile_worker")
root, options = Path(sys.argv[1]), IntakeOptions("UTC")
for job, result in workers.read_many([ReadJob(root, name, options) for name in sys.argv[2:]]):
    print(result.size, flush=True)
sys.stdin.read()
"""


@pytest.mark.parametrize("orders", [["count"], ["count", "hang"]], ids=["at rest", "at work"])
def test_workers_die_with_a_parent_that_is_killed(orders: list[str], tmp_path: Path) -> None:
    for order in orders:
        (tmp_path / order).write_text(order, "ascii")
    command = [sys.executable, "-c", PARENT, str(tmp_path), *orders]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=environment) as parent:
        assert parent.stdout is not None
        worker = int(parent.stdout.readline())
        assert alive(worker)
        parent.send_signal(signal.SIGKILL)
    until(lambda: not alive(worker))
