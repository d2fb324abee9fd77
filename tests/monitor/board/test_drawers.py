"""Pages that processes of their own draw are the same, whatever becomes of these."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from unittest import mock

import pytest

from monitor.board import athlete_pages, board_page, drawers, write
from monitor.board.board_data import gather
from monitor.home import Home
from rules.limits import default_limits
from tests.boards import NOW, opened

SHARED = "on paper"


def words(shared: str, *given: str) -> str:
    return f"{' and '.join(given)} {shared}"


@pytest.fixture
def some() -> Iterator[drawers.Drawers]:
    with drawers.Drawers() as made:
        made.share(SHARED)
        yield made


def test_what_another_process_draws_is_the_same(some: drawers.Drawers) -> None:
    drawn = [some.draw(words, "a line", str(number)) for number in range(9)]
    assert [one.result() for one in drawn] == [words(SHARED, "a line", str(number)) for number in range(9)]


def test_a_process_that_was_ended_costs_no_page(some: drawers.Drawers) -> None:
    for process in some._processes:
        process.kill()
        process.wait()
    assert some.draw(words, "a line").result() == words(SHARED, "a line")


def test_what_cannot_be_drawn_says_why(some: drawers.Drawers) -> None:
    with pytest.raises(TypeError, match="NoneType"):
        some.draw(words, None).result()


def test_none_of_the_processes_stays(some: drawers.Drawers) -> None:
    some.close()
    assert all(process.poll() is not None for process in some._processes)


def test_a_board_of_many_is_the_same_as_one_drawn_here(board_home: Home, tmp_path: Path) -> None:
    pages = []
    for name, at_once in (("here", 1000), ("elsewhere", 1)):
        shutil.copytree(board_home.path, tmp_path / name)
        home = Home(tmp_path / name)
        shutil.rmtree(home.path / "board")
        roster, store = opened(home)
        with mock.patch.object(athlete_pages, "AT_ONCE", at_once):
            write(home, roster, store, NOW, default_limits())
        pages.append({page.name: page.read_bytes() for page in (home.path / "board").iterdir()})
    assert pages[0]
    assert pages[0] == pages[1]


@pytest.mark.parametrize(("athletes_at_once", "there"), [(2, False), (3, False), (2, True)])
def test_the_very_first_board_of_many_starts_them_before_anybody_is_read(
    board_home: Home, tmp_path: Path, athletes_at_once: int, there: bool
) -> None:
    shutil.copytree(board_home.path, tmp_path / "home")
    home = Home(tmp_path / "home")
    if not there:
        home.board.unlink()
    roster, store = opened(home)
    begun: list[str] = []
    with (
        mock.patch.object(athlete_pages, "AT_ONCE", athletes_at_once),
        mock.patch.object(board_page, "Drawers", side_effect=lambda: begun.append("drawers") or drawers.Drawers()),
        mock.patch.object(board_page, "gather", side_effect=lambda *given: begun.append("read") or gather(*given)),
    ):
        write(home, roster, store, NOW, default_limits())
    assert begun == (["drawers", "read"] if len(roster.athletes) > athletes_at_once and not there else ["read"])
