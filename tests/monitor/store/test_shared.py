import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from unittest import mock

import duckdb
import pytest

from monitor.store import connections, database
from monitor.store.database import Store, StoreFailed, StoreHeld
from tests.waiting import PATIENCE_SECONDS

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="nobody can ask for the store there, so it is not kept")


@pytest.fixture
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Store]:
    """Kept open by this process, for longer than any test takes."""
    monkeypatch.setattr(connections, "IDLE_SECONDS", 600.0)
    store = Store(tmp_path / "fallow.duckdb")
    with connections.kept(store.path):
        with store.writing() as con:
            con.execute("CREATE TABLE tally (number INTEGER)")
            con.execute("INSERT INTO tally VALUES (0)")
        yield store


@pytest.fixture
def opened() -> Iterator[list[str]]:
    """Every opening of a file by the engine."""
    made: list[str] = []
    connect: Callable[..., duckdb.DuckDBPyConnection] = duckdb.connect

    def counted(path: str, **options: object) -> duckdb.DuckDBPyConnection:
        made.append(path)
        return connect(path, **options)

    with mock.patch.object(duckdb, "connect", counted):
        yield made


def number(store: Store) -> int:
    with store.reading() as con:
        row = con.execute("SELECT number FROM tally").fetchone()
    assert row is not None
    return int(row[0])


def in_a_thread(act: Callable[[], None]) -> None:
    thread = threading.Thread(target=act)
    thread.start()
    thread.join()


def test_a_kept_store_is_opened_once_for_reading_and_writing(tmp_path: Path, opened: list[str]) -> None:
    store = Store(tmp_path / "fallow.duckdb")
    with connections.kept(store.path):
        for _ in range(3):
            with store.writing() as con:
                con.execute("CREATE TABLE IF NOT EXISTS tally (number INTEGER)")
            with store.reading() as con:
                con.execute("SELECT number FROM tally").fetchall()
        assert len(opened) == 1
    with store.reading():
        pass
    assert len(opened) == 2


def test_another_process_gets_the_kept_store_by_asking(store: Store) -> None:
    code = (
        "import sys; from pathlib import Path; from monitor.store.database import Store\n"
        "with Store(Path(sys.argv[1]), 200).writing() as con: con.execute('UPDATE tally SET number = 7')"
    )
    subprocess.run([sys.executable, "-c", code, str(store.path)], check=True, timeout=PATIENCE_SECONDS)
    assert number(store) == 7


def test_who_reads_sees_what_was_committed_and_waits_for_no_writer(store: Store) -> None:
    seen: list[int] = []
    with store.writing() as con:
        con.execute("UPDATE tally SET number = 1")
        in_a_thread(lambda: seen.append(number(store)))
    assert seen == [0]
    assert number(store) == 1


def test_a_reader_of_a_kept_store_changes_nothing(store: Store) -> None:
    with pytest.raises(StoreFailed), store.reading() as con:
        con.execute("UPDATE tally SET number = 5")
    assert number(store) == 0


def test_what_raises_is_rolled_back_in_a_kept_store(store: Store) -> None:
    with pytest.raises(KeyError), store.writing() as con:  # noqa: PT012 - it must raise within
        con.execute("UPDATE tally SET number = 5")
        raise KeyError
    assert number(store) == 0


def test_a_store_put_in_the_place_of_a_kept_one_is_used_and_keeps_its_log(store: Store, tmp_path: Path) -> None:
    with store.writing() as con:
        con.execute("UPDATE tally SET number = 1")
    log = store.path.with_name(f"{store.path.name}.wal")
    assert log.exists()
    store.path.unlink()
    log.unlink()
    with store.reading() as con:
        assert con.execute("SELECT count(*) FROM duckdb_tables() WHERE table_name = 'tally'").fetchone() == (0,)


def test_after_the_engine_failed_the_file_is_opened_anew(store: Store, opened: list[str]) -> None:
    with pytest.raises(StoreFailed), store.writing() as con:
        con.execute("SELECT * FROM nothing_of_this_name")
    assert number(store) == 0
    assert len(opened) == 1


def test_who_is_alone_with_a_kept_store_has_it_closed(store: Store, opened: list[str]) -> None:
    with store.alone(), store.writing() as con:
        con.execute("UPDATE tally SET number = 3")
    assert number(store) == 3
    assert len(opened) == 2


def test_a_store_that_another_process_keeps_busy_is_said_to_be_held(store: Store) -> None:
    code = (
        "import sys; from pathlib import Path; from monitor.store.database import Store\n"
        "from monitor.store.connections import kept\n"
        "store = Store(Path(sys.argv[1]), 200)\n"
        "with kept(store.path), store.writing(): print('held', flush=True); sys.stdin.read()"
    )
    holder = subprocess.Popen(
        [sys.executable, "-c", code, str(store.path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert holder.stdout is not None
    assert holder.stdout.readline() == "held\n"
    with pytest.raises(StoreHeld), Store(store.path, 0.1).reading():
        pass
    holder.communicate("")
    assert number(store) == 0
    assert database.identity_of(store.path) is not None
