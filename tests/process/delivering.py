"""A process that queues one finding, delivers through Apprise, and kills itself at a step: HOME URL NUMBER STEP."""

from __future__ import annotations

import os
import signal
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

from monitor.alerts.channels import AppriseSender
from monitor.alerts.delivery import deliver
from monitor.clock import SystemClock
from monitor.store.database import Store
from tests.monitor.alerts.scene import Scene, contact, finding, roster

HOME, URL, NUMBER, STEP = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), sys.argv[4]


def kill_at(step: str) -> None:
    if step == STEP:
        os.kill(os.getpid(), signal.SIGKILL)


scene = Scene(HOME, roster(contact("coach", URL), contact("runa", URL, role="athlete")), store=Store(HOME / "x.duckdb"))
scene.now = datetime.now(UTC)
midnight = scene.now.replace(hour=0, minute=0, second=0, microsecond=0)
if NUMBER:
    scene.queue(finding(start=midnight - timedelta(hours=3 * NUMBER), summary=f"finding number {NUMBER}"))
    kill_at("after queue")
done = deliver(
    scene.store, scene.journal, scene.roster, SystemClock(), AppriseSender(),
    gather_now=True, step=kill_at, head_start_seconds=60.0,
)  # fmt: skip
print(done.sent, done.waiting)
