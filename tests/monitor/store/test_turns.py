import threading
from collections import Counter
from pathlib import Path

from monitor.store.database import Store


def test_threads_of_one_process_read_and_write_by_turns(tmp_path: Path) -> None:
    store = Store(tmp_path / "fallow.duckdb")
    with store.writing() as con:
        con.execute("CREATE TABLE tally (number INTEGER)")
        con.execute("INSERT INTO tally VALUES (0)")
    failures: Counter[str] = Counter()

    def often(act: object) -> None:
        for _ in range(10):
            try:
                act()
            except BaseException as error:  # noqa: BLE001 - counted
                failures[repr(error)] += 1

    def write() -> None:
        with store.writing() as con:
            con.execute("UPDATE tally SET number = number + 1")

    def read() -> None:
        with store.reading() as con:
            con.execute("SELECT number FROM tally").fetchone()

    threads = [threading.Thread(target=often, args=(act,)) for act in (write, write, read)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failures
    with store.reading() as con:
        assert con.execute("SELECT number FROM tally").fetchall() == [(20,)]
