"""A board that is written again draws only those of whom something may have changed, and is the same as a new one."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from unittest import mock

import pytest

from monitor.board import board_page, write
from monitor.board.session_view import ViewCache
from monitor.home import Home
from monitor.store import findings
from monitor.store.database import Store
from rules.limits import default_limits
from tests.boards import NOW, opened

Write = Callable[[datetime], list[str]]


@pytest.fixture
def home(board_home: Home, tmp_path: Path) -> Home:
    shutil.copytree(board_home.path, tmp_path / "home")
    return Home(tmp_path / "home")


@pytest.fixture
def store(home: Home) -> Store:
    return opened(home)[1]


@pytest.fixture
def written(home: Home, store: Store) -> Write:
    """Writes the board as a daemon does; whom it drew. It must be what a new daemon would write."""
    roster, limits = opened(home)[0], default_limits()
    view_cache, drawn = ViewCache(store, limits), []
    gather = board_page.gather

    def noted(*given: object) -> object:
        drawn.append([one.id for one in given[-1]])
        return gather(*given)

    def again(now: datetime) -> list[str]:
        with mock.patch.object(board_page, "gather", noted):
            write(home, roster, store, now, limits, view_cache)
        text = home.board.read_text("utf-8")
        files = {one.name for one in (home.path / "board").iterdir()}
        whom = drawn.pop()
        write(home, roster, store, now, limits)
        assert home.board.read_text("utf-8") == text
        assert {one.name for one in (home.path / "board").iterdir()} == files
        return [str(one) for one in whom]

    return again


def test_everybody_is_drawn_at_first_and_nobody_where_nothing_changed(written: Write) -> None:
    assert written(NOW) == ["runa", "odd", "nora"]
    assert written(NOW) == []


class _CutOffError(Exception):
    """Whoever draws is stopped."""


def test_a_page_that_is_not_drawn_yet_says_so_and_the_next_board_draws_it(home: Home, store: Store) -> None:
    roster, limits = opened(home)[0], default_limits()
    home.board.unlink()
    shutil.rmtree(home.path / "board")

    def give() -> None:
        if home.board.exists():
            raise _CutOffError

    with pytest.raises(_CutOffError):
        write(home, roster, store, NOW, limits, give=give)
    links = {link.partition("#")[0] for link in re.findall(r'href="(board/[^"]+)"', home.board.read_text("utf-8"))}
    assert links
    assert all("Being drawn" in (home.path / link).read_text("utf-8") for link in links)
    write(home, roster, store, NOW, limits)
    assert not [page for page in (home.path / "board").iterdir() if "Being drawn" in page.read_text("utf-8")]


def test_who_was_judged_again_is_drawn_again_and_nobody_else(written: Write, store: Store) -> None:
    written(NOW)
    with store.writing() as con:
        under, _ = findings.all_judged(con)["runa"]
        findings.note_judged(con, {"runa": under}, NOW - timedelta(minutes=1))
    assert written(NOW) == ["runa"]


def test_a_mark_draws_its_athlete_again(written: Write, store: Store) -> None:
    written(NOW)
    with store.writing() as con:
        standing = findings.standing(con, "runa")
        findings.mark(con, standing[0].id, "Ida", "talked", NOW - timedelta(minutes=5))
    assert written(NOW) == ["runa"]


def test_a_hold_that_is_not_judged_yet_draws_its_athlete_again(written: Write, store: Store) -> None:
    written(NOW)
    with store.writing() as con:
        findings.mark_to_judge(con, "odd", date(2026, 10, 12))
    assert written(NOW) == ["odd"]


def test_an_hour_later_everybody_is_drawn_again(written: Write) -> None:
    written(NOW)
    assert written(NOW + timedelta(hours=1)) == ["runa", "odd", "nora"]
