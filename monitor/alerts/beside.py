"""What is done beside the work in its transaction, such as a notice, and must never take the work down with it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TypeVar

import duckdb

from monitor import logs
from monitor.store.database import Store, is_damage

Done = TypeVar("Done")


class BesideFailed(Exception):  # noqa: N818 - never leaves this room
    def __init__(self, what: str) -> None:
        super().__init__(what)
        self.what = what


@dataclass(slots=True)
class Beside:
    """What of it is left out, since it failed before."""

    left_out: set[str] = field(default_factory=set)

    def run(self, what: str, act: Callable[[], object]) -> None:
        """Do it, unless it is left out."""
        if what not in self.left_out:
            with self._named(what):
                act()

    @contextmanager
    def _named(self, what: str) -> Iterator[None]:
        try:
            yield
        except Exception as error:
            if is_damage(error):  # that ails the work as well
                raise
            raise BesideFailed(what) from error


def write(store: Store, act: Callable[[duckdb.DuckDBPyConnection, Beside], Done]) -> tuple[Done, tuple[str, ...]]:
    """One transaction, and what could not be done beside it.

    The database knows no savepoints: where something beside the work fails, all of it is rolled back and done again
    without that. `act` must bear being done again.
    """
    beside = Beside()
    while True:
        try:
            with store.writing() as con:
                return act(con, beside), tuple(sorted(beside.left_out))
        except BesideFailed as failed:
            logs.failure("left_out", failed.__cause__ or failed)
            beside.left_out.add(failed.what)
