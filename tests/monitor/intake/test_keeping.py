"""What the ledger says of a file that was read, read again, or could not be read, and what a pass counts of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, replace
from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import duckdb
import numpy as np
import pytest

from monitor import fingerprints, words
from monitor.intake.storing import PassMoment, ReadFile, Tally, keep, not_in_ledger, record
from monitor.reasons import code_of, stored
from monitor.store import body, intake, recordings
from monitor.store.migrations import migrate
from monitor.values import FileFacts, Recording, Refused, Seen
from rules.facts import CheckIn, Digest, Morning, Night
from rules.limits import default_limits
from tests.monitor.store.told import season

NOW = datetime(2026, 10, 9, 12, tzinfo=UTC)
DAY = date(2026, 10, 8)
MOMENT = PassMoment(NOW, NOW, patient=False, first_import=False)
RUN = Recording(
    NOW - timedelta(hours=9), NOW - timedelta(hours=8), "running", "generic", 3600.0, 3600.0, 1.0,
    {"t_s": np.arange(3.0)},
)  # fmt: skip
NIGHT = FileFacts("x", nights=(Night(DAY, total_sleep_min=400.0),))
MORNING = FileFacts("x", mornings=(Morning(DAY, 50.0),))
CHECKIN = FileFacts("x", checkins=(CheckIn(DAY, 1.0),))
READ_RUN = FileFacts("x", recordings=(RUN,))


def athlete(options: str = "options") -> Any:
    return SimpleNamespace(
        id="runa",
        options=SimpleNamespace(fingerprint=options),
        athlete=SimpleNamespace(local_date=lambda moment: moment.date()),
    )


@pytest.fixture
def con() -> Iterator[duckdb.DuckDBPyConnection]:
    with duckdb.connect() as con:
        migrate(con)
        yield con


def read(path: str, sha256: str, facts: FileFacts | None, reason: Any = None, mtime_s: int = 1) -> ReadFile:
    return ReadFile(Seen(path, 7, mtime_s * 10**9, 1, 1), sha256, facts, reason)


def kept(
    con: duckdb.DuckDBPyConnection, *files: ReadFile, options: str = "options", moment: PassMoment = MOMENT
) -> Any:
    """What the pass counted, without noughts."""
    tally = asdict(keep(con, athlete(options), files, moment, default_limits()))
    return {name: value for name, value in tally.items() if value}


def told(con: duckdb.DuckDBPyConnection, path: str) -> tuple[str, str | None, tuple[int, ...], str | None]:
    """State, why, how many sessions, nights, mornings and check-ins, and under which options it was read."""
    (row,) = [row for row, current in intake._rows(con, "path = ?", ["runa", path]) if current]
    counts = row.sessions, row.nights, row.mornings, row.checkins
    return row.state, code_of(row.reason) or None, counts, row.read_under


def code(words_of: str) -> str:
    return code_of(stored(words_of))


@pytest.mark.parametrize(
    ("facts", "counted", "counts", "under"),
    [
        (READ_RUN, "sessions", (1, 0, 0, 0), None),
        (NIGHT, "nights", (0, 1, 0, 0), "options"),
        (MORNING, "mornings", (0, 0, 1, 0), "options"),
        (CHECKIN, "checkins", (0, 0, 0, 1), "options"),
    ],
)
def test_a_new_file_is_read_and_what_it_tells_is_counted(
    facts: FileFacts, counted: str, counts: tuple[int, ...], under: str | None, con: duckdb.DuckDBPyConnection
) -> None:
    day = RUN.start.date() if facts.recordings else DAY
    assert kept(con, read("a", "1", facts)) == {"files_new": 1, "read": 1, counted: 1, "touched": day}
    assert told(con, "a") == ("read", None, counts, under)


def test_a_file_without_anything_to_judge_is_read_and_says_so(con: duckdb.DuckDBPyConnection) -> None:
    assert kept(con, read("a", "1", FileFacts("x"))) == {"files_new": 1, "read": 1}
    assert told(con, "a") == ("read", code(words.files.NOTHING_JUDGED), (0, 0, 0, 0), None)


def test_a_remark_stands_in_the_place_of_nothing_judged(con: duckdb.DuckDBPyConnection) -> None:
    kept(con, read("a", "1", FileFacts("x", remarks=(words.files.EMPTY_FILE,))))
    assert told(con, "a")[1] == code(words.files.EMPTY_FILE)


@pytest.mark.parametrize("facts", [NIGHT, MORNING, CHECKIN, replace(NIGHT, checkins=CHECKIN.checkins)])
def test_what_another_file_told_already_is_nothing_new(facts: FileFacts, con: duckdb.DuckDBPyConnection) -> None:
    kept(con, read("a", "1", facts))
    counted = kept(con, read("b", "2", facts))
    assert {name: counted[name] for name in ("files_new", "duplicate")} == {"files_new": 1, "duplicate": 1}
    assert "read" not in counted
    assert told(con, "b")[:3] == ("duplicate", code(words.files.NOTHING_NEW), (0, 0, 0, 0))


@pytest.mark.parametrize("facts", [NIGHT, READ_RUN], ids=["night", "run"])
def test_the_same_bytes_under_another_name_are_named_by_the_first(
    facts: FileFacts, con: duckdb.DuckDBPyConnection
) -> None:
    kept(con, read("a", "1", facts), read("b", "1", facts))
    assert [told(con, path)[0] for path in "ab"] == ["read", "duplicate"]
    assert told(con, "b")[1] == code(words.files.SAME_BYTES.format(path="a"))
    (row,) = [row for row, _ in intake._rows(con, "path = ?", ["runa", "b"])]
    assert '"a"' in row.reason


def test_a_file_touched_by_its_sync_is_the_one_that_it_was(con: duckdb.DuckDBPyConnection) -> None:
    kept(con, read("a", "1", NIGHT))
    before = told(con, "a")
    assert kept(con, read("a", "1", NIGHT, mtime_s=9)) == {}
    assert told(con, "a") == before
    (row,) = [row for row, _ in intake._rows(con, "path = ?", ["runa", "a"])]
    assert row.mtime_ns == 9 * 10**9


def test_a_file_that_held_other_bytes_meanwhile_had_these_before(con: duckdb.DuckDBPyConnection) -> None:
    for at, sha256 in enumerate("121", 1):
        kept(
            con,
            read("a", sha256, replace(NIGHT, nights=(Night(DAY, total_sleep_min=400.0 + int(sha256)),)), mtime_s=at),
        )
    assert season(con, "runa").nights == [Night(DAY, total_sleep_min=401.0, source="a")]


def recorded(start: datetime, minutes: float, quality: float) -> FileFacts:
    end = start + timedelta(minutes=minutes)
    seconds = 60.0 * minutes * quality  # evidence is the time alone here
    made = replace(RUN, start=start, end=end, timer_s=seconds, elapsed_s=60.0 * minutes, digest=Digest("running"))
    return FileFacts("x", recordings=(made,))


def test_a_better_recording_takes_the_place_of_a_poorer_one_in_the_ledger_too(con: duckdb.DuckDBPyConnection) -> None:
    poor, better = recorded(RUN.start, 60, 1.0), recorded(RUN.start + timedelta(minutes=1), 58, 2.0)
    assert kept(con, read("a", "1", poor))["sessions"] == 1
    again = kept(con, read("b", "2", better))
    assert (again.get("sessions"), again["read"], again["files_new"]) == (None, 1, 1)
    assert told(con, "a")[:3] == ("duplicate", code(words.files.SAME_SESSION_TOLD_BETTER.format(path="b")), (0,) * 4)
    assert told(con, "b")[:3] == ("read", None, (1, 0, 0, 0))


def test_a_poorer_recording_is_one_told_better_and_an_equal_one_the_same(con: duckdb.DuckDBPyConnection) -> None:
    kept(con, read("a", "1", recorded(RUN.start, 60, 2.0)))
    counted = kept(con, read("b", "2", recorded(RUN.start, 50, 1.0)), read("c", "3", recorded(RUN.start, 60, 2.0)))
    assert counted == {"files_new": 2, "duplicate": 2}
    assert told(con, "b")[1] == code(words.files.SAME_SESSION_TOLD_BETTER.format(path="a"))
    assert told(con, "c")[1] == code(words.files.SAME_RECORDING.format(path="a"))
    assert told(con, "a")[:3] == ("read", None, (1, 0, 0, 0))


def test_what_goes_on_in_a_second_file_is_no_new_session_and_both_stand(con: duckdb.DuckDBPyConnection) -> None:
    kept(con, read("a", "1", recorded(RUN.start, 60, 1.0)))
    counted = kept(con, read("b", "2", recorded(RUN.start + timedelta(minutes=61), 30, 1.0)))
    assert counted == {"files_new": 1, "read": 1, "touched": RUN.start.date()}
    assert [told(con, path)[:3] for path in "ab"] == [("read", None, (1, 0, 0, 0))] * 2
    assert [session.timer_s for session in recordings.sessions(con, "runa")] == [90 * 60]


def test_two_outings_of_one_file_stand_both_and_one_that_touches_the_other_is_new(
    con: duckdb.DuckDBPyConnection,
) -> None:
    ride = replace(recorded(RUN.start, 60, 1.0).recordings[0], sport="cycling", digest=Digest("cycling"))
    run = recorded(ride.end, 30, 1.0).recordings[0]
    assert kept(con, read("a", "1", FileFacts("x", recordings=(ride, run))))["sessions"] == 2
    assert told(con, "a")[2] == (2, 0, 0, 0)
    swim = replace(recorded(run.end, 30, 1.0).recordings[0], sport="swimming", digest=Digest("swimming"))
    assert kept(con, read("b", "2", FileFacts("x", recordings=(swim,))))["sessions"] == 1
    assert told(con, "a")[2] == (2, 0, 0, 0)


def test_two_that_stand_neither_tells_the_other_and_each_names_what_it_was_told_by(
    con: duckdb.DuckDBPyConnection,
) -> None:
    """In the morning and in the evening, each told twice: a copy is told by that of its own hours."""
    evening = RUN.start + timedelta(hours=6)
    files = (("a", RUN.start, 2.0), ("b", evening, 2.0), ("c", evening, 1.0), ("d", RUN.start, 1.0))
    counted = kept(con, *(read(path, path, recorded(start, 60, quality)) for path, start, quality in files))
    assert (counted["sessions"], counted["read"], counted["duplicate"]) == (2, 2, 2)
    for path, other in (("c", "b"), ("d", "a")):
        (row,) = [row for row, _ in intake._rows(con, "path = ?", ["runa", path])]
        assert row.reason == stored(words.files.SAME_SESSION_TOLD_BETTER.format(path=other))


@pytest.mark.parametrize(
    ("minutes", "new"),
    [((-61, 60), 0), ((-60, 60), 0), ((-1, 60), 0), ((120, 60), 1)],
    ids=["goes on in the old one", "ends where it begins", "overlaps it", "much later"],
)
def test_a_session_is_new_where_none_stood_at_its_time(
    minutes: tuple[int, int], new: int, con: duckdb.DuckDBPyConnection
) -> None:
    begin, length = minutes
    kept(con, read("a", "1", recorded(RUN.start, 60, 1.0)))
    counted = kept(con, read("b", "2", recorded(RUN.start + timedelta(minutes=begin), length, 2.0)))
    assert counted.get("sessions", 0) == new


def test_of_a_session_of_one_recording_the_digest_is_as_old_as_that_ones(con: duckdb.DuckDBPyConnection) -> None:
    """One of several is made here, by the code of now."""
    with_digest = [replace(recorded(RUN.start + timedelta(hours=hours), 60, 1.0).recordings[0], digest_by="older")
                   for hours in (0, 5, 6)]  # fmt: skip
    for number, one in enumerate(with_digest):
        kept(con, read(f"{number}", f"{number}", FileFacts("x", recordings=(one,))))
    whole, joined = con.execute("SELECT digest_by FROM session ORDER BY started").fetchall()
    assert whole == ("older",)
    assert joined == (fingerprints.of_digests(default_limits()),)


def test_a_file_corrected_in_place_replaces_what_it_told_of_the_same_time_alone(con: duckdb.DuckDBPyConnection) -> None:
    kept(con, read("a", "1", recorded(RUN.start, 60, 9.0)))
    assert "sessions" not in kept(con, read("a", "2", recorded(RUN.start + timedelta(minutes=5), 60, 1.0)))
    assert [one.start for one in recordings.sessions(con, "runa")] == [RUN.start + timedelta(minutes=5)]


def test_another_outing_written_to_the_place_of_one_leaves_that_standing(con: duckdb.DuckDBPyConnection) -> None:
    later = RUN.start + timedelta(hours=5)
    kept(con, read("a", "1", recorded(RUN.start, 60, 9.0)))
    assert kept(con, read("a", "2", recorded(later, 60, 1.0)))["sessions"] == 1
    assert [one.start for one in recordings.sessions(con, "runa")] == [RUN.start, later]


@pytest.mark.parametrize("same", [True, False])
def test_under_other_options_a_file_whose_bytes_cannot_be_read_just_now_keeps_its_facts(
    same: bool, con: duckdb.DuckDBPyConnection
) -> None:
    kept(con, read("a", "1", NIGHT))
    again = kept(con, read("a", "1" if same else "2", None, words.files.EMPTY_FILE), options="others")
    assert len(season(con, "runa").nights) == same
    assert told(con, "a")[0] == ("read" if same else "unreadable")
    assert told(con, "a")[3] == "others"
    assert again.get("unreadable", 0) == (not same)


def test_a_file_that_stays_unreadable_for_the_same_reason_is_counted_once(con: duckdb.DuckDBPyConnection) -> None:
    counted = {"files_new": 1, "unreadable": 1, "unreadable_paths": ["a"]}
    assert kept(con, read("a", "1", None, words.files.EMPTY_FILE)) == counted
    assert kept(con, read("a", "1", None, words.files.EMPTY_FILE), options="others") == {}
    assert told(con, "a")[3] == "others"
    assert kept(con, read("a", "1", None, words.files.NOTHING_JUDGED), options="third") == counted
    assert kept(con, read("a", "1", None, words.files.EMPTY_FILE), options="third") == {}


def test_under_other_options_a_file_is_read_anew_and_what_it_told_before_is_gone(
    con: duckdb.DuckDBPyConnection,
) -> None:
    kept(con, read("a", "1", NIGHT))
    other = replace(NIGHT, nights=(Night(DAY - timedelta(days=1), total_sleep_min=400.0),))
    assert kept(con, read("a", "1", other), options="others") == {"touched": DAY - timedelta(days=1)}
    assert [night.date for night in season(con, "runa").nights] == [DAY - timedelta(days=1)]
    assert told(con, "a") == ("read", None, (0, 1, 0, 0), "others")


def test_a_copy_read_under_other_options_stays_a_copy(con: duckdb.DuckDBPyConnection) -> None:
    kept(con, read("a", "1", NIGHT), read("b", "1", NIGHT))
    kept(con, read("b", "1", NIGHT), options="others")
    assert told(con, "b")[:2] == ("duplicate", code(words.files.SAME_BYTES.format(path="a")))
    assert told(con, "b")[3] == "others"


def test_the_first_look_is_at_what_was_there_before(con: duckdb.DuckDBPyConnection) -> None:
    kept(con, read("a", "1", NIGHT), moment=replace(MOMENT, first_import=True))
    kept(con, read("b", "2", MORNING))
    assert intake.looks(con, ["runa"])["runa"].last_arrival == NOW
    assert body.last_facts_at(con, ["runa"], NOW)["runa"] == datetime(2026, 10, 8, 12, tzinfo=UTC)


def test_what_is_no_file_to_read_is_recorded_where_no_ledger_knows_it(con: duckdb.DuckDBPyConnection) -> None:
    refused = {"runa": [Refused(path, words.files.EMPTY_FILE, "ignored") for path in "ab"]}
    rows = not_in_ledger(refused, {"runa": {"b"}}, NOW)
    tally = Tally()
    record(con, rows, tally)
    assert (tally.files_new, tally.ignored, tally.read) == (1, 1, 0)
    assert told(con, "a") == ("ignored", code(words.files.EMPTY_FILE), (0, 0, 0, 0), None)
