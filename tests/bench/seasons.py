"""Homes of many athletes with a judged season each, made once and copied: what the benches of a busy Sunday begin with.

`FALLOW_BENCH_HOMES` names a folder in which they are kept from one run to the next.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from unittest import mock

import duckdb

from monitor.alerts.responses import SendResult
from monitor.clock import FixedClock
from monitor.demo import CHAPTERS
from monitor.home import Home
from monitor.intake.workers import Workers
from monitor.judging import rejudge, rules_version
from monitor.scanning import Scanner
from monitor.values import Seen
from rules.limits import default_limits
from tests.bench.board_size import season

NOW = CHAPTERS[-1].until
SENT = (
    "UPDATE outbox SET state = 'sent', sent_at = created_at, sent_wall = created_at, journaled = true, tries = 1"
    " WHERE state <> 'sent'"
)


def home_of(folder: Path, athletes: int) -> Home:
    """A home with so many athletes of one season, each judged, all alerts sent."""
    kept = os.environ.get("FALLOW_BENCH_HOMES")
    if kept is None:
        return _made(Home(folder), athletes)
    made = Path(kept) / f"{athletes}-{rules_version()}"  # verdicts of other code would be made anew
    if not made.exists():
        _made(Home(made), athletes)
    shutil.copytree(made, folder, dirs_exist_ok=True)
    return Home(folder)


def _made(home: Home, athletes: int) -> Home:
    """The first is judged by its samples; the verdicts on them, which know no athlete, hold for all the others."""
    roster = season(home, athletes)
    with Workers(1) as workers:
        scanner = Scanner(home, roster, FixedClock(NOW), workers=workers, send=lambda *_, **__: SendResult(True))
        with scanner.store.writing() as con:
            list(rejudge(con, roster, roster.athletes[:1], NOW, default_limits()))
            con.execute(
                "INSERT INTO verdict SELECT 'a' || n, key, context, breaches"
                " FROM verdict, (SELECT unnest(range(1, ?))::INTEGER AS n) WHERE athlete = 'a0'",
                [athletes],
            )
        scanner.judge_due()
        while scanner.timers().more:
            pass
        with scanner.store.writing() as con:
            con.execute(SENT)
    return home


def queue_item(folder: Path, name: str, content: bytes) -> Seen:
    """A file in a folder, as a look at it sees it."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / name
    path.write_bytes(content)
    status = path.stat()
    return Seen(name, status.st_size, status.st_mtime_ns, status.st_dev, status.st_ino)


@contextmanager
def counted_openings() -> Iterator[list[str]]:
    """The path of the store at each opening of it in this process."""
    opened: list[str] = []
    connect = duckdb.connect

    def counting(path: str, **options: object) -> duckdb.DuckDBPyConnection:
        opened.append(path)
        return connect(path, **options)

    with mock.patch.object(duckdb, "connect", counting):
        yield opened
