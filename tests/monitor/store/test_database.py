"""The store file: private, migrated once, patient with others, honest when broken."""

from __future__ import annotations

import multiprocessing
import stat
from datetime import UTC, datetime
from pathlib import Path

import pytest

from monitor.errors import WorkFailed
from monitor.store.database import Store, StoreBroken, set_aside


def hold_open(path: str, opened: object, release: object) -> None:
    with Store(Path(path)).writing():
        opened.set()  # type: ignore[attr-defined]
        release.wait(30)  # type: ignore[attr-defined]


def test_a_new_store_is_private_to_its_owner(tmp_path: Path) -> None:
    store = Store(tmp_path / "fallow.duckdb")
    with store.reading() as con:
        assert con.execute("SELECT count(*) FROM intake").fetchone() == (0,)
    assert stat.S_IMODE(store.path.stat().st_mode) == 0o600


def test_a_transaction_that_raises_leaves_nothing(tmp_path: Path) -> None:
    store = Store(tmp_path / "fallow.duckdb")

    def half_done() -> None:
        with store.writing() as con:
            con.execute("INSERT INTO unjudged VALUES ('a', DATE '2026-10-04')")
            raise ValueError("on purpose")

    with pytest.raises(ValueError, match="on purpose"):
        half_done()
    with store.reading() as con:
        assert con.execute("SELECT count(*) FROM unjudged").fetchone() == (0,)


def test_a_store_held_by_another_process_is_waited_for_and_then_said(tmp_path: Path) -> None:
    path = tmp_path / "fallow.duckdb"
    context = multiprocessing.get_context("spawn")
    opened, release = context.Event(), context.Event()
    other = context.Process(target=hold_open, args=(str(path), opened, release))
    other.start()
    try:
        assert opened.wait(30)
        with pytest.raises(WorkFailed, match="another process holds the store"), Store(path, 0.2).reading():
            pass
        release.set()
        with Store(path, 30).reading() as con:
            assert con.execute("SELECT 1").fetchone() == (1,)
    finally:
        release.set()
        other.join(30)


def test_a_damaged_store_is_said_and_can_be_set_aside(tmp_path: Path) -> None:
    path = tmp_path / "fallow.duckdb"
    path.write_bytes(b"not a database" * 1000)
    with pytest.raises(StoreBroken, match="cannot be opened"), Store(path).reading():
        pass
    aside = set_aside(path, datetime(2026, 10, 4, 12, tzinfo=UTC))
    assert aside.name == "fallow.broken-20261004T120000Z.duckdb"
    assert aside.read_bytes().startswith(b"not a database")
    with Store(path).reading() as con:
        assert con.execute("SELECT count(*) FROM finding").fetchone() == (0,)
