"""Sessions that processes of their own draw are the same, whatever becomes of these."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from unittest import mock

import numpy as np
import pytest

from monitor.board import athlete_pages, drawers, write
from monitor.board.session_view import session_view
from monitor.home import Home
from rules.facts import Digest, Session
from rules.limits import default_limits
from tests.boards import NOW, opened

SECONDS = np.arange(600.0)
SAMPLES = {"t_s": SECONDS, "hr_bpm": 140 + SECONDS / 60, "speed_mps": np.full(600, 2.8)}
SESSION = Session(
    key="run",
    start=NOW,
    end=NOW,
    sport="running",
    sub_sport="generic",
    timer_s=600.0,
    elapsed_s=600.0,
    distance_m=1680.0,
    source="run.fit",
    digest=Digest("running"),
    version="1",
)
GIVEN = (SESSION, SAMPLES, (), None, default_limits())


@pytest.fixture
def two() -> Iterator[drawers.Drawers]:
    made = drawers.Drawers(2)
    yield made
    made.close()


def test_a_session_drawn_by_another_process_is_the_same(two: drawers.Drawers) -> None:
    assert [two.draw(*GIVEN).result() for _ in range(3)] == [session_view(*GIVEN)] * 3


def test_a_process_that_was_ended_costs_no_session(two: drawers.Drawers) -> None:
    for process in two._processes:
        process.kill()
        process.wait()
    assert two.draw(*GIVEN).result() == session_view(*GIVEN)


def test_what_cannot_be_drawn_says_why(two: drawers.Drawers) -> None:
    with pytest.raises(AttributeError, match="sport"):
        two.draw(None, *GIVEN[1:]).result()


def test_none_of_the_processes_stays(two: drawers.Drawers) -> None:
    two.close()
    assert all(process.poll() is not None for process in two._processes)


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
