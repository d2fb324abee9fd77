import errno
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from unittest import mock

import duckdb
import pytest

from monitor.errors import WorkFailed
from monitor.store import connections, database
from monitor.store.connections import SharedStore
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
    assert [one.name for one in tmp_path.glob("*.wal")] == [], "its log was written into it"
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


def test_what_raises_is_rolled_back_in_a_kept_store(store: Store, opened: list[str]) -> None:
    with pytest.raises(KeyError), store.writing() as con:  # noqa: PT012 - it must raise within
        con.execute("UPDATE tally SET number = 5")
        raise KeyError
    assert number(store) == 0
    assert opened == [], "the engine has not failed"


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


class Openings:
    """How often a kept store was opened and let go of; what is opened is an engine in memory."""

    def __init__(self) -> None:
        self.opened = self.closed = 0
        self.moved = threading.Event()

    def __call__(self, hold: ExitStack) -> duckdb.DuckDBPyConnection:
        self.opened += 1
        hold.callback(self._let_go)
        return duckdb.connect(config={"threads": 1})

    def _let_go(self) -> None:
        self.closed += 1
        self.moved.set()

    def use(self, shared: SharedStore) -> None:
        shared.done(shared.connection(self), failed=False)

    def awaited(self) -> bool:
        """Whether something moved; then it may move again."""
        moved = self.moved.wait(PATIENCE_SECONDS)
        self.moved.clear()
        return moved


@pytest.fixture
def openings() -> Openings:
    return Openings()


@pytest.fixture
def shared(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[SharedStore]:
    """Looked at all the time, and kept for longer than any test takes."""
    monkeypatch.setattr(connections, "LOOK_SECONDS", 0.001)
    monkeypatch.setattr(connections, "IDLE_SECONDS", 600.0)
    (tmp_path / "fallow.duckdb").touch()
    shared = SharedStore(tmp_path / "fallow.duckdb")
    yield shared
    with shared.closed():
        pass


def watchers() -> set[threading.Thread]:
    return {thread for thread in threading.enumerate() if thread.name == "fallow-store"}


def test_a_store_that_nobody_asks_for_stays_open_under_one_watch(
    shared: SharedStore, openings: Openings, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, looks = watchers(), []

    def asked_for(_: Path) -> bool:
        looks.append(openings.closed)
        if len(looks) > 20:
            openings.moved.set()
        return False

    monkeypatch.setattr(connections, "asked_for", asked_for)
    for _ in range(3):
        openings.use(shared)
    assert openings.awaited()
    assert (openings.opened, openings.closed) == (1, 0)
    [watch] = watchers() - before
    assert watch.daemon, "a process that ends does not wait for it"


def test_a_store_is_given_up_when_nobody_uses_it_for_a_while_and_again_after_that(
    shared: SharedStore, openings: Openings, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "IDLE_SECONDS", 0.0)
    for number in (1, 2):
        connection = shared.connection(openings)
        assert openings.closed == number - 1, "not while it is used"
        shared.done(connection, failed=False)
        assert openings.awaited()
        assert openings.closed == number


def test_who_asks_is_given_the_store_at_once_and_let_in_first(
    shared: SharedStore, openings: Openings, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[bool] = [True, True, True, False, False]
    left: list[int] = []
    sleeps = iter(range(10))
    monkeypatch.setattr(connections, "asked_for", lambda _: asked.pop(0))
    monkeypatch.setattr(connections.time, "sleep", lambda _: next(sleeps))
    monkeypatch.setattr(SharedStore, "_watch", lambda _: None)

    def opened(hold: ExitStack) -> duckdb.DuckDBPyConnection:
        left.append(len(asked))
        if len(left) == 2:
            raise duckdb.Error
        return openings(hold)

    shared.done(shared.connection(opened), failed=False)
    assert openings.closed == 1
    with pytest.raises(duckdb.Error):
        shared.connection(opened)
    shared.done(shared.connection(opened), failed=False)
    assert left == [5, 1, 1], "who gave nothing up waits for nobody"


def test_a_store_that_is_kept_no_longer_is_closed_after_each_use(tmp_path: Path, openings: Openings) -> None:
    path = tmp_path / "fallow.duckdb"
    with connections.kept(path):
        shared = connections.shared_of(path)
        assert shared is not None
    assert connections.shared_of(path) is None
    for number in (1, 2):
        openings.use(shared)
        assert openings.closed == number


def test_who_asks_for_a_store_is_heard_for_as_long_as_he_waits(tmp_path: Path) -> None:
    path = tmp_path / "fallow.duckdb"
    heard: list[bool] = []

    def act() -> str:
        heard.append(connections.asked_for(path))
        if len(heard) == 1:
            raise BlockingIOError
        return "got it"

    assert connections.asked(path, act, lambda error: isinstance(error, BlockingIOError), 30.0) == "got it"
    assert heard == [False, True]
    assert not connections.asked_for(path)


def test_many_use_a_store_at_once_and_without_locks_nobody_is_alone_with_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "fallow.duckdb"
    with connections.present(path, 0.01), connections.present(path, 0.01):
        pass

    def flock(handle: int, how: int) -> None:
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr("fcntl.flock", flock)
    with connections.present(path, 0.01), connections.beginning(path, 0.01):
        pass
    with pytest.raises(WorkFailed, match="No locks available"), connections.alone(path, 0.01):
        pass


def test_who_keeps_a_store_that_is_kept_already_does_not_end_it(store: Store, opened: list[str]) -> None:
    with connections.kept(store.path):
        assert number(store) == 0
    assert number(store) == 0
    assert opened == []
