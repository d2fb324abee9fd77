"""`fallow rebuild --yes` as a process beside a running daemon, again and again while files arrive."""

from __future__ import annotations

import signal
from collections import Counter
from functools import partial
from pathlib import Path

from monitor.home import Home
from monitor.store.database import Store
from tests.process.comparing import clean_run, findings, hooked, of_rule, told_by_journal
from tests.process.daemons import Daemon, as_process, exports, home_of, ledger, run_file, told, until, watching
from tests.targets import http_target

FILES = 6


def read_all(home: Path, number: int) -> bool:
    return sorted(ledger(home).values()) == ["read"] * number


def all_sent(home: Path) -> bool:
    return {row["state"] for row in told("outbox", home=home)} <= {"sent"}


def set_aside(home: Path) -> int:
    return len(list(home.glob("fallow.broken-*.duckdb")))


def set_aside_more_than(home: Path, count: int) -> bool:
    return set_aside(home) > count


def settled(home: Path, number: int) -> None:
    until(lambda: read_all(home, number), "all files are read")
    until(lambda: all_sent(home), "all messages are sent")


def test_rebuilt_again_and_again_while_files_arrive_it_loses_nothing_and_repeats_nothing(tmp_path: Path) -> None:
    with http_target() as target:
        home = home_of(tmp_path, target.url())
        with watching(home) as daemon:
            named = 0  # stores that a rebuild says it has set aside; the first may come before there is any
            for number in range(FILES):
                (exports(home) / f"{number}.fit").write_bytes(run_file(3 + 8 * number))
                if number % 2:
                    target.wait_for(1)
                done = as_process("rebuild", "--yes", home=home, anew=not number)
                assert done.returncode == 0, done.stderr
                named += ".broken-" in "".join(done.stdout.split())
            settled(home, FILES)
            assert daemon.end() == (0, "")
        found = findings(home)
        assert found == clean_run(home, tmp_path / "clean", target)
        runs = of_rule(found, "no_running")
        assert set(runs.values()) == {f"{number}.fit" for number in range(FILES)}
        assert max(hooked(target).values()) == 1
        reached = Counter(told_by_journal(home))
        assert max(reached.values()) == 1, "nothing is told twice"
        assert {finding for _, finding, _ in reached} >= set(runs)
        log = Home(home).log.read_text()
        assert "store_replaced" in log
        assert "StoreBroken" not in log
    kept = sorted(home.glob("fallow.broken-*.duckdb"))
    assert len(kept) == named >= FILES - 1
    for store in kept:  # each a whole store, with nothing of it left beside the new one
        with Store(store).reading() as con:
            con.execute("SELECT count(*) FROM intake").fetchone()


def test_a_store_taken_away_by_hand_while_the_daemon_is_down_sends_nothing_again(tmp_path: Path) -> None:
    with http_target() as target:
        home = home_of(tmp_path, target.url())
        (exports(home) / "run.fit").write_bytes(run_file(4))
        with watching(home) as daemon:
            target.wait_for(1)
            settled(home, 1)
            daemon.end(signal.SIGKILL)
        before = hooked(target)
        for left in home.glob("fallow.duckdb*"):
            left.unlink()
        with watching(home) as daemon:
            settled(home, 1)
            assert daemon.end() == (0, "")
        assert hooked(target) == before


def damage(store: Path) -> None:
    """Nothing of it can be read any more."""
    with store.open("r+b") as file:
        file.write(b"\xa5" * store.stat().st_size)


def test_a_store_that_breaks_under_the_daemon_is_begun_anew_and_nothing_is_sent_again(tmp_path: Path) -> None:
    with http_target() as target:
        home = home_of(tmp_path, target.url())
        (exports(home) / "first.fit").write_bytes(run_file(30))
        with watching(home) as daemon:
            target.wait_for(1)
            settled(home, 1)
            before = hooked(target)
            damage(Home(home).store)
            (exports(home) / "second.fit").write_bytes(run_file(4))
            until(lambda: list(home.glob("fallow.broken-*.duckdb")), "the broken one is set aside")
            target.wait_for(3)
            settled(home, 2)
            assert daemon.end() == (0, "")
        assert findings(home) == clean_run(home, tmp_path / "clean", target)
        new = hooked(target) - before
        assert hooked(target) == before + new, "what was told stays told"
        assert sorted(title.split(" ")[0] for title, _ in new) == ["Fallow", "STOP"]
        assert max(Counter(told_by_journal(home)).values()) == 1


def test_a_rebuild_killed_at_any_moment_leaves_a_home_that_goes_on(tmp_path: Path) -> None:
    with http_target() as target:
        home = home_of(tmp_path, target.url())
        (exports(home) / "run.fit").write_bytes(run_file(4))
        with watching(home) as daemon:
            target.wait_for(1)
            settled(home, 1)
            before = hooked(target)
            for _ in range(3):
                until(Home(home).store.exists, "the daemon has begun a store where the killed command left none")
                more = partial(set_aside_more_than, home, set_aside(home))
                rebuild = Daemon(home, command=("rebuild", "--yes"))
                until(more, "the store is set aside")
                rebuild.end(signal.SIGKILL)
            settled(home, 1)
            assert daemon.end() == (0, "")
        assert hooked(target) == before
        assert len(told("findings", home=home)) >= 1
