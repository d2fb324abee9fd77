import json
import os
from datetime import UTC, date, datetime
from multiprocessing import get_context
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.doctor import check_journal
from monitor.errors import WorkFailed
from monitor.home import Home
from monitor.reasons import Why
from monitor.rebuilding import rebuild
from monitor.store import findings, outbox
from monitor.store import journal as journals
from monitor.store.database import Store
from monitor.store.journal import Journal, _whole
from rules.facts import Hold
from tests.monitor.alerts.scene import NOON, Scene, finding

NOW = datetime(2026, 10, 9, 12, tzinfo=UTC)
HOLD = Hold("hold", date(2026, 10, 10), NOW, 3, "sore Achilles", "Ida")


def test_what_is_appended_comes_back_in_order(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "fallow.journal")
    for number in range(3):
        journal.append({"kind": "test", "number": number, "word": "å\n"})
    assert [entry["number"] for entry in journal.entries()] == [0, 1, 2]
    assert len(journal.path.read_bytes().splitlines()) == 3


def test_the_journal_is_its_owners_alone(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "fallow.journal")
    journal.append({"kind": "test"})
    assert journal.path.stat().st_mode & 0o777 == 0o600


def test_a_journal_that_is_not_there_is_empty(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "fallow.journal")
    assert list(journal.entries()) == []
    assert journal.rows_sent() == set()
    assert not journal.path.exists()


@given(torn=st.binary(max_size=60))
def test_a_torn_last_line_costs_itself_and_no_other(tmp_path_factory: pytest.TempPathFactory, torn: bytes) -> None:
    path = tmp_path_factory.mktemp("j") / "fallow.journal"
    whole = b'{"kind":"test","number":1}\n'
    path.write_bytes(whole + torn)
    journal = Journal(path)
    journal.append({"kind": "test", "number": 2})
    numbers = [entry.get("number") for entry in journal.entries() if entry.get("kind") == "test"]
    assert numbers[0] == 1
    assert numbers[-1] == 2


def _append_many(path: Path, name: str) -> None:
    journal = Journal(path)
    for number in range(30):
        journal.append({"kind": "test", "by": name, "number": number, "filling": "x" * 300})


def test_processes_that_append_at_the_same_time_lose_no_line(tmp_path: Path) -> None:
    path = tmp_path / "fallow.journal"
    context = get_context("spawn")
    writers = [context.Process(target=_append_many, args=(path, name)) for name in "ab"]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    entries = list(Journal(path).entries())
    for name in "ab":
        assert [entry["number"] for entry in entries if entry["by"] == name] == list(range(30))


def test_a_journal_that_cannot_be_written_is_one_clear_line(tmp_path: Path) -> None:
    path = tmp_path / "fallow.journal"
    path.mkdir()
    with pytest.raises(WorkFailed, match=r"^fallow\.journal: cannot be written \(.+\); free some space"):
        Journal(path).append({})


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_is_said_so(tmp_path: Path) -> None:
    (tmp_path / "fallow.journal").symlink_to("/dev/full")
    with pytest.raises(WorkFailed, match="No space left"):
        Journal(tmp_path / "fallow.journal").append({})


def test_holds_and_marks_come_back_once_however_often_they_are_replayed(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "fallow.journal")
    journal.hold("runa", HOLD)
    journal.mark("3f9a1c07be", "Ida", "talked to her", NOW)
    with Store(tmp_path / "fallow.duckdb").writing() as con:
        assert journal.replay_into(con) == 2
        journal.replay_into(con)
        assert findings.holds(con, ["runa"])["runa"] == [HOLD]
        assert findings.marks(con) == {"3f9a1c07be": [{"by": "Ida", "note": "talked to her", "at": NOW}]}


def test_lines_of_another_version_and_damaged_ones_are_passed_over(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "fallow.journal")
    journal.append({"kind": "of tomorrow", "at": NOW.isoformat()})
    journal.append({"kind": "sent", "at": "yesterday"})
    journal.append({"kind": "hold", "at": NOW.isoformat(), "athlete": "runa"})
    journal.append({"no": "kind"})
    with journal.path.open("ab") as file:
        file.write(b"\xff\xfe\n[1, 2]\n\n" + os.urandom(20).replace(b"\n", b"") + b"\n")
    journal.hold("runa", HOLD)
    with Store(tmp_path / "fallow.duckdb").writing() as con:
        assert journal.replay_into(con) == 1
        assert len(findings.holds(con, ["runa"])["runa"]) == 1


def test_a_note_in_a_hold_cannot_begin_a_line_of_its_own(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "fallow.journal")
    journal.mark("3f9a1c07be", "Ida", 'x\n{"kind":"once"}\u2028', NOW)
    assert [json.loads(line)["kind"] for line in journal.path.read_text().splitlines()] == ["mark"]


ODD = [
    b"null", b"[]", b"7", b"not json", b"[" * 100_000, b'{"a":' * 100_000,
    b'{"kind": "mark", "finding": null, "by": "ida", "note": "", "at": "2026-10-05T10:00:00+00:00"}',
    b'{"kind": "mark", "finding": "abc", "by": "\\ud800", "note": "", "at": "2026-10-05T10:00:00+00:00"}',
    b'{"kind": "mark", "finding": "abc", "by": "a\\u0000b", "note": "", "at": "2026-10-05T10:00:00+00:00"}',
    b'{"kind": "mark", "finding": {"a": 1}, "by": "ida", "note": "", "at": "2026-10-05T10:00:00+00:00"}',
    b'{"kind": "mark", "finding": "abc", "by": "ida", "note": "", "at": "0001-01-01T00:00:00+14:00"}',
    b'{"kind": "once", "once": ["a"], "at": "2026-10-05T10:00:00+00:00"}',
    (b'{"kind": "hold", "athlete": "runa", "what": "hold", "on": "2026-10-05", "days": 1e99, "why": "", "by": "", '
    b'"at": "2026-10-05T10:00:00+00:00"}'),
    (b'{"kind": "sent", "row": "r", "athlete": "runa", "contact": "ida", "channel": 99999999999, "once": null, '
    b'"told": [], "at": "2026-10-05T10:00:00+00:00"}'),
    (b'{"kind": "sent", "row": "r", "athlete": "runa", "contact": "ida", "channel": 1, "once": null, "told": [null], '
    b'"at": "2026-10-05T10:00:00+00:00"}'),
]  # fmt: skip


@pytest.mark.parametrize("line", ODD, ids=lambda line: line[:40].decode("ascii", "replace"))
def test_an_odd_line_is_passed_over_and_kept_aside_and_all_others_count(line: bytes, tmp_path: Path) -> None:
    journal = Journal(tmp_path / "fallow.journal")
    journal.mark("before", "ida", "", NOW)
    with journal.path.open("ab") as file:
        file.write(line + b"\n")
    journal.mark("after", "ida", "", NOW)
    with Store(tmp_path / "fallow.duckdb").reading() as con:
        assert sorted(findings.marks(con)) == ["after", "before"]
    assert journal.odd.read_bytes() == line + b"\n"
    assert journal.rows_sent() <= {"r"}
    checks = list(check_journal(Home(tmp_path)))
    assert [one.says[:13] for one in checks] == ["1 line makes "]


def test_what_was_sent_stands_in_the_outbox_of_a_new_store(tmp_path: Path) -> None:
    scene = Scene(tmp_path, store=Store(Home(tmp_path).store))
    scene.queue(finding())
    scene.deliver()
    with scene.store.reading() as con:
        (before,) = outbox.every(con)
    rebuild(Home(tmp_path), NOON)
    with scene.store.reading() as con:
        (after,) = outbox.every(con)
    same = ("id", "athlete", "contact", "channel", "kind", "severity", "findings", "state", "once")
    assert [getattr(after, name) for name in same] == [getattr(before, name) for name in same]
    assert after.sent_at == before.sent_at
    assert after.title == "no_running"
    assert after.reason == Why.SENT_EARLIER
    scene.queue(finding())
    assert scene.deliver().sent == 0


@pytest.mark.parametrize(
    ("value", "taken"),
    [
        (2**31 - 1, True), (-(2**31) + 1, True), (2**31, False), (-(2**31), False), (0, True), (True, False),
        (1.0, False), ("1", False), (None, False),
    ],
)  # fmt: skip
def test_a_number_of_the_journal_is_a_whole_one_that_the_store_can_keep(value: object, *, taken: bool) -> None:
    if taken:
        assert _whole(value) == value
    else:
        with pytest.raises(ValueError, match=r"^$"):
            _whole(value)


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (b"", b'{"a":1}\n'),
        (b'{"b":1}\n', b'{"b":1}\n{"a":1}\n'),
        (b'{"b":1', b'{"b":1\n{"a":1}\n'),
    ],
)
def test_a_line_begins_anew_behind_one_that_was_torn(before: bytes, after: bytes, tmp_path: Path) -> None:
    journal = Journal(tmp_path / "fallow.journal")
    journal.path.write_bytes(before)
    journal.append({"a": 1})
    assert journal.path.read_bytes() == after


def test_the_name_of_a_new_journal_is_made_durable_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    synced: list[Path] = []
    monkeypatch.setattr(journals, "_sync_folder", synced.append)
    journal = Journal(tmp_path / "fallow.journal")
    for number in (1, 2):
        journal.append({"a": number})
        assert synced == [tmp_path]


def test_what_was_taken_back_is_taken_back_in_a_new_store_too(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "fallow.journal")
    journal.mark("3f9a1c07be", "Ida", "seen", NOW)
    journal.mark("3f9a1c07bf", "Ida", "seen", NOW)
    journal.hold("runa", HOLD)
    journal.undo("runa", ["3f9a1c07be"], "Ida", NOW, NOW)
    journal.append({"kind": "of a later version", "at": NOW.isoformat()})
    with Store(tmp_path / "x.duckdb").writing() as con:
        assert journal.replay_into(con) == 4
        assert con.execute("SELECT finding FROM mark").fetchall() == [("3f9a1c07bf",)]
        assert con.execute("SELECT count(*) FROM hold").fetchall() == [(0,)]
    assert journal.rows_sent() == set()
    journal.append({"kind": "once", "row": "r1", "at": NOW.isoformat(), "once": "x"})
    journal.append({"kind": "sent", "at": NOW.isoformat()})
    journal.append({"kind": "sent", "row": "r2", "at": NOW.isoformat()})
    assert journal.rows_sent() == {"r2"}


def test_of_a_line_that_is_only_partly_written_it_is_said_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write = os.write
    monkeypatch.setattr(os, "write", lambda handle, line: write(handle, line[:-1]))
    with pytest.raises(WorkFailed, match=r"^fallow\.journal: cannot be written \(only a part could be written\)"):
        Journal(tmp_path / "fallow.journal").append({"a": 1})


def test_odd_lines_are_kept_aside_until_a_store_can_make_something_of_all(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "fallow.journal")
    for lines, odd in ((b"odd\n", b"odd\n"), (b"", None), (b"", None)):
        journal.path.write_bytes(lines)
        with Store(tmp_path / "x.duckdb").writing() as con:
            assert journal.replay_into(con) == 0
        assert (journal.odd.read_bytes() if journal.odd.exists() else None) == odd


def test_only_what_was_sent_as_a_row_stands_in_the_outbox_again(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "fallow.journal")
    about = {"at": NOW.isoformat(), "athlete": "runa", "contact": "ida", "channel": 1, "told": []}
    journal.append({"kind": "once", "once": "x", "row": "r1", **about})
    journal.append({"kind": "sent", "once": "y", **about})
    journal.append({"kind": "sent", "once": "z", "row": "r2", **about})
    with Store(tmp_path / "x.duckdb").writing() as con:
        assert journal.replay_into(con) == 3
        assert [row.id for row in outbox.every(con)] == ["r2"]
        assert con.execute("SELECT key FROM told_once ORDER BY key").fetchall() == [("x",), ("y",), ("z",)]
