"""What a line of the log may hold, and who may read it."""

import logging
import os
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor import logs
from monitor.home import Home


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Home]:
    home = Home(tmp_path)
    logs.open_log(home)
    yield home
    logs.close_log()


def test_a_line_is_an_event_with_its_fields(home: Home) -> None:
    logs.event("pass", files=3, seconds=0.25, athlete="runa", first=True, nothing=None)
    stamp, level, *rest = home.log.read_text().split()
    assert stamp.endswith("Z")
    assert level == "INFO"
    assert rest == ["pass", "files=3", "seconds=0.250", "athlete=runa", "first=True", "nothing=-"]


@pytest.mark.parametrize(
    "text", ["Runa Vik", "/home/ida/exports", "json://token@host/x", "rest 47\nforged line", "x" * 65, "ü"]
)
def test_what_may_be_a_name_a_path_or_an_address_never_reaches_a_line(home: Home, text: str) -> None:
    logs.event("pass", athlete=text)
    assert home.log.read_text().split()[2:] == ["pass", "athlete=?"]


def test_a_failure_says_its_kind_and_place_but_never_its_words(home: Home) -> None:
    try:
        Path("/nowhere/Runa Vik.fit").stat()
    except OSError as error:
        logs.failure("file_failed", error, athlete="runa")
    line = home.log.read_text()
    assert "error=FileNotFoundError" in line
    assert "Runa" not in line


def test_the_place_of_a_failure_is_in_this_program(home: Home) -> None:
    try:
        logs.open_log(None)
    except AttributeError as error:
        logs.open_log(home)
        logs.failure("failed", error)
    assert "at=monitor.logs:" in home.log.read_text()


def test_the_log_is_private_also_after_it_was_turned_over(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    logs.close_log()
    monkeypatch.setattr(logs, "MAX_BYTES", 200)
    old = os.umask(0)
    try:
        logs.open_log(home)
        for number in range(50):
            logs.event("pass", files=number)
    finally:
        os.umask(old)
    found = sorted(home.path.glob("fallow.log*"))
    assert len(found) == 1 + logs.KEPT
    assert {stat.S_IMODE(path.stat().st_mode) for path in found} == {0o600}


def test_a_log_that_cannot_be_written_stops_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    logs.open_log(Home(tmp_path / "gone"))
    logs.event("pass")
    logs.close_log()
    assert capsys.readouterr().err == ""


def test_libraries_do_not_write_to_the_terminal(home: Home, capsys: pytest.CaptureFixture[str]) -> None:
    logging.getLogger("watchdog.observers.inotify").warning("below /home/ida")
    logging.getLogger("apprise").error("json://token@host")
    assert capsys.readouterr().err == ""
    assert not home.log.exists()


def test_nothing_is_written_before_the_log_is_opened(tmp_path: Path) -> None:
    logs.event("pass")
    assert list(tmp_path.iterdir()) == []
