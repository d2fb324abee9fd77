from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from monitor.board import BoardThread
from tests.waiting import PATIENCE_SECONDS


class Board:
    """Stands for the writing of a board: counts, waits when told to, fails when told to."""

    def __init__(self) -> None:
        self.begun = threading.Semaphore(0)
        self.go_on = threading.Event()
        self.go_on.set()
        self.fails = False

    def __call__(self) -> None:
        go_on = self.go_on  # that of the moment at which it began
        self.begun.release()
        assert go_on.wait(PATIENCE_SECONDS)
        if self.fails:
            raise OSError("disk full")

    def wait_for_one(self) -> bool:
        return self.begun.acquire(timeout=PATIENCE_SECONDS)


@contextmanager
def _keeping(write: Callable[[], object], *, refresh: float = 3600.0) -> Iterator[BoardThread]:
    keeper = BoardThread(write, soon_seconds=0.0, apart_seconds=0.0, refresh_seconds=refresh)
    keeper.start()
    try:
        yield keeper
    finally:
        keeper.stop()


def test_a_change_is_shown() -> None:
    board = Board()
    with _keeping(board) as keeper:
        keeper.changed()
        assert board.wait_for_one()


def test_changes_that_come_while_one_is_written_make_one_more() -> None:
    board = Board()
    board.go_on.clear()
    with _keeping(board) as keeper:
        keeper.changed()
        assert board.wait_for_one()
        for _ in range(20):
            keeper.changed()
        board.go_on.set()
        assert board.wait_for_one()
        keeper.stop()
        assert not board.begun.acquire(blocking=False), "twenty changes, one board"


def test_without_a_change_it_is_made_again_in_time() -> None:
    board = Board()
    with _keeping(board, refresh=0.01):
        assert board.wait_for_one()
        assert board.wait_for_one()


def test_a_failure_is_told_and_the_next_board_ends_it() -> None:
    board = Board()
    board.fails = True
    with _keeping(board) as keeper:
        keeper.changed()
        assert board.wait_for_one()
        board.go_on = threading.Event()
        keeper.changed()
        assert board.wait_for_one()
        assert keeper.failing == ("board",)
        board.fails = False
        board.go_on.set()
        keeper.changed()
        keeper.stop()
    assert keeper.failing == ()


def test_a_keeper_that_never_began_can_be_stopped() -> None:
    board = Board()
    before = threading.active_count()
    BoardThread(board).stop()
    assert not board.begun.acquire(blocking=False)
    assert threading.active_count() == before


def test_nothing_is_written_when_nothing_has_changed() -> None:
    board = Board()
    with _keeping(board):
        pass
    assert not board.begun.acquire(blocking=False)
