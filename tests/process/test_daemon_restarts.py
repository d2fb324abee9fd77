"""Ends of the daemon, asked for and not, before what was decided is sent and after it: nothing is lost."""

from __future__ import annotations

import json
import random
import signal
import sys
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from monitor.home import Home
from monitor.store import outbox
from monitor.store.database import Store
from monitor.store.findings import mark_to_judge
from tests.homes import fallow, put
from tests.process.comparing import clean_run, findings, told_by_journal
from tests.process.daemons import Daemon, exports, home_of, ledger, run_file, told, until, watching
from tests.process.soak_daemon import SetClock
from tests.targets import Target, http_target
from tests.waiting import free_port

KILLS_DOWN, KILLS_UP = 3, 2
BACKFILL = 400
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="kills with SIGKILL")


def killed(home: Path, moments: random.Random, name: str = "", content: bytes = b"") -> None:
    """A daemon that is killed at some moment of its work on a file."""
    daemon = Daemon(home)
    if name:
        (exports(home) / name).write_bytes(content)
    assert daemon.ready() == "watching 1 folders"
    threading.Event().wait(moments.uniform(0.0, 4.0))
    daemon.end(signal.SIGKILL)


@contextmanager
def target_down(how: str) -> Iterator[tuple[str, list[Target]]]:
    """The URL of a target that is down in one of two ways, and where it is once it is up again."""
    if how == "answers 500":
        with http_target(answer=500) as target:
            yield target.url(), [target]
        return
    yield Target(port=free_port()).url(), []


@contextmanager
def target_up(url: str, there: list[Target]) -> Iterator[Target]:
    if there:
        there[0].answer = 200
        yield there[0]
        return
    with http_target(port=int(url.rsplit(":", 1)[1].split("/", 1)[0])) as target:
        yield target


@pytest.mark.parametrize("how", ["refuses", "answers 500"])
def test_killed_while_the_target_is_down_and_while_it_comes_up_nothing_is_lost(tmp_path: Path, how: str) -> None:
    """The moments are drawn from a fixed seed, but where they fall in the program differs from run to run."""
    moments = random.Random(11)
    with target_down(how) as (url, there):
        home = home_of(tmp_path, url)
        for number in range(KILLS_DOWN):
            killed(home, moments, f"{number}.fit", run_file(3 + 8 * number))
        with target_up(url, there) as target:
            for _ in range(KILLS_UP):
                fallow("outbox", "--retry", home=home)
                killed(home, moments)
            with watching(home) as daemon:
                until(lambda: list(ledger(home).values()) == ["read"] * KILLS_DOWN, "all files are read")
                assert fallow("outbox", "--retry", home=home).status == 0
                until(lambda: not untold(home), "all messages are sent")
                assert daemon.end() == (0, "")
            found = told("findings", home=home)
            assert len({one["id"] for one in found}) == len(found)
            runs = {one["source"] for one in found if one["rule"] == "no_running"}
            assert runs == {f"{number}.fit" for number in range(KILLS_DOWN)}
            assert {finding for _, finding, _ in told_by_journal(home)} >= {
                one["id"] for one in found if one["rule"] == "no_running"
            }
            sent = Counter((one.title, one.body) for one in target.accepted)
            assert {title for title, _ in sent} == {row["title"] for row in told("outbox", home=home)}
            assert sum(sent.values()) - len(sent) <= KILLS_UP, "who was not listening got nothing twice"


def test_killed_within_a_first_import_what_was_stored_and_not_judged_is_judged_later(tmp_path: Path) -> None:
    """Files of a first import are stored a hundred at a time and judged once all are there."""
    with http_target() as target:
        home = home_of(tmp_path, target.url())
        for number in range(BACKFILL):
            said = {
                "date": f"{datetime.now(UTC) - timedelta(hours=number / 10):%Y-%m-%dT%H:%M}",
                "soreness": number % 9,
            }
            put(exports(home) / f"{number}.checkin.json", json.dumps({**said, "stairs_unaided": False}).encode())
        put(exports(home) / "run.fit", run_file(4))
        daemon = Daemon(home)
        until(lambda: rows(home, "intake"), "some are stored")
        daemon.end(signal.SIGKILL)
        with watching(home) as daemon:
            until(lambda: rows(home, "intake") == BACKFILL + 1, "all are stored")
            until(lambda: not rows(home, "unjudged"), "and judged")
            assert daemon.end() == (0, "")
        found = findings(home)
        assert {one[1] for one in found} >= {"no_running", "stairs_test"}
        assert found == clean_run(home, tmp_path / "clean", target)


ROSTER = """
[alerts]
silent_after_hours = 72

[[contact]]
id = "coach"
name = "Coach Ida"
urls = ["{url}"]
daily = "07:00"

[[athlete]]
id = "runa"
name = "Runa Vik"
folder = "exports/runa"
timezone = "UTC"
contacts = ["coach"]

[[athlete.race]]
event = "marathon"
finish = 2026-10-04T11:00:00

[[athlete]]
id = "hal"
name = "Hal Dahl"
folder = "exports/hal"
timezone = "UTC"
contacts = ["coach"]

[[athlete.race]]
event = "marathon"
finish = 2026-10-04T11:00:00
"""
BEFORE = datetime(2026, 10, 6, 5, tzinfo=UTC)
THAT_DAY = datetime(2026, 10, 12, 7, 30, tzinfo=UTC)  # day 8: cross-training begins for who is not held
TOLD = (
    "Caution – Hal: stairs not yet without help (day 7)",
    "Caution – Runa: nothing came for 6 days",
    "Hal: cross-training waits",
    "Runa: cross-training begins today (day 8 of 21)",
    "1 of 2 needs a word: Hal",
)
WELL = {"date": "2026-10-05", "soreness": 3, "pain": 0}
SORE = {"date": "2026-10-11", "stairs_unaided": False, "soreness": 6, "pain": 1}


class Timed(Daemon):
    """The daemon at a moment of its own."""

    program = (sys.executable, "-c", "from tests.process.soak_daemon import main; raise SystemExit(main())")

    def __init__(self, home: Path, at: datetime) -> None:
        clock = home.parent / "clock.json"
        SetClock(clock).set(at=at.isoformat())
        super().__init__(home, command=(*self.program, str(home), str(clock)))


def judged_at(home: Path) -> datetime:
    """Until when everybody is judged."""
    with Store(Home(home).store).reading() as con:
        row = con.execute("SELECT min(judged_at), count(*) FROM judged").fetchone()
    assert row is not None
    return row[0].replace(tzinfo=UTC) if row[1] == 2 else BEFORE - timedelta(days=1)


def at_work(home: Path, at: datetime) -> Daemon:
    """A daemon that has judged everybody at this moment."""
    daemon = Timed(home, at)
    assert daemon.ready() == "watching 2 folders"
    until(lambda: judged_at(home) >= at.replace(minute=0), f"all are judged at {at}")
    return daemon


def untold(home: Path) -> int:
    return rows(home, "outbox WHERE state <> 'sent'")


def queued(home: Path) -> int:
    return rows(home, "outbox")


def rows(home: Path, which: str) -> int:
    with Store(Home(home).store).reading() as con:
        found = con.execute(f"SELECT count(*) FROM {which}").fetchone()
    assert found is not None
    return int(found[0])


@pytest.mark.parametrize("sent", [False, True], ids=["queued", "sent"])
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGKILL], ids=["TERM", "KILL"])
def test_what_is_told_by_the_clock_is_told_once_whatever_ends_the_daemon(
    tmp_path: Path, number: signal.Signals, *, sent: bool
) -> None:
    with http_target() as target:
        home = tmp_path / "home"
        for athlete in ("runa", "hal"):
            (home / "exports" / athlete).mkdir(parents=True)
        (home / "roster.toml").write_text(ROSTER.format(url=target.url()))
        put(home / "exports/runa/well.checkin.json", json.dumps(WELL).encode())
        daemon = at_work(home, BEFORE)
        daemon.end()
        assert ledger(home) == {"well.checkin.json": "read"}
        put(home / "exports/hal/sore.checkin.json", json.dumps(SORE).encode())

        target.answer = 200 if sent else 500
        daemon = at_work(home, THAT_DAY)
        until(lambda: queued(home) >= len(TOLD), "everything is queued")
        until(lambda: not untold(home) if sent else target.received, "it is sent, or tried")
        daemon.end(number)
        assert len(target.accepted) == (len(TOLD) if sent else 0)

        target.answer = 200
        with Store(Home(home).store).writing() as con:
            outbox.retry(con, datetime.now(UTC))  # as if the pause were over
            for athlete in ("runa", "hal"):
                mark_to_judge(con, athlete, THAT_DAY.date())  # the clock alone asks for nothing within the day
        daemon = at_work(home, THAT_DAY + timedelta(hours=1))
        until(lambda: not untold(home), "all is sent")
        assert daemon.end() == (0, "")
        assert sorted(target.titles) == sorted(TOLD)
