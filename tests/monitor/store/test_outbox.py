from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import duckdb
import pytest

from monitor.reasons import Why
from monitor.store import outbox
from monitor.store.database import CONFIG, migrate
from monitor.store.outbox import AfterTry, Draft, OutboxRow
from rules.findings import Severity

NOW = datetime(2026, 10, 9, 12, tzinfo=UTC)


@pytest.fixture
def con() -> duckdb.DuckDBPyConnection:
    connection = duckdb.connect(config=CONFIG)
    migrate(connection)
    return connection


def put(con: duckdb.DuckDBPyConnection, state: str = "waiting", kind: str = "alert", contact: str = "coach") -> str:
    told = () if kind == "daily" else ("3f9a1c07be",)
    draft = Draft(Severity.STOP, "[]", told, state, "first", None)
    return outbox.insert(
        con, draft, athlete="runa", contact=contact, channel=1, channel_shown="json://h", kind=kind, created_at=NOW
    ).id


def test_a_row_that_is_queued_waits_untouched(con: duckdb.DuckDBPyConnection) -> None:
    row_id = put(con)
    (row,) = outbox.every(con)
    assert row.id == row_id
    assert (row.severity, row.findings, row.state, row.tries) == (Severity.STOP, ("3f9a1c07be",), "waiting", 0)
    assert (row.created_at, row.sent_at, row.last_error, row.untouched) == (NOW, None, None, True)


def test_the_listing_is_newest_first_and_the_order_of_sending_oldest_first(con: duckdb.DuckDBPyConnection) -> None:
    ids = [put(con) for _ in range(3)]
    assert [row.id for row in outbox.every(con)] == ids[::-1]
    assert [row.id for row in outbox.unsent(con)] == ids


def test_a_claim_counts_a_try_and_remembers_the_first(con: duckdb.DuckDBPyConnection) -> None:
    row_id = put(con)
    for minutes in (0, 5):
        wall = NOW + timedelta(minutes=minutes)
        outbox.claim(con, row_id, "h:1", wall, wall + timedelta(seconds=15))
    (row,) = outbox.unsent(con)
    assert (row.tries, row.first_try_wall, row.claimed_by) == (2, NOW, "h:1")
    assert row.claimed_until_wall == NOW + timedelta(minutes=5, seconds=15)
    assert not row.untouched


def test_a_failed_try_keeps_the_row_waiting_and_the_last_one_gives_it_up(con: duckdb.DuckDBPyConnection) -> None:
    row_id = put(con)
    outbox.claim(con, row_id, "h:1", NOW, NOW)
    outbox.mark_tried(con, row_id, "answered 500", AfterTry(NOW + timedelta(minutes=1)))
    (row,) = outbox.unsent(con)
    assert (row.state, row.last_error, row.claimed_by) == ("waiting", "answered 500", None)
    assert (row.refused, row.perhaps, row.untouched) == (False, 0, False)
    assert row.next_try_wall == NOW + timedelta(minutes=1)
    outbox.mark_tried(con, row_id, "answered 500", AfterTry(None, given_up=Why.GIVEN_UP))
    assert outbox.unsent(con) == []
    (row,) = outbox.every(con)
    assert (row.state, row.reason, row.next_try_wall) == ("failed", Why.GIVEN_UP, None)


def test_a_sent_row_forgets_its_errors_and_claims(con: duckdb.DuckDBPyConnection) -> None:
    row_id = put(con)
    outbox.claim(con, row_id, "h:1", NOW, NOW)
    outbox.mark_tried(con, row_id, "answered 500", AfterTry(NOW))
    outbox.claim(con, row_id, "h:1", NOW, NOW)
    outbox.mark_sent(con, row_id, NOW, NOW, journaled=False)
    (row,) = outbox.every(con)
    assert (row.state, row.tries, row.last_error, row.sent_at) == ("sent", 2, None, NOW)
    assert [owed.id for owed in outbox.owed_to_journal(con)] == [row_id]
    outbox.mark_journaled(con, row_id)
    assert outbox.owed_to_journal(con) == []


def test_only_findings_that_nobody_has_read_may_be_rewritten(con: duckdb.DuckDBPyConnection) -> None:
    fresh, tried, sent, given_up = (put(con) for _ in range(4))
    put(con, kind="daily")
    outbox.claim(con, tried, "h:1", NOW, NOW)
    outbox.mark_sent(con, sent, NOW, NOW, journaled=True)
    outbox.set_state(con, given_up, "failed", Why.GIVEN_UP)
    assert [row.id for row in outbox.unread(con, "runa")] == [fresh, given_up]
    assert outbox.unread(con, "olav") == []


def test_the_last_alert_of_each_group_within_a_span(con: duckdb.DuckDBPyConnection) -> None:
    for contact, seconds in (("coach", 10), ("coach", 20), ("runa", 50), ("mum", -5)):
        outbox.mark_sent(con, put(con, contact=contact), NOW, NOW - timedelta(seconds=seconds), journaled=True)
    found = outbox.last_sent(con, NOW - timedelta(seconds=30), NOW)
    assert found == {("runa", "coach", 1): outbox.LastSent(NOW - timedelta(seconds=10), Severity.STOP)}


def test_a_retry_leaves_what_is_sent_held_over_or_not_yet_tried_alone(con: duckdb.DuckDBPyConnection) -> None:
    put(con)
    put(con, "held")
    outbox.mark_sent(con, put(con), NOW, NOW, journaled=True)
    assert outbox.retry(con, NOW) == 0
    assert outbox.counts(con) == {"waiting": 1, "held": 1, "sent": 1}
    put(con, "failed")
    over = put(con)
    outbox.set_state(con, over, "failed", Why.DAY_OVER)
    assert outbox.retry(con, NOW) == 1
    assert outbox.counts(con) == {"waiting": 2, "held": 1, "sent": 1, "failed": 1}


def test_a_retry_ends_the_pause_of_what_was_tried_before_the_quiet_hours_that_hold_it(
    con: duckdb.DuckDBPyConnection,
) -> None:
    row_id = put(con)
    outbox.claim(con, row_id, "h:1", NOW, NOW)
    outbox.mark_tried(con, row_id, "answered 500", AfterTry(NOW + timedelta(minutes=1)))
    outbox.set_state(con, row_id, "held", Why.QUIET_HOURS, NOW + timedelta(hours=8))
    outbox.retry(con, NOW)
    (row,) = outbox.unsent(con)
    assert (row.state, row.not_before, row.next_try_wall) == ("held", NOW + timedelta(hours=8), None)


def test_text_of_any_kind_is_kept_as_it_is(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    nasty = "it's; DROP TABLE outbox -- \u0000 ✓"
    draft = Draft(Severity.NOTE, "[]", (), "waiting", "first", None)
    row_id = outbox.insert(
        con, draft, athlete="", contact="c", channel=1, channel_shown="…", kind="notice", created_at=NOW, once=nasty
    ).id
    outbox.put_into_words(con, row_id, nasty, nasty)
    (row,) = outbox.unsent(con)
    assert (row.title, row.body, row.once) == (nasty, nasty, nasty)


def test_a_message_to_several_addresses_becomes_a_row_for_each(con: duckdb.DuckDBPyConnection) -> None:
    put(con)
    [row] = outbox.every(con)
    made = outbox.split(con, row, ["a@example.org", "b@example.org", "c@example.org"])
    assert [(one.recipient, one.recipient_number) for one in made] == [
        ("a@example.org", 1), ("b@example.org", 2), ("c@example.org", 3),
    ]  # fmt: skip
    stored = {one.id: one for one in outbox.every(con)}
    assert [stored[one.id].recipient for one in made] == ["a@example.org", "b@example.org", "c@example.org"]
    assert [stored[one.id].recipient_number for one in made] == [1, 2, 3]
    assert made[0].id == row.id
    assert {len(one.id) for one in made} == {12}


@pytest.mark.parametrize(("awake", "kept"), [({}, 0.0), ({"awake_s": 7.5}, 7.5)])
def test_the_time_awake_over_all_tries_is_kept_with_the_claim(
    con: duckdb.DuckDBPyConnection, awake: dict[str, float], kept: float
) -> None:
    row_id = put(con)
    outbox.claim(con, row_id, "h:1", NOW, NOW + timedelta(seconds=15), **awake)
    [row] = outbox.unsent(con)
    assert row.awake_s == kept


def test_a_new_row_has_neither_tries_nor_a_recipient_of_its_own(con: duckdb.DuckDBPyConnection) -> None:
    row_id = put(con)
    [row] = outbox.every(con)
    assert (len(row_id), row.tries, row.perhaps, row.refused, row.journaled) == (12, 0, 0, False, False)
    assert (row.awake_s, row.recipient, row.recipient_number, row.tried_wall) == (0.0, "", 0, None)
    bare = replace(row, **{name: default_of(name) for name in ("awake_s", "perhaps", "refused", "recipient_number")})
    assert bare == row


def default_of(name: str) -> object:
    return next(one.default for one in fields(OutboxRow) if one.name == name)


def test_what_an_earlier_store_sent_stands_there_as_sent_once(con: duckdb.DuckDBPyConnection) -> None:
    for _ in range(2):
        outbox.restore(
            con, "3f9a1c07be11", athlete="runa", contact="coach", channel=1, kind="alert", severity=Severity.STOP,
            findings=["aa11111111"], rules=["no_running"], once="x", at=NOW,
        )  # fmt: skip
    [row] = outbox.every(con)
    assert (row.state, row.tries, row.journaled, row.title) == ("sent", 1, True, "no_running")
    assert (row.created_at, row.sent_at, row.sent_wall, row.once) == (NOW, NOW, NOW, "x")
    assert outbox.unsent(con) == []
    assert outbox.owed_to_journal(con) == []


def test_a_message_about_no_rule_is_restored_under_what_it_was(con: duckdb.DuckDBPyConnection) -> None:
    outbox.restore(
        con, "3f9a1c07be11", athlete="runa", contact="coach", channel=1, kind="daily", severity=Severity.NOTE,
        findings=[], rules=[], once=None, at=NOW,
    )  # fmt: skip
    assert [row.title for row in outbox.every(con)] == ["daily"]


def test_a_claimed_row_is_not_untouched(con: duckdb.DuckDBPyConnection) -> None:
    put(con)
    [row] = outbox.every(con)
    assert not replace(row, claimed_by="h:1").untouched
    assert not replace(row, tries=1).untouched
