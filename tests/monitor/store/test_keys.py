"""What the code takes to be there once can be there once only, and no key keeps anything from being written."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from importlib import resources
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pytest

from monitor import words
from monitor.doctor import check_store
from monitor.home import Home
from monitor.reasons import Why, code_of
from monitor.store import body, decisions, findings, intake, outbox, recordings
from monitor.store.database import Store
from monitor.store.decisions import ChannelPause
from monitor.store.intake import LedgerRow
from monitor.store.journal import Journal
from monitor.store.outbox import Draft
from monitor.store.recordings import FileRecording
from monitor.values import Difference, Recording, Seen
from rules.facts import CheckIn, Digest, Hold, Morning, Night, Session
from rules.findings import Finding, Severity
from tests.monitor.alerts.scene import finding
from tests.monitor.store import told

NOW = datetime(2026, 10, 9, 12, tzinfo=UTC)
LATER = NOW + timedelta(hours=1)
DAY = date(2026, 10, 9)
FIRST_WITH_KEYS = "0009_rows_once.sql"
AT = "TIMESTAMP '2026-10-09 12:00:00'"
SESSION_ROW = f"{AT}, {AT} + INTERVAL 1 HOUR, 'running', '', 3600, 3600, 9000"


@contextmanager
def store_without_keys(path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """A store as programs before this one made it."""
    files = sorted(resources.files("monitor.store").joinpath("migrations").iterdir(), key=lambda file: file.name)
    with duckdb.connect(str(path)) as con:
        con.execute("CREATE TABLE migration (name VARCHAR NOT NULL)")
        for file in files:
            if file.name.endswith(".sql") and file.name < FIRST_WITH_KEYS:
                con.execute(file.read_text("utf-8"))
                con.execute("INSERT INTO migration (name) VALUES (?)", [file.name])
        yield con


def add_recording(con: duckdb.DuckDBPyConnection, number: int, sha256: str, part: int = 0) -> None:
    con.execute(
        f"INSERT INTO recording VALUES ({number}, 'runa', '{sha256}', '{sha256}.fit', {part}, {SESSION_ROW}, '[]',"
        " NULL, 'fit', 1, '{}', NULL, '[]', NULL)"
    )
    con.execute(f"INSERT INTO sample (recording, t_step_ms) SELECT {number}, 1000 FROM range(5)")
    con.execute(
        "INSERT INTO intake (athlete, path, sha256, size, mtime_ns, state, read_at)"
        f" VALUES ('runa', '{sha256}.fit', '{sha256}', 1, 1, 'read', {AT})"
    )


def add_session(con: duckdb.DuckDBPyConnection, key: str, parts: str, source: str) -> None:
    con.execute(
        f"INSERT INTO session VALUES ('runa', '{key}', {SESSION_ROW}, '{source}.fit', 'v', NULL, '[]', '{parts}',"
        " '{}', NULL, '[]', NULL)"
    )
    con.execute(f"INSERT INTO verdict VALUES ('runa', '{key}', 'context', '[]')")


def add_message(con: duckdb.DuckDBPyConnection, row_id: str, number: int, state: str) -> None:
    con.execute(
        "INSERT INTO outbox (id, number, athlete, contact, channel, channel_shown, kind, severity, items, findings,"
        f" title, body, state, reason, created_at) VALUES ('{row_id}', {number}, 'runa', 'ida', 1, '', 'alert', 'stop',"
        f" '[]', '[]', '', '', '{state}', 'first', {AT})"
    )


def rows(con: duckdb.DuckDBPyConnection, query: str) -> list[Any]:
    return [row[0] if len(row) == 1 else row for row in con.execute(query).fetchall()]


def test_a_store_that_was_made_before_opens_with_all_that_was_in_it(tmp_path: Path) -> None:
    path = Home(tmp_path).store
    with store_without_keys(path) as con:
        add_recording(con, 1, "aa")
        add_recording(con, 2, "bb")
        add_session(con, "one", "[1, 2]", "aa")
        con.execute("INSERT INTO unjudged VALUES ('runa', '2026-10-09'), ('runa', '2026-10-05'), ('odd', '2026-10-01')")
        con.execute(f"INSERT INTO told_once VALUES ('stage:runa', {AT}, false, true)")
        add_message(con, "a", 1, "waiting")
    with Store(path).writing() as con:
        assert rows(con, "SELECT count(*) FROM sample") == [10]
        assert rows(con, "SELECT parts FROM session") == ["[1, 2]"]
        assert rows(con, "SELECT count(*) FROM verdict") == [1]
        assert rows(con, "SELECT path FROM intake ORDER BY path") == ["aa.fit", "bb.fit"]
        assert findings.to_judge(con) == {"runa": date(2026, 10, 5), "odd": date(2026, 10, 1)}
        assert [key for key, _ in decisions.keys_owed(con)] == ["stage:runa"]
        (row,) = outbox.unsent(con)
        assert (row.id, row.severity, row.perhaps, row.refused, row.recipient) == ("a", Severity.STOP, 0, False, "")
        assert rows(con, "SELECT count(*) FROM mended") == [0]
    assert check_store(Home(tmp_path)).state == "fine"


def test_sentences_that_a_store_made_before_holds_become_codes_and_are_shown_as_before(tmp_path: Path) -> None:
    files = {
        "aa": "the same bytes as run.fit", "bb": "the same bytes as it had before", "cc": "an empty file",
        "dd": "the same session as a, b.fit, which tells more", "ee": "12 MB, more than the 10 MB such a file may have",
        "ff": "the same recording as \"odd\".fit",
    }  # fmt: skip
    messages = {
        "a": ("failed", "the day it was about is over", None), "b": ("held", "deferred until 06:30", "no such host"),
        "c": ("sent", "sent before the store was begun anew", None), "d": ("waiting", "first", "answered 500"),
        "e": ("failed", "a reason of somebody's own", None),
    }  # fmt: skip
    path = Home(tmp_path).store
    with store_without_keys(path) as con:
        for number, (sha256, reason) in enumerate(files.items()):
            add_recording(con, number, sha256)
            con.execute("UPDATE intake SET reason = ?, state = 'duplicate' WHERE sha256 = ?", [reason, sha256])
        for number, (row_id, (state, reason, error)) in enumerate(messages.items()):
            add_message(con, row_id, number, state)
            con.execute(
                f"UPDATE outbox SET reason = ?, last_error = ?, not_before = {AT} WHERE id = ?", [reason, error, row_id]
            )
    with Store(path).writing() as con:
        ledger = dict(con.execute("SELECT sha256, reason FROM intake").fetchall())
        assert {name: words.of_stored(reason) for name, reason in ledger.items()} == files
        known = ("same_bytes", "same_bytes", "empty_file", "same_session_told_better", "12", "same_recording")
        assert tuple(code_of(ledger[name]) for name in files) == known
        rows_now = {row.id: (row.reason, row.last_error) for row in outbox.every(con)}
        assert rows_now == {
            "a": (Why.DAY_OVER, None), "b": (Why.QUIET_HOURS, "no_such_host"), "c": (Why.SENT_EARLIER, None),
            "d": (Why.FIRST, "answered 500"), "e": ("a reason of somebody's own", None),
        }  # fmt: skip
        assert outbox.retry(con, NOW) == 1, "the day that is over stays over"


def test_a_store_begun_anew_is_made_as_one_that_grew_migration_by_migration(tmp_path: Path) -> None:
    """Though what mends rows is left out of it."""
    with store_without_keys(tmp_path / "grown.duckdb"):
        pass
    made = []
    for name in ("grown", "new"):
        with Store(tmp_path / f"{name}.duckdb").reading() as con:
            tables = [table for (table,) in con.execute("SELECT table_name FROM duckdb_tables() ORDER BY 1").fetchall()]
            rows = {table: con.execute(f"SELECT count(*) FROM {table}").fetchone() for table in tables}
            told = [
                "SELECT table_name, column_name, data_type, is_nullable, column_default FROM duckdb_columns()",
                "SELECT table_name, constraint_text FROM duckdb_constraints()",
                "SELECT table_name, index_name, is_unique, expressions FROM duckdb_indexes()",
            ]
            made.append((rows, [sorted(map(str, con.execute(one).fetchall())) for one in told]))
    assert made[0] == made[1]
    assert {table for table, count in made[1][0].items() if count != (0,)} == {"migration"}


def test_a_store_with_rows_twice_and_rows_that_point_at_nothing_opens_and_says_what_was_taken_out(
    tmp_path: Path,
) -> None:
    path = Home(tmp_path).store
    with store_without_keys(path) as con:
        add_recording(con, 1, "whole")
        add_session(con, "whole", "[1]", "whole")
        add_recording(con, 2, "lost")
        con.execute("DELETE FROM recording WHERE number = 2")  # its session points at nothing
        add_session(con, "lost", "[2]", "lost")
        add_recording(con, 3, "mixed")
        add_recording(con, 3, "other")  # whose samples are these?
        add_recording(con, 4, "again")
        add_recording(con, 5, "again")
        add_session(con, "again", "[4]", "again")
        add_session(con, "again", "[4]", "again")
        con.execute("INSERT INTO intake SELECT * REPLACE (false AS current) FROM intake WHERE path = 'whole.fit'")
        con.execute("INSERT INTO intake SELECT * REPLACE ('newer' AS sha256) FROM intake WHERE path = 'whole.fit'")
        con.execute("INSERT INTO intake SELECT * REPLACE ('odd.fit' AS path, 'puzzled' AS state) FROM intake LIMIT 1")
        for severity, at in (("caution", 0), ("stop", 1)):
            con.execute(
                f"INSERT INTO finding VALUES ('f', 'runa', 'pain', '{severity}', '2026-10-09', {AT}, '{{}}', {AT},"
                f" {AT} + INTERVAL {at} HOUR, NULL, NULL)"
            )
        for table, values in {
            "mark": f"'f', 'ida', '', {AT}",
            "hold": f"'runa', 'hold', '2026-10-09', 2, 'ill', 'ida', {AT}",
            "told_once": f"'key', {AT}, false, false",
            "judged": f"'runa', 'x', {AT}",
            "channel_pause": f"'ida', 1, 2, {AT}, false",
            "checkin": "'runa', '2026-10-09', 0, '{}', 'a', 'b', 1",
        }.items():
            con.execute(f"INSERT INTO {table} VALUES ({values}), ({values})")
        con.execute(f"INSERT INTO told_once VALUES ('key', {AT}, true, true)")
        for number, state in ((1, "waiting"), (2, "sent"), (3, "lost")):
            add_message(con, str(min(number, 2)), number, state)
    with Store(path).reading() as con:
        assert rows(con, "SELECT number FROM recording ORDER BY number") == [1, 4]
        assert rows(con, "SELECT recording FROM sample GROUP BY ALL ORDER BY ALL") == [1, 4]
        assert rows(con, "SELECT key FROM session ORDER BY key") == ["again", "whole"]
        assert rows(con, "SELECT key FROM verdict ORDER BY key") == ["again", "whole"]
        known = intake.known(con, "runa", "")
        assert set(known) == {"again.fit", "whole.fit"}, "what is lost is read again"
        assert rows(con, "SELECT count(*) FROM intake WHERE current GROUP BY athlete, path") == [1, 1]
        assert rows(con, "SELECT severity FROM finding") == ["stop"], "the newest"
        assert rows(con, "SELECT id, state FROM outbox ORDER BY id") == [("1", "waiting"), ("2", "sent")]
        assert rows(con, "SELECT replayed, owed FROM told_once") == [(False, True)]
        for table in ("mark", "hold", "judged", "channel_pause", "checkin"):
            assert rows(con, f"SELECT count(*) FROM {table}") == [1], table
        mended = dict(con.execute("SELECT what, rows FROM mended").fetchall())
        assert mended == {
            "intake": 7, "recording": 3, "sample": 20, "session": 2, "checkin": 1, "verdict": 2, "finding": 1,
            "mark": 1, "hold": 1, "outbox": 1, "told_once": 2, "channel_pause": 1,
        }  # fmt: skip
    said = check_store(Home(tmp_path))
    assert said.state == "note"
    assert "42 rows" in said.says
    assert "finding 1" in said.says


KEYED = {
    "intake": f"'runa', 'a.fit', 'aa', 1, 1, 'read', '', 0, 0, 0, 0, {AT}, true, NULL, NULL, NULL",
    "recording": f"1, 'runa', 'aa', 'a.fit', 0, {SESSION_ROW}, '[]', NULL, 'fit', 1, '{{}}', NULL, '[]', NULL",
    "session": f"'runa', 'k', {SESSION_ROW}, 'a.fit', 'v', NULL, '[]', '[1]', '{{}}', NULL, '[]', NULL",
    "checkin": "'runa', '2026-10-09', 0, '{}', 'md5', 'a', 'b', 1",
    "verdict": "'runa', 'k', 'c', '[]'",
    "finding": f"'f', 'runa', 'pain', 'stop', '2026-10-09', {AT}, '{{}}', {AT}, {AT}, NULL, NULL",
    "mark": f"'f', 'ida', '', {AT}",
    "calendar_entry": f"'runa', 'uid', 1, 'm', {AT}",
    "unjudged": "'runa', '2026-10-09'",
    "judged": f"'runa', 'x', {AT}",
    "told_once": f"'key', {AT}, false, false",
    "channel_pause": f"'ida', 1, 2, {AT}, false",
}


@pytest.mark.parametrize("table", KEYED)
def test_what_is_there_once_cannot_be_put_there_again(table: str, tmp_path: Path) -> None:
    store = Store(tmp_path / "fallow.duckdb")
    with store.writing() as con:
        con.execute(f"INSERT INTO {table} VALUES ({KEYED[table]})")
        with pytest.raises(duckdb.ConstraintException):
            con.execute(f"INSERT INTO {table} VALUES ({KEYED[table]})")


@pytest.mark.parametrize(
    "broken",
    [
        f"INSERT INTO intake VALUES ({KEYED['intake'].replace('read', 'puzzled')})",
        f"INSERT INTO hold VALUES ('runa', 'halt', '2026-10-09', 2, 'ill', 'ida', {AT})",
        f"INSERT INTO intake VALUES ({KEYED['intake']}), ({KEYED['intake'].replace('aa', 'bb')})",
        f"INSERT INTO recording VALUES ({KEYED['recording']}), (2{KEYED['recording'][1:]})",
        "UPDATE outbox SET state = 'somewhere'",
        "UPDATE outbox SET severity = 'grave'",
    ],
    ids=["intake state", "hold kind", "two files at a path", "bytes twice", "outbox state", "severity"],
)
def test_what_no_code_can_mean_is_refused(broken: str, tmp_path: Path) -> None:
    with Store(tmp_path / "fallow.duckdb").writing() as con:
        queue_item(con)
        with pytest.raises(duckdb.ConstraintException):
            con.execute(broken)


def queue_item(con: duckdb.DuckDBPyConnection) -> str:
    draft = Draft(Severity.STOP, "[]", (), "waiting", "first")
    return outbox.insert(
        con, draft, athlete="runa", contact="ida", channel=1, channel_shown="", kind="alert", created_at=NOW
    ).id


def ledger_row(path: str, sha256: str, state: str = "read") -> LedgerRow:
    return LedgerRow("runa", path, sha256, 1, 1, state, read_at=NOW)


def recording(number: int = 0) -> Recording:
    start = NOW + timedelta(hours=number)
    samples = {"t_s": np.array([0.0, 1.0])}
    return Recording(start, start + timedelta(minutes=30), "running", "", 1800, 1800, 5000, samples)


def session(key: str = "k") -> Session:
    return Session(key, NOW, LATER, "running", "", 3600, 3600, 9000, "a.fit", Digest("running"), "v")


def checkin(note: str = "") -> CheckIn:
    return CheckIn(DAY, order=1.0, pain=3, note=note, source="a")


def renamed(con: duckdb.DuckDBPyConnection, old: Finding, new: Finding) -> None:
    findings.apply(con, Difference("runa", changed=((old, new),)), NOW)


def find_and_rename(con: duckdb.DuckDBPyConnection) -> None:
    one, other = (finding(start=NOW + timedelta(minutes=n)) for n in (0, 1))
    findings.apply(con, Difference("runa", fresh=(one,)), NOW)
    for first, second in ((one, other), (other, one), (one, other)):
        findings.mark(con, first.id, "ida", "", NOW)
        findings.mark(con, second.id, "ida", "", NOW)
        renamed(con, first, second)
    assert [found.id for found in findings.standing(con)] == [other.id]
    assert {name: len(made) for name, made in findings.marks(con).items()} == {other.id: 1}


def replace_a_file_and_put_it_back(con: duckdb.DuckDBPyConnection) -> None:
    for sha256, state in (("", "waiting"), ("aa", "read"), ("bb", "read"), ("aa", "duplicate"), ("aa", "read")):
        intake.record(con, ledger_row("a.fit", sha256, state))
    intake.record(con, ledger_row("a.fit", "bb"), ledger_row("b.fit", "aa"), ledger_row("a.fit", "cc"))
    intake.touch(con, "runa", "cc", Seen("a.fit", 2, 2, 0, 0))
    assert intake.known(con, "runa", "") == {"a.fit": (2, 2), "b.fit": (1, 1)}


def store_a_recording(con: duckdb.DuckDBPyConnection) -> None:
    told = [FileRecording("aa", "a.fit", 0, recording(), 1.0), FileRecording("aa", "a.fit", 1, recording(1), 1.0)]
    recordings.insert(con, "runa", [*told, told[0]])
    recordings.insert(con, "runa", told)
    assert len(recordings.all_of(con, "runa")) == 2
    assert con.execute("SELECT count(*) FROM sample").fetchone() == (4,), "and no sample that is nobody's"


def replace_a_session(con: duckdb.DuckDBPyConnection) -> None:
    recordings.replace_sessions(con, "runa", ["k"], [(session(), [1], None)])
    recordings.replace_sessions(con, "runa", [], [(replace(session(), version="w"), [1], None)])
    assert [one.version for one in recordings.sessions(con, "runa")] == ["w"]
    twice = [(replace(session(), version=version), [1], None) for version in ("x", "y")]
    recordings.replace_sessions(con, "runa", [], [*twice, (replace(session(), key="other"), [2], None)])
    assert {one.key: one.version for one in recordings.sessions(con, "runa")} == {"k": "y", "other": session().version}
    recordings.replace_sessions(con, "runa", ["k", "other"], [(session(), [1], None)])
    assert [one.version for one in recordings.sessions(con, "runa")] == [session().version]


def check_in(con: duckdb.DuckDBPyConnection) -> None:
    for _ in range(2):
        body.insert_checkins(con, "runa", body.SourceFile("a", "aa", 1), [checkin(), checkin(), checkin("n" * 300_000)])
    assert len(told.season(con, "runa", DAY, DAY).checkins) == 2
    body.forget(con, "runa", "aa")
    assert body.insert_checkins(con, "runa", body.SourceFile("a", "bb", 1), [checkin()]) == [DAY]


def tell_nights(con: duckdb.DuckDBPyConnection) -> None:
    for mtime_ns in (1, 2):
        nights = [Night(DAY, total_sleep_min=400, source="a"), Night(DAY, source="a")]
        body.insert_nights(con, "runa", body.SourceFile("a", "aa", mtime_ns), nights)
        body.insert_mornings(
            con,
            "runa",
            body.SourceFile("a", "aa", mtime_ns),
            [Morning(DAY, 50, None, "a"), Morning(DAY, 51, None, "a")],
        )
    assert con.execute("SELECT (SELECT count(*) FROM night), (SELECT count(*) FROM morning)").fetchone() == (2, 2)


def judge(con: duckdb.DuckDBPyConnection) -> None:
    for since in (DAY, DAY - timedelta(days=3), DAY):
        findings.mark_to_judge(con, "runa", since)
    assert findings.to_judge(con) == {"runa": DAY - timedelta(days=3)}
    findings.keep_verdict(con, "runa", "k", "before", ())
    findings.keep_verdict(con, "runa", "k", "now", ())
    assert list(findings.verdicts(con, ["runa"])["runa"]) == [("k", "now")]
    findings.note_judged(con, {"runa": "before"}, NOW)
    findings.note_judged(con, {"runa": "now"}, NOW)
    assert (findings.to_judge(con), findings.all_judged(con)) == ({}, {"runa": ("now", NOW)})


def override(con: duckdb.DuckDBPyConnection) -> None:
    for why in ("ill", "ill", "w" * 300_000):
        findings.add_hold(con, "runa", Hold("hold", DAY, NOW, 2, why, "ida"))
        findings.mark(con, "f", "ida", why, NOW)
    assert len(findings.holds(con, ["runa"])["runa"]) == 2
    assert len(findings.marks(con)["f"]) == 1


def tell_once(con: duckdb.DuckDBPyConnection) -> None:
    assert [decisions.first_time(con, "key", NOW) for _ in range(3)] == [True, False, False]
    for failures in (1, 2):
        decisions.put(con, ("ida", 1), ChannelPause(failures, LATER))
    decisions.end(con, ("ida", 1))
    decisions.put(con, ("ida", 1), ChannelPause(3, LATER))
    assert decisions.load(con)["ida", 1].failures == 3


def queue(con: duckdb.DuckDBPyConnection) -> None:
    row_id = queue_item(con)
    (row,) = outbox.unsent(con)
    outbox.claim(con, row_id, "me", NOW, LATER)
    outbox.split(con, row, ["one", "two"])
    outbox.mark_sent(con, row_id, NOW, NOW, journaled=True)
    for _ in range(2):
        outbox.restore(con, "earlier", athlete="runa", contact="ida", channel=1, kind="odd", severity=Severity.NOTE,
                       findings=(), rules=(), once=None, at=NOW)  # fmt: skip
    outbox.drop(con, row_id)
    assert outbox.counts(con) == {"waiting": 1, "sent": 1}


@pytest.mark.parametrize(
    "write",
    [find_and_rename, replace_a_file_and_put_it_back, store_a_recording, replace_a_session, check_in, tell_nights,
     judge, override, tell_once, queue],
)  # fmt: skip
@pytest.mark.parametrize("again", ["in one transaction", "after it"])
def test_no_key_keeps_a_writer_from_writing_the_same_again(
    write: Callable[[duckdb.DuckDBPyConnection], None], again: str, tmp_path: Path
) -> None:
    store = Store(tmp_path / "fallow.duckdb")
    with store.writing() as con:
        write(con)
        if again == "in one transaction":
            for table in rows(con, "SELECT table_name FROM duckdb_tables() WHERE table_name <> 'migration'"):
                con.execute(f"DELETE FROM {table}")
            write(con)
    with store.writing() as con:
        for table in rows(con, "SELECT table_name FROM duckdb_tables() WHERE table_name <> 'migration'"):
            con.execute(f"DELETE FROM {table}")
        write(con)
        written = rows(
            con, "SELECT table_name FROM duckdb_tables() WHERE table_name <> 'migration' AND estimated_size > 0"
        )
        assert written


def test_a_journal_that_says_the_same_twice_begins_a_store(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "fallow.journal")
    for _ in range(2):
        journal.hold("runa", Hold("hold", DAY, NOW, 2, "ill", "ida"))
        journal.mark("f", "ida", "", NOW)
        journal.once("key", NOW)
        journal.sent("row", "runa", "ida", 1, "key", (), NOW)
    with Store(tmp_path / "fallow.duckdb").writing() as con:
        assert (len(findings.holds(con, ["runa"])["runa"]), len(findings.marks(con)["f"])) == (1, 1)
        assert outbox.counts(con) == {"sent": 1}
    assert not journal.odd.exists()
