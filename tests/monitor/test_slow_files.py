"""A slow file holds only itself: what was read beside it is stored, judged and sent while it is still being read."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from unittest.mock import Mock

import pytest

from monitor.alerts.channels import SendResult
from monitor.clock import FixedClock
from monitor.folders.listing import look
from monitor.home import Home
from monitor.intake.workers import Workers
from monitor.roster import read_roster
from monitor.scanning import Scanner
from monitor.single_pass import single_pass
from monitor.store import findings
from monitor.store.database import StoreFailed
from monitor.values import Seen
from tests.homes import OSLO, ROSTER, SECOND, make_home, put, run_on

NOW = datetime(2026, 10, 13, 19, tzinfo=OSLO)
SICK = json.dumps({"date": "2026-10-13T18:00", "symptoms": ["chest pain"]}).encode()


@pytest.fixture
def workers() -> Iterator[Workers]:
    with Workers(2, module="tests.slow_worker") as pool:
        yield pool


class Inbox:
    """Lets the slow files go once a message with a sign for a doctor has come."""

    def __init__(self, home: Path) -> None:
        self.go = home / "exports" / "go"
        self.messages: list[str] = []
        self.released_by: list[str] = []

    def __call__(self, url: str, title: str, body: str, *_: object, **__: object) -> SendResult:
        self.messages.append(f"{title}\n{body}")
        if "chest pain" in body + title and not self.go.exists():
            self.released_by.append(title)
            self.go.touch()
        return SendResult(True)


def home_of(path: Path, slow: int) -> Path:
    """Two athletes who are known; several slow files of one, and a small one of the other."""
    home = make_home(path, ROSTER.format(url="json://127.0.0.1:9/nobody") + SECOND, files={})
    for number in range(slow):
        name = f"slow{number}.fit"
        put(home / "exports/odd" / name, run_on(number - 20, 7, 20 + number))
    put(home / "exports/runa/sick.checkin.json", SICK)
    return home


def scanner_of(home: Path, workers: Workers, *, patient: bool = False) -> tuple[Scanner, Inbox]:
    inbox = Inbox(home)
    roster = read_roster(home / "roster.toml")
    return Scanner(Home(home), roster, FixedClock(NOW), workers=workers, send=inbox, patient=patient), inbox


@pytest.mark.parametrize("slow", [1, 5])
def test_a_scan_sends_a_stop_while_slow_files_are_being_read(slow: int, tmp_path: Path, workers: Workers) -> None:
    """The slow files are let go by the message itself: without it the pass would not end."""
    home = home_of(tmp_path / "home", slow)
    scanner, inbox = scanner_of(home, workers)
    done = single_pass(scanner)
    assert len(inbox.released_by) == 1
    assert done.counts()["sessions"] == slow
    assert done.counts()["checkins"] == 1
    assert done.counts()["alerts_sent"] == len(inbox.messages)


def seen(home: Path, athlete: str) -> list[tuple[str, Seen]]:
    return [(athlete, one) for one in look(home / "exports" / athlete).files]


def test_the_daemon_leaves_slow_files_behind_takes_others_and_comes_back(tmp_path: Path, workers: Workers) -> None:
    home = home_of(tmp_path / "home", 3)
    scanner, inbox = scanner_of(home, workers, patient=True)
    scanner.take(seen(home, "odd"))
    assert scanner.slow == 3
    scanner.take([*seen(home, "odd"), *seen(home, "runa")])  # a full look hands them in again
    assert scanner.slow == 3
    scanner.deliver()
    assert len(inbox.released_by) == 1
    came = 0
    while scanner.slow:
        report = scanner.take_slow()
        came += report.counts()["sessions"] if report else 0
    assert came == 3
    assert scanner.take_slow() is None


def test_files_left_behind_are_forgotten_with_the_roster_they_were_read_under(tmp_path: Path, workers: Workers) -> None:
    home = home_of(tmp_path / "home", 1)
    scanner, inbox = scanner_of(home, workers, patient=True)
    scanner.take(seen(home, "odd"))
    scanner.use(scanner.roster)
    assert scanner.slow == 0
    inbox.go.touch()
    assert scanner.take(seen(home, "odd")).counts()["sessions"] == 1


def test_what_a_first_look_brings_is_judged_as_one(
    tmp_path: Path, workers: Workers, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = make_home(tmp_path / "home", files={"small.fit": run_on(5, 18, 12), "slow.fit": run_on(8, 18, 55)})
    scanner, inbox = scanner_of(home, workers)
    monkeypatch.setattr("monitor.intake.storing.FIRST_LOOK_SECONDS", 3600.0)
    stood: list[int] = []

    def stored_beside() -> None:
        with scanner.store.reading() as con:
            stood.append(len(findings.standing(con, "runa")))
        inbox.go.touch()

    scanner.on_judged = stored_beside
    report = scanner.take(seen(home, "runa"))
    assert stood == [0], "the small file is stored, and not judged before the other is there"
    assert report.counts()["sessions"] == 2
    assert report.findings >= 2


@pytest.mark.parametrize(("error", "tries"), [(StoreFailed("no memory"), 9), (ValueError("of the file"), 2)])
def test_a_slow_file_that_could_not_be_stored_is_held_and_read_once(
    tmp_path: Path, workers: Workers, monkeypatch: pytest.MonkeyPatch, error: Exception, tries: int
) -> None:
    home = home_of(tmp_path / "home", 1)
    scanner, inbox = scanner_of(home, workers, patient=True)
    scanner.take(seen(home, "odd"))
    inbox.go.touch()
    failed = 0
    with monkeypatch.context() as broken:
        broken.setattr("monitor.scanning.keep_and_queue", Mock(side_effect=error))
        while failed < tries:
            with suppress(type(error)):
                assert scanner.take_slow() is None, "not read yet"
                continue
            failed += 1
            assert scanner.slow == 1
    assert scanner.take(seen(home, "odd")).counts()["files_new"] == 0, "it is under way"
    report = scanner.take_slow()
    assert report is not None
    assert report.counts()["sessions"] == 1
    assert scanner.slow == 0


def test_a_slow_file_that_may_be_at_fault_itself_is_handed_in_again_in_the_end(
    tmp_path: Path, workers: Workers, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = home_of(tmp_path / "home", 1)
    scanner, inbox = scanner_of(home, workers, patient=True)
    scanner.take(seen(home, "odd"))
    inbox.go.touch()
    with monkeypatch.context() as broken:
        broken.setattr("monitor.scanning.keep_and_queue", Mock(side_effect=ValueError("of the file")))
        while scanner.slow:
            with suppress(ValueError):
                scanner.take_slow()
    assert scanner.take(seen(home, "odd")).counts()["sessions"] == 1
