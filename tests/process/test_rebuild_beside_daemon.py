"""`fallow rebuild --yes` as a process beside a running daemon, again and again while files arrive."""

from __future__ import annotations

import shutil
import signal
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from monitor.home import Home
from monitor.store.database import Store
from monitor.store.journal import Journal
from tests.process.daemons import Daemon, exports, fallow, home_of, ledger, run_file, told, until, watching
from tests.targets import Target, http_target

FILES = 6
SAME = ("id", "rule", "severity", "stage", "day", "subject", "session_start", "source", "observed", "limit", "summary")


def findings(home: Path) -> list[tuple[object, ...]]:
    return sorted(tuple(one.get(name) for name in SAME) for one in told("findings", home=home))


def clean_run(home: Path, to: Path, target: Target) -> list[tuple[object, ...]]:
    """What one scan of the same folders and roster finds in a home where nothing ever happened."""
    shutil.copytree(home / "exports", to / "exports")
    roster = (home / "roster.toml").read_text()
    (to / "roster.toml").write_text(roster.replace(target.url(), target.url("/clean")))
    assert fallow("scan", home=to).returncode == 0
    return findings(to)


def told_by_journal(home: Path) -> Iterator[tuple[str, str, int]]:
    """Everything that reached a contact: contact, finding, severity."""
    for entry in Journal(Home(home).journal).entries():
        for one in entry.get("told", ()):
            yield entry["contact"], one["finding"], one["told"]


def read_all(home: Path, number: int) -> bool:
    return sorted(ledger(home).values()) == ["read"] * number


def all_sent(home: Path) -> bool:
    return {row["state"] for row in told("outbox", home=home)} <= {"sent"}


def hooked(target: Target) -> Counter[tuple[str, str]]:
    return Counter((one.title, one.body) for one in target.accepted if one.path == "/hook")


def settled(home: Path, number: int) -> None:
    until(lambda: read_all(home, number), "all files are read")
    until(lambda: all_sent(home), "all messages are sent", 90)


def test_rebuilt_again_and_again_while_files_arrive_it_loses_nothing_and_repeats_nothing(tmp_path: Path) -> None:
    with http_target() as target:
        home = home_of(tmp_path, target.url())
        with watching(home) as daemon:
            for number in range(FILES):
                (exports(home) / f"{number}.fit").write_bytes(run_file(3 + 8 * number))
                if number % 2:
                    target.wait_for(1, 60)
                done = fallow("rebuild", "--yes", home=home)
                assert done.returncode == 0, done.stderr
            settled(home, FILES)
            assert daemon.end() == (0, "")
        found = findings(home)
        assert found == clean_run(home, tmp_path / "clean", target)
        assert {one[7] for one in found if one[1] == "no_running"} == {f"{number}.fit" for number in range(FILES)}
        assert max(hooked(target).values()) == 1
        reached = Counter(told_by_journal(home))
        assert max(reached.values()) == 1, "nothing is told twice"
        assert {finding for _, finding, _ in reached} >= {one[0] for one in found if one[1] == "no_running"}
        log = Home(home).log.read_text()
        assert "store_replaced" in log
        assert "StoreBroken" not in log
    kept = sorted(home.glob("fallow.broken-*.duckdb"))
    assert len(kept) == FILES
    for store in kept:  # each a whole store, with nothing of it left beside the new one
        with Store(store).reading() as con:
            con.execute("SELECT count(*) FROM intake").fetchone()


def test_a_store_taken_away_by_hand_while_the_daemon_is_down_sends_nothing_again(tmp_path: Path) -> None:
    with http_target() as target:
        home = home_of(tmp_path, target.url())
        (exports(home) / "run.fit").write_bytes(run_file(4))
        with watching(home) as daemon:
            target.wait_for(1, 60)
            settled(home, 1)
            daemon.end(signal.SIGKILL)
        before = hooked(target)
        for left in home.glob("fallow.duckdb*"):
            left.unlink()
        with watching(home) as daemon:
            settled(home, 1)
            assert daemon.end() == (0, "")
        assert hooked(target) == before


def test_a_rebuild_killed_at_any_moment_leaves_a_home_that_goes_on(tmp_path: Path) -> None:
    with http_target() as target:
        home = home_of(tmp_path, target.url())
        (exports(home) / "run.fit").write_bytes(run_file(4))
        with watching(home) as daemon:
            target.wait_for(1, 60)
            settled(home, 1)
            before = hooked(target)
            for _ in range(3):
                asides = len(list(home.glob("fallow.broken-*.duckdb")))
                rebuild = Daemon(home, command=("rebuild", "--yes"))
                until(lambda: len(list(home.glob("fallow.broken-*.duckdb"))) > asides, "the store is set aside")  # noqa: B023
                rebuild.end(signal.SIGKILL)
            settled(home, 1)
            assert daemon.end() == (0, "")
        assert hooked(target) == before
        assert len(told("findings", home=home)) >= 1
