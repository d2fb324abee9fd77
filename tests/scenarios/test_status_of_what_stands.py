"""Status by the findings that stand says the same as a judgement anew, and judges anew where it would not."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from unittest import mock

import duckdb

from monitor import judging
from monitor.demo import ATHLETE, Demo, staged
from monitor.home import Home
from monitor.store import findings
from monitor.store.database import Store
from monitor.views.status import status_view
from rules.limits import default_limits

HOURS = (-26, 0, 11)
"""From the end of each chapter: before its judgement, at it, and after midnight: what stands is of the day before."""


def status(con: duckdb.DuckDBPyConnection, demo: Demo, now: datetime) -> list[dict[str, object]]:
    return status_view(con, demo.roster, demo.roster.athletes, now, default_limits())


def anew(con: duckdb.DuckDBPyConnection, demo: Demo, now: datetime) -> list[dict[str, object]]:
    with mock.patch.object(judging, "_holding", return_value={}):
        return status(con, demo, now)


def test_all_through_a_plan_status_says_what_a_judgement_of_that_moment_says(tmp_path: Path) -> None:
    by_what_stands = []
    with staged(Home(tmp_path)) as demo:
        for chapter in demo.chapters():
            for hours in HOURS:
                now = chapter.chapter.until.astimezone(UTC) + timedelta(hours=hours)
                with Store(demo.home.store).reading() as con:
                    with mock.patch.object(judging, "judge", side_effect=judging.judge) as judged:
                        told = status(con, demo, now)
                    by_what_stands.append(not judged.called)
                    assert told == anew(con, demo, now)
        with Store(demo.home.store).writing() as con:
            findings.mark_to_judge(con, ATHLETE, now.date())
            with mock.patch.object(judging, "judge", side_effect=judging.judge) as judged:
                status(con, demo, now)
            assert judged.called
    assert by_what_stands[:: len(HOURS)].count(True) == 0
    assert by_what_stands[1 :: len(HOURS)].count(False) == 0
