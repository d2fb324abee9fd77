"""What contacts have been told: when two findings are the same, and what is noted as told once."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import duckdb
import pytest

from monitor.reasons import Why
from monitor.store import decisions, intake
from monitor.store.database import CONFIG, migrate
from monitor.store.decisions import ChannelPause, ToldBefore, decision
from rules.findings import Finding, Severity
from tests.monitor.alerts.scene import NOON, finding

DAY = timedelta(days=1)


@pytest.fixture(scope="module")
def con() -> duckdb.DuckDBPyConnection:
    connection = duckdb.connect(config=CONFIG)
    migrate(connection)
    return connection


def told(*found: Finding, reason: str = "first") -> ToldBefore:
    return ToldBefore([decision(one, "coach", int(one.severity), reason) for one in found])


RUN = finding(minutes=40)


def moved(minutes: float, lasting: float = 40, kind: str = "session") -> Finding:
    """The same rule on a session that begins so many minutes after the other, under another id."""
    start = RUN.subject_start + timedelta(minutes=minutes)
    return replace(finding(start=start, minutes=lasting, kind=kind), id="other")


@pytest.mark.parametrize(
    ("minutes", "same"), [(-41, False), (-40, False), (-39, True), (0, True), (39, True), (40, False)]
)
def test_sessions_that_share_any_time_are_one(minutes: float, *, same: bool) -> None:
    assert (told(RUN).standing("coach", moved(minutes)) == Severity.STOP) is same
    assert told(RUN).knows_session("coach", moved(minutes)) is same


@pytest.mark.parametrize(
    ("hours", "same"), [(-13, False), (-12, False), (-11, True), (0, True), (11, True), (12, False), (13, False)]
)
def test_days_are_one_when_more_than_half_of_them_is(hours: float, *, same: bool) -> None:
    day = finding(kind="day", minutes=24 * 60)
    other = replace(finding(kind="day", start=day.subject_start + timedelta(hours=hours), minutes=24 * 60), id="other")
    assert (told(day).standing("coach", other) is not None) is same


def test_what_began_with_it_or_has_its_id_is_the_same_however_long() -> None:
    assert told(RUN).standing("coach", moved(0, lasting=0)) == Severity.STOP
    assert told(RUN).standing("coach", replace(moved(600), id=RUN.id)) == Severity.STOP
    assert told(RUN).standing("coach", moved(600)) is None


def test_another_rule_kind_or_contact_is_another() -> None:
    assert told(RUN).standing("coach", replace(RUN, rule="duration_cap")) is None
    assert told(RUN).standing("coach", moved(0, kind="day")) is None
    assert told(RUN).standing("athlete", RUN) is None


@pytest.mark.parametrize(("hours", "same"), [(-1, False), (0, True), (1, True)])
def test_what_was_told_of_a_silence_since_it_began_was_told_of_this_one(hours: float, *, same: bool) -> None:
    silence = finding("gone_quiet", kind="silence", evidence={"since": NOON.isoformat()})
    before = replace(silence, id="other", subject_start=NOON - 9 * DAY, subject_end=NOON - 8 * DAY)
    made = replace(decision(before, "coach", 2, "first"), at=NOON + timedelta(hours=hours))
    assert (ToldBefore([made]).standing("coach", silence) is not None) is same
    assert ToldBefore([replace(made, at=None)]).standing("coach", silence) is None


def test_an_earlier_store_sent_what_its_journal_says_and_nothing_else() -> None:
    assert told(RUN).sent_before("coach", RUN) == 0
    assert told(RUN, reason=Why.SENT_BEFORE).sent_before("coach", RUN) == Severity.STOP
    assert told(RUN, reason=Why.SENT_BEFORE).sent_before("coach", moved(600)) == 0
    taken_back = ToldBefore([decision(RUN, "coach", 0, Why.SENT_BEFORE)])
    assert taken_back.sent_before("coach", RUN) == 0


def test_what_was_told_last_stands_and_all_of_it_is_known_by_its_ids() -> None:
    before = ToldBefore([decision(RUN, "coach", 3, "first"), decision(moved(5), "coach", 0, "taken back")])
    assert before.standing("coach", RUN) == 0
    assert before.ids("coach", RUN) == {RUN.id, "other"}
    copied = before.copy()
    copied.add(decision(RUN, "coach", 2, "again"))
    assert (before.standing("coach", RUN), copied.standing("coach", RUN)) == (0, 2)


def test_what_was_not_to_be_told_or_was_taken_back_makes_no_session_known() -> None:
    silent = ToldBefore([decision(RUN, "coach", None, "note"), decision(RUN, "coach", 0, "taken back")])
    assert silent.standing("coach", RUN) == 0
    assert not silent.knows_session("coach", RUN)
    assert not told(finding(kind="day")).knows_session("coach", finding(kind="day"))


def test_decisions_come_back_as_they_were_made(con: duckdb.DuckDBPyConnection) -> None:
    made = [decision(RUN, "coach", 3, "first"), decision(moved(600), "coach", None, Why.LATE)]
    decisions.record(con, made, NOON)
    assert decisions.told_of(con, "runa").standing("coach", RUN) == Severity.STOP
    assert decisions.withheld(con, "runa", "coach") == 1
    assert decisions.withheld(con, "runa", "athlete") == 0
    assert [one["reason"] for one in decisions.reasons(con, RUN.id)] == ["first"]


def test_what_is_told_once_is_noted_once_and_owed_where_it_is_said_so(con: duckdb.DuckDBPyConnection) -> None:
    assert decisions.first_time(con, "a:1", NOON)
    assert not decisions.first_time(con, "a:1", NOON + DAY)
    assert decisions.first_time(con, "a:2", NOON + DAY, owed=True)
    assert decisions.keys_owed(con) == [("a:2", NOON + DAY)]
    assert decisions.noted_at(con, ["a:1", "a:3"]) == {"a:1": NOON}
    assert decisions.keys_since(con, "a:", NOON + DAY) == {"a:2"}
    assert decisions.any_told(con, "a:")
    assert not decisions.any_told(con, "b:")
    assert not decisions.any_told(con, "a:", replayed_only=True)
    decisions.keys_paid(con)
    assert decisions.keys_owed(con) == []
    decisions.forget(con, ["a:1"])
    assert decisions.keys_begun(con, "a:") == {"a:2"}


def test_the_journal_learns_when_files_last_came(con: duckdb.DuckDBPyConnection) -> None:
    decisions.first_time(con, f"{intake.ARRIVED}:runa:x", NOON)
    intake.note_arrivals(con)
    assert decisions.keys_owed(con) == [(f"{intake.ARRIVED}:runa:{NOON.isoformat()}", NOON)]
    decisions.keys_paid(con)


def test_a_channel_rests_until_it_answers_again(con: duckdb.DuckDBPyConnection) -> None:
    asked, failed = ChannelPause(2, NOON, asked=True), ChannelPause(1, NOON + DAY)
    decisions.put(con, ("coach", 1), asked)
    decisions.put(con, ("coach", 2), failed)
    assert decisions.load(con) == {("coach", 1): asked, ("coach", 2): failed}
    assert not failed.asked
    decisions.end(con, ("coach", 1))
    assert set(decisions.load(con)) == {("coach", 2)}
    decisions.end_all(con)
    assert decisions.load(con) == {}


def test_a_file_brought_nothing_unless_it_is_said() -> None:
    row = intake.LedgerRow("runa", "a.fit", "1", 1, 1, "read")
    assert (row.sessions, row.nights, row.mornings, row.checkins, row.reason) == (0, 0, 0, 0, "")
    assert (row.read_at, row.arrived_at, row.read_under, row.again_on) == (None, None, None, None)


def test_what_is_noted_of_athletes_is_theirs_alone(con: duckdb.DuckDBPyConnection) -> None:
    kept = ("race:bo", "race:bob", "race:bob:x", "rest:bo", "race:al")
    for key in kept:
        decisions.first_time(con, key, NOON)
    for athletes, keys in (
        (["bo"], {"race:bo"}),
        (["bob"], {"race:bob", "race:bob:x"}),
        (["bo", "al"], {"race:bo", "race:al"}),
        (["al", "bo", "bob"], {"race:al", "race:bo", "race:bob", "race:bob:x"}),
        (None, {"race:al", "race:bo", "race:bob", "race:bob:x"}),
    ):
        assert set(decisions.noted_of(con, ["race"], athletes)) == keys
    assert decisions.noted_of(con, ["race", "rest"], ["bo"]) == {"race:bo": NOON, "rest:bo": NOON}
    decisions.forget(con, kept)
