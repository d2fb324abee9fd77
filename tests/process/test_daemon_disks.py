"""Disks that fill up and shares that go away, for real, under a running daemon."""

from __future__ import annotations

import signal
from pathlib import Path

from monitor.daemon.daemon_state import read_state
from monitor.home import Home
from tests.process.daemons import exports, home_of, ledger, run_file, told, until, watching
from tests.process.mounts import mount, small_disk, unmount
from tests.targets import http_target


def test_an_unmounted_share_is_told_of_and_its_return_is_noticed_by_itself(tmp_path: Path) -> None:
    with http_target() as target:
        home = home_of(tmp_path, target.url())
        with small_disk(exports(home), 4), watching(home) as daemon:
            (exports(home) / "a.fit").write_bytes(run_file(30))
            target.wait_for(1)
            unmount(exports(home))
            assert list(exports(home).iterdir()) == []
            target.wait_for(2)
            assert "is not there" in target.titles[1]
            assert "is its share or disk mounted?" in target.accepted[1].body
            until(lambda: "runa" in getattr(read_state(Home(home)), "missing", ()), "the state says so")
            mount(exports(home), 4)
            (exports(home) / "b.fit").write_bytes(run_file(4))
            target.wait_for(4)
            assert sum("is back" in title for title in target.titles) == 1
            assert ledger(home) == {"a.fit": "read", "b.fit": "read"}
            assert daemon.end() == (0, "")


def fill(path: Path) -> int:
    """Take all space that is left on the disk; how many bytes that was."""
    taken = 0
    with path.open("wb", buffering=0) as file:
        for size in (1 << 20, 1 << 12, 1):
            try:
                while True:
                    taken += file.write(b"\0" * size)
            except OSError:
                continue
    return taken


def test_a_disk_that_fills_up_is_survived_said_once_and_nothing_is_lost(tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    with http_target() as target, small_disk(tmp_path / "home", 32):
        home = home_of(tmp_path, target.url())
        exports(home).rmdir()
        exports(home).symlink_to(outside)
        log = Home(home).log
        log.symlink_to(tmp_path / "log")  # else lines are lost that find no room in its last page
        with watching(home) as daemon:
            (outside / "before.fit").write_bytes(run_file(30))
            target.wait_for(1)
            until(lambda: told("outbox", home=home)[0]["state"] == "sent", "it is marked")
            assert fill(home / "filler") > 0
            (outside / "during.fit").write_bytes(run_file(4))
            until(lambda: "StoreFull" in log.read_text(), "the log says so")
            for command in ("status", "findings", "intake", "outbox"):
                told(command, home=home)
            daemon.end(signal.SIGKILL)
        with watching(home) as daemon:
            until(lambda: log.read_text().count("step=pass") == 2, "it has tried again")
            assert ledger(home) == {"before.fit": "read"}
            assert len(target.received) == 1
            (home / "filler").unlink()
            target.wait_for(3)
            until(lambda: ledger(home) == {"before.fit": "read", "during.fit": "read"}, "it is read")
            until(lambda: {row["state"] for row in told("outbox", home=home)} == {"sent"}, "all is sent")
            assert daemon.end() == (0, "")
        said = log.read_text()
        full = [line for line in said.splitlines() if "error=StoreFull" in line and "step=pass" in line]
        assert len(full) == 2, "once a start"
        assert "file_failed" not in said
        assert "store_rebuilt" not in said
        assert not list(home.glob("fallow.broken*"))
        assert sum("disk of the home folder was full" in one.body for one in target.accepted) == 1
        assert len(target.received) == 3
