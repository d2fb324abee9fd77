"""The store file: private, migrated once, patient with others, honest when broken."""

from __future__ import annotations

import multiprocessing
import os
import stat
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager, nullcontext, suppress
from datetime import UTC, datetime
from multiprocessing.synchronize import Event
from pathlib import Path
from typing import Any
from unittest.mock import patch

import duckdb
import pytest

from monitor.errors import WorkFailed
from monitor.store import connections, database, decisions, migrations
from monitor.store.connections import StoreHeld
from monitor.store.database import Store, StoreBroken, StoreFailed, StoreNewer, is_damage, set_aside, translated
from monitor.store.journal import Journal
from tests.waiting import PATIENCE_SECONDS

ROOT = Path(__file__).parents[3]

MOMENT = datetime(2026, 10, 4, 12, tzinfo=UTC)
STARTS_PROCESSES = multiprocessing.get_context("spawn")


def hold_open(path: str, opened: object, release: object) -> None:
    with Store(Path(path)).writing() as con:
        opened.set()
        release.wait(PATIENCE_SECONDS)
        con.execute("INSERT INTO unjudged VALUES ('runa', DATE '2026-10-04')")


@contextmanager
def held_elsewhere(path: Path) -> Iterator[Event]:
    """Another process writes into the store until the event is set, and has committed when the block ends."""
    opened, release = STARTS_PROCESSES.Event(), STARTS_PROCESSES.Event()
    other = STARTS_PROCESSES.Process(target=hold_open, args=(str(path), opened, release))
    other.start()
    try:
        assert opened.wait(PATIENCE_SECONDS)
        yield release
    finally:
        release.set()
        other.join(PATIENCE_SECONDS)


def test_a_new_store_is_private_to_its_owner(tmp_path: Path) -> None:
    store = Store(tmp_path / "fallow.duckdb")
    with store.reading() as con:
        assert con.execute("SELECT count(*) FROM intake").fetchone() == (0,)
    assert stat.S_IMODE(store.path.stat().st_mode) == 0o600


def test_the_engine_fetches_nothing_and_takes_a_quarter_of_a_gigabyte(tmp_path: Path) -> None:
    with Store(tmp_path / "fallow.duckdb").writing() as con:
        asked = "autoinstall_known_extensions", "autoload_known_extensions", "threads"
        assert [con.execute(f"SELECT current_setting('{name}')").fetchone() for name in asked] == [
            (False,),
            (False,),
            (1,),
        ]
        (memory,) = con.execute("SELECT current_setting('memory_limit')").fetchone() or ("",)
    assert memory.startswith("244")  # MiB: 256 MB


@pytest.mark.skipif(sys.platform == "win32", reason="no folder is locked there")
def test_nobody_begins_a_store_over_one_that_another_begins(tmp_path: Path) -> None:
    """The engine looks for a file before it locks it; who looked too early would write over what stands in it."""
    store, others = Store(tmp_path / "fallow.duckdb"), []
    connect = duckdb.connect

    def watched(*given: Any, **more: Any) -> duckdb.DuckDBPyConnection:
        with ExitStack() as stack:
            try:
                stack.enter_context(connections.beginning(store.path, 0.01))
            except StoreHeld:
                others.append("waits")
            else:
                others.append("may begin")
        return connect(*given, **more)

    with patch.object(duckdb, "connect", watched):
        for _ in range(2):
            with store.writing():
                pass
    assert others == ["waits", "may begin"], "of a store that is there nobody waits"
    with connections.beginning(tmp_path / "gone" / "fallow.duckdb", 0.01):
        pass


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
    with held_elsewhere(path) as release:
        with pytest.raises(WorkFailed, match="another process holds the store"), Store(path, 0.2).reading():
            pass
        release.set()
        with Store(path, 30).reading() as con:
            assert con.execute("SELECT 1").fetchone() == (1,)


@pytest.mark.parametrize(
    "said",
    [
        'IO Error: Cannot open file "/home/fallow.duckdb": Too many open files',
        'IO Error: Cannot open file "/home/fallow.duckdb": Permission denied',
        'IO Error: Could not read from file "/home/fallow.duckdb": Input/output error',
        "INTERNAL Error: Attempted to access index 3 within vector of size 3",
        'Failure while replaying WAL file "/home/fallow.duckdb.wal": IO Error: Too many open files',
        "Out of Memory Error: failed to allocate data of size 16.0 MiB (256.0 MiB/256.0 MiB used)",
    ],
)
def test_only_what_the_engine_calls_damaged_is_damaged(said: str, tmp_path: Path) -> None:
    found = translated(tmp_path / "fallow.duckdb", duckdb.IOException(said))
    assert isinstance(found, StoreFailed), "it waits, and is said"
    assert not isinstance(found, StoreBroken)
    assert said.splitlines()[0] in str(found)


def test_a_file_that_may_not_be_read_is_no_damaged_store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As the engine itself says it, of a process that has as many files open as it may."""
    store = Store(tmp_path / "fallow.duckdb")
    with store.writing():
        pass
    resource = pytest.importorskip("resource")
    before = resource.getrlimit(resource.RLIMIT_NOFILE)
    opened: list[int] = []
    try:
        resource.setrlimit(resource.RLIMIT_NOFILE, (min(256, before[1]), before[1]))
        with suppress(OSError):
            while True:
                opened.append(os.open(os.devnull, os.O_RDONLY))
        os.close(opened.pop())  # one for the guard, none for the store
        with pytest.raises(WorkFailed) as raised, store.reading():
            pass
    finally:
        for handle in opened:
            os.close(handle)
        resource.setrlimit(resource.RLIMIT_NOFILE, before)
    assert not isinstance(raised.value, StoreBroken)
    with store.reading() as con:
        assert con.execute("SELECT count(*) FROM finding").fetchone() == (0,)


def newer(path: Path, *, version: str | None = "0.9.0") -> bytes:
    """A store that a later program has migrated."""
    with Store(path).writing() as con:
        con.execute("INSERT INTO migration (name, version) VALUES ('0099_moons.sql', ?)", [version])
    return path.read_bytes()


@pytest.mark.parametrize("version", ["0.9.0", None])
def test_a_store_of_a_newer_program_is_said_and_not_touched(version: str | None, tmp_path: Path) -> None:
    path = tmp_path / "fallow.duckdb"
    before = newer(path, version=version)
    for opened in (Store(path).reading, Store(path).writing):
        with pytest.raises(StoreNewer) as raised, opened():
            pass
        assert "0099_moons.sql" in str(raised.value)
        assert version is None or "newer fallow (0.9.0" in str(raised.value)
    assert path.read_bytes() == before


@pytest.mark.parametrize("how", ["reading", "writing"])
def test_nothing_is_made_in_a_store_that_does_not_say_what_it_has_had(how: str, tmp_path: Path) -> None:
    path = tmp_path / "x.duckdb"
    with duckdb.connect(str(path)) as con:
        con.execute("CREATE TABLE session (athlete VARCHAR)")
    with pytest.raises(StoreFailed, match="CatalogException"), getattr(Store(path), how)():
        pass
    with duckdb.connect(str(path)) as con:
        assert con.execute("SELECT table_name FROM duckdb_tables()").fetchall() == [("session",)]


def test_a_damaged_store_is_said_and_can_be_set_aside(tmp_path: Path) -> None:
    path = tmp_path / "fallow.duckdb"
    path.write_bytes(b"not a database" * 1000)
    with pytest.raises(StoreBroken, match="cannot be opened"), Store(path).reading():
        pass
    aside = set_aside(path, MOMENT)
    assert aside is not None
    assert aside.name == "fallow.broken-20261004T120000Z.duckdb"
    assert aside.read_bytes().startswith(b"not a database")
    with Store(path).reading() as con:
        assert con.execute("SELECT count(*) FROM finding").fetchone() == (0,)


def test_a_store_is_not_moved_while_another_process_writes_into_it(tmp_path: Path) -> None:
    path = tmp_path / "fallow.duckdb"
    with held_elsewhere(path) as release:
        with pytest.raises(WorkFailed, match="another process holds the store"), Store(path, 0.2).alone():
            pass
        release.set()
        with Store(path, 30).alone():
            aside = set_aside(path, MOMENT)
    assert aside is not None
    with Store(aside).reading() as con:
        assert con.execute("SELECT athlete FROM unjudged").fetchall() == [("runa",)]
    assert sorted(one.name for one in tmp_path.glob("fallow.duckdb*")) == []


def test_nobody_opens_a_store_while_it_is_moved(tmp_path: Path) -> None:
    path = tmp_path / "fallow.duckdb"
    with Store(path).alone(), ThreadPoolExecutor(1) as pool:
        guarded = pool.submit(lambda: ExitStack().enter_context(connections.present(path, 0.2)))
        with pytest.raises(WorkFailed, match="another process holds the store"):
            guarded.result(30)
        with Store(path).writing() as con:  # who is alone with it may look into it
            assert con.execute("SELECT count(*) FROM intake").fetchone() == (0,)


def test_all_that_lies_beside_a_store_goes_with_it(tmp_path: Path) -> None:
    path = tmp_path / "fallow.duckdb"
    for ending in ("", ".wal", ".wal.checkpoint", ".wal.recovery"):
        path.with_name(path.name + ending).write_text(ending)
    (tmp_path / "fallow.journal").touch()
    set_aside(path, MOMENT)
    stem = "fallow.broken-20261004T120000Z.duckdb"
    assert {one.name: one.read_text() for one in tmp_path.iterdir()} == {
        "fallow.journal": "",
        stem: "",
        f"{stem}.wal": ".wal",
        f"{stem}.wal.checkpoint": ".wal.checkpoint",
        f"{stem}.wal.recovery": ".wal.recovery",
    }


def test_of_stores_set_aside_in_one_second_each_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "fallow.duckdb"
    for number in range(3):
        path.write_text(str(number))
        set_aside(path, MOMENT)
    stem = "fallow.broken-20261004T120000Z"
    assert {one.name: one.read_text() for one in tmp_path.iterdir()} == {
        f"{stem}.duckdb": "0", f"{stem}-2.duckdb": "1", f"{stem}-3.duckdb": "2",
    }  # fmt: skip
    assert set_aside(path, MOMENT) is None


def test_a_store_begun_anew_knows_what_the_journal_tells_whoever_begins_it(tmp_path: Path) -> None:
    """Also when it was taken away by hand, or a rebuild was killed between the old store and the new one."""
    path = tmp_path / "fallow.duckdb"
    with Store(path).writing():
        pass
    Journal(tmp_path / "fallow.journal").once("stage:runa", MOMENT)
    with Store(path).reading() as con:
        assert not decisions.any_told(con, "stage:runa"), "a store that is there has its own memory"
    path.unlink()
    with Store(path).reading() as con:
        assert decisions.any_told(con, "stage:runa", replayed_only=True)


def test_who_reads_at_once_gets_what_a_held_store_last_knew(tmp_path: Path) -> None:
    path = tmp_path / "fallow.duckdb"
    with Store(path).writing() as con:
        con.execute("INSERT INTO unjudged VALUES ('odd', DATE '2026-10-01')")
    with held_elsewhere(path) as release:
        with Store(path).reading_at_once() as (con, itself):
            assert not itself
            assert con.execute("SELECT athlete FROM unjudged").fetchall() == [("odd",)]
        release.set()
    with Store(path).reading_at_once() as (con, itself):
        assert itself
        assert len(con.execute("SELECT athlete FROM unjudged").fetchall()) == 2
    assert [one.name for one in tmp_path.iterdir() if one.name.startswith(".fallow-")] == []


def test_of_a_held_store_whose_file_is_half_written_it_is_said_that_it_is_held(tmp_path: Path) -> None:
    path = tmp_path / "fallow.duckdb"
    with held_elsewhere(path):
        whole = path.read_bytes()
        with path.open("r+b") as file:
            file.truncate(len(whole) // 2)
        with pytest.raises(StoreHeld), Store(path).reading_at_once():
            pass
        path.write_bytes(whole)


INTERRUPTED = """
import os, signal, sys, threading, time
from pathlib import Path
from typing import Any
from unittest.mock import patch
from monitor.store.database import Store

signal.signal(signal.SIGINT, signal.default_int_handler)
store = Store(Path(sys.argv[1]))
with store.writing():
    pass


def interrupt():  # once the engine is at work, which shows by the time of the processor
    began = time.process_time()
    while time.process_time() - began < 0.5:
        time.sleep(0.02)
    os.kill(os.getpid(), signal.SIGINT)


try:
    with store.reading() as con:
        print(con.execute("SELECT current_setting('enable_progress_bar')").fetchone())
        threading.Thread(target=interrupt).start()
        con.execute("SELECT sum(range) FROM range(100_000_000_000)").fetchall()
except KeyboardInterrupt as interrupt:
    print(repr(interrupt.__cause__))
"""


def test_a_ctrl_c_while_the_engine_is_at_work_is_one_and_no_bar_of_progress_is_drawn(tmp_path: Path) -> None:
    asked = [sys.executable, "-c", INTERRUPTED, str(tmp_path / "s.duckdb")]
    ran = subprocess.run(asked, capture_output=True, text=True, timeout=PATIENCE_SECONDS, cwd=ROOT, check=False)
    assert ran.stdout == "(False,)\nRuntimeError('Query interrupted')\n", ran.stderr


def test_another_fault_of_the_program_itself_passes_as_it_is(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError, match="something else"), Store(tmp_path / "s.duckdb").writing():
        raise RuntimeError("something else")


@pytest.mark.parametrize(("more", "copied"), [(0, True), (-1, False)])
def test_of_a_held_store_no_copy_is_made_that_is_larger_than_the_disk_should_bear(
    more: int, copied: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "fallow.duckdb"
    with Store(path).writing():
        pass
    monkeypatch.setattr(database, "COPIED_BYTES", path.stat().st_size + more)
    monkeypatch.setattr(database, "AT_ONCE_SECONDS", 0.01)
    opened = Store.reading

    @contextmanager
    def reading(store: Store) -> Iterator[duckdb.DuckDBPyConnection]:
        if store.path == path:
            raise StoreHeld("held")
        with opened(store) as connection:
            yield connection

    monkeypatch.setattr(Store, "reading", reading)
    with nullcontext() if copied else pytest.raises(StoreHeld), Store(path).reading_at_once() as (_, itself):
        assert not itself


def test_who_reads_changes_nothing_whoever_begins_the_store(tmp_path: Path) -> None:
    store = Store(tmp_path / "fallow.duckdb")
    for _ in ("as it begins", "as it is there"):
        with pytest.raises(StoreFailed), store.reading() as con:
            con.execute("INSERT INTO unjudged VALUES ('runa', DATE '2026-10-04')")


def test_no_other_fault_is_taken_for_one_of_the_store(tmp_path: Path) -> None:
    assert is_damage(duckdb.IOException("corrupt block"))
    assert not is_damage(ValueError("corrupt block"))
    assert isinstance(translated(tmp_path, duckdb.IOException("Could not set lock on file")), StoreHeld)
    assert not isinstance(translated(tmp_path, duckdb.Error("Could not set lock on file")), StoreHeld)


def test_what_a_migration_does_to_rows_is_left_out_of_a_store_without_any(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second = tmp_path / "0001.sql", tmp_path / "0002.sql"
    first.write_text("CREATE TABLE tally (number INTEGER);")
    second.write_text(
        f"ALTER TABLE tally ADD COLUMN word VARCHAR;\n{migrations.OF_ROWS}\nINSERT INTO tally (number) VALUES (1);"
    )
    monkeypatch.setattr(migrations, "_migrations", lambda: (first, second))
    with duckdb.connect() as grown:
        grown.execute(f"CREATE TABLE migration (name VARCHAR); {first.read_text()}")
        grown.execute("INSERT INTO migration VALUES ('0001.sql')")
        migrations.migrate(grown)
        assert grown.execute("SELECT number, word FROM tally").fetchall() == [(1, None)]
    with duckdb.connect() as new:
        migrations.migrate(new)
        assert new.execute("SELECT word FROM tally").fetchall() == []
        assert list(migrations.had(new)) == ["0001.sql", "0002.sql"]


def test_a_store_that_may_not_be_renamed_stays_where_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "fallow.duckdb"
    path.write_text("odd")
    monkeypatch.setattr(database, "RENAME_SECONDS", 0.0)

    def rename(path: Path, to: Path) -> None:
        raise PermissionError(13, "somebody has it open")

    monkeypatch.setattr(Path, "rename", rename)
    with pytest.raises(PermissionError, match="somebody has it open"):
        set_aside(path, MOMENT)
    assert path.read_text() == "odd"
