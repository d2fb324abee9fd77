"""A rebuild on purpose: it waits for who is at work, and forgets nothing that was sent."""

from __future__ import annotations

from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from threading import Thread

import pytest

from monitor.alerts.responses import SendResult
from monitor.clock import FixedClock
from monitor.errors import WorkFailed
from monitor.home import Home
from monitor.intake.workers import Workers
from monitor.rebuilding import rebuild
from monitor.scanning import Scanner
from monitor.store.database import Store, StoreBroken
from tests.monitor.alerts.scene import NOON, Scene, finding
from tests.waiting import PATIENCE_SECONDS


def scene_of(path: Path) -> Scene:
    return Scene(path, store=Store(Home(path).store))


def asides(path: Path) -> int:
    return len(list(path.glob("fallow.broken-*.duckdb")))


def test_a_message_on_its_way_is_waited_for_and_not_sent_again(tmp_path: Path) -> None:
    scene = scene_of(tmp_path)
    scene.wall = datetime.now(UTC)
    scene.queue(finding())
    refused: list[str] = []

    def rebuild_meanwhile(step: str) -> None:
        if step in ("after claim", "after send"):
            with pytest.raises(WorkFailed, match="a message is being sent"):
                rebuild(Home(tmp_path), NOON, patience_seconds=0.2)
            refused.append(step)

    scene.deliver(step=rebuild_meanwhile)
    assert refused == ["after claim", "after send"]
    assert asides(tmp_path) == 0
    assert rebuild(Home(tmp_path), NOON) is not None
    scene.queue(finding())
    scene.deliver()
    assert len(scene.channel.sent) == 1


def test_what_the_journal_could_not_take_is_written_before_the_store_goes(tmp_path: Path) -> None:
    scene = scene_of(tmp_path)
    scene.wall = datetime.now(UTC)
    scene.queue(finding())
    scene.journal.path.mkdir()  # a journal that cannot be written
    assert scene.deliver().sent == 1
    with pytest.raises(WorkFailed, match="cannot be written"):
        rebuild(Home(tmp_path), NOON)
    assert asides(tmp_path) == 0, "the store is the only one that knows"
    scene.journal.path.rmdir()
    rebuild(Home(tmp_path), NOON)
    scene.queue(finding())
    assert scene.deliver().sent == 0


def test_a_store_that_will_not_open_is_set_aside_all_the_same(tmp_path: Path) -> None:
    home = Home(tmp_path)
    home.store.write_bytes(b"not a database" * 1000)
    aside = rebuild(home, NOON)
    assert aside is not None
    assert aside.read_bytes().startswith(b"not a database")
    with Store(home.store).reading() as con:
        assert con.execute("SELECT count(*) FROM finding").fetchone() == (0,)


def test_without_a_store_one_is_begun(tmp_path: Path) -> None:
    assert rebuild(Home(tmp_path), NOON) is None
    assert Home(tmp_path).store.exists()


def test_a_store_that_breaks_while_a_message_is_sent_is_begun_anew_once_the_journal_knows_of_it(tmp_path: Path) -> None:
    scene = scene_of(tmp_path)
    scene.queue(finding())
    rebuilding: list[Thread] = []

    def send(url: str, title: str, body: str, **_: object) -> SendResult:
        with scene.store.path.open("r+b") as file:
            file.write(b"\xa5" * 50_000)
        rebuilding.append(Thread(target=scanner.rebuild))
        rebuilding[0].start()
        rebuilding[0].join(0.5)  # all the time that it would need
        return scene.channel(url, title, body)

    workers = Workers()
    scanner = Scanner(Home(tmp_path), scene.roster, FixedClock(NOON), workers=workers, send=send)
    with suppress(StoreBroken):  # by who comes first with it
        scanner.deliver(gather_now=True)
    rebuilding[0].join(PATIENCE_SECONDS)
    assert asides(tmp_path) == 1
    scene.wall = datetime.now(UTC)
    scene.queue(finding())
    assert scene.deliver().sent == 0
    assert len(scene.channel.sent) == 1
