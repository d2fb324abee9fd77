"""The ledger of files: which bytes were read under which options, and what it tells of them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import duckdb
import pytest

from monitor.store import intake
from monitor.store.database import Store
from monitor.store.intake import LedgerRow

NOW = datetime(2026, 10, 9, 12, tzinfo=UTC)


def row(path: str, sha256: str, state: str = "read", under: str | None = None, minute: int = 0) -> LedgerRow:
    read_at = NOW + timedelta(minutes=minute)
    return LedgerRow("runa", path, sha256, 10, 20, state, "why", 1, 2, 3, 4, read_at, NOW, under)


@pytest.fixture
def con(tmp_path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    with Store(tmp_path / "fallow.duckdb").writing() as opened:
        yield opened


def test_the_first_by_name_of_files_with_the_same_bytes_is_told(con: duckdb.DuckDBPyConnection) -> None:
    told = [row("c.fit", "aa", "duplicate"), row("b.fit", "aa"), row("a.fit", "aa", "ignored"), row("d.fit", "bb")]
    intake.record(con, *told)
    assert intake.known_before(con, "runa", ["d.fit", "c.fit"], ["aa"], "now") == ({"aa": "b.fit"}, {})
    assert intake.known_before(con, "runa", ["d.fit"], ["aa", "bb"], "now")[0] == {"aa": "b.fit", "bb": "d.fit"}
    assert intake.known_before(con, "odd", ["d.fit"], ["aa"], "now") == ({}, {})


def test_a_file_is_read_again_where_it_was_read_under_other_options(con: duckdb.DuckDBPyConnection) -> None:
    before, same, beside = (
        row(f"{name}.csv", name, under=under) for name, under in zip("abc", ("old", "now", "old"), strict=True)
    )
    intake.record(con, before, same, beside, row("d.csv", "d"), row("e.csv", "e", under="old"))
    intake.record(con, row("e.csv", "f", under="now"))
    paths = ["a.csv", "b.csv", "d.csv", "e.csv"]
    assert intake.known_before(con, "runa", paths, ["c"], "now") == ({"c": "c.csv"}, {"a.csv": before})


def test_the_ledger_is_listed_newest_first(con: duckdb.DuckDBPyConnection) -> None:
    intake.record(con, row("new/a.fit", "aa", minute=1), row("old/b.fit", "bb", "ignored"))
    newest, oldest = intake.listing(con)
    assert (newest["path"], newest["read_at"]) == ("new/a.fit", NOW + timedelta(minutes=1))
    assert oldest == {
        "path": "old/b.fit", "athlete": "runa", "sha256": "bb", "state": "ignored", "reason": "why", "sessions": 1,
        "nights": 2, "mornings": 3, "checkins": 4, "read_at": NOW, "current": True,
    }  # fmt: skip
    [below] = intake.below(con, "runa", ["old/"])
    assert below == {name: oldest[name] for name in below}
    assert set(oldest) - set(below) == {"athlete", "sha256", "current"}
    assert [one["path"] for one in intake.below(con, "runa", ["new/", "old/"])] == ["new/a.fit", "old/b.fit"]
