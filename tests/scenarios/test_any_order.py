"""Whatever happens in whatever order, also to a program with a fault; thousands of steps are run by hand."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import duckdb
import pytest
from hypothesis import HealthCheck, settings

from monitor.alerts import delivery, leases, outbox_editor
from monitor.intake import sessions
from monitor.store import body, findings, outbox
from monitor.store.journal import Journal
from monitor.store.recordings import StoredRecording
from monitor.values import Difference
from tests.scenarios.any_order import AnyOrder
from tests.scenarios.stand_ins import BEGIN

pytestmark = pytest.mark.timeout(900)  # of a machine that may have others to serve
TestAnyOrder = AnyOrder.TestCase
TestAnyOrder.settings = settings(
    max_examples=200, stateful_step_count=6, deadline=None, suppress_health_check=list(HealthCheck)
)

Patch = pytest.MonkeyPatch


def a_finding_is_lost(patch: Patch) -> None:
    """One of those that come after others: a new home, with all files at once, has it."""
    apply = findings.apply

    def losing(con: duckdb.DuckDBPyConnection, change: Difference, now: datetime) -> None:
        apply(con, replace(change, fresh=change.fresh[1:]) if findings.standing(con) else change, now)

    patch.setattr(findings, "apply", losing)


def a_message_is_sent_twice(patch: Patch) -> None:
    send = delivery._send
    patch.setattr(delivery, "_send", lambda *given: send(*given) and send(*given))


def a_message_that_was_refused_counts_as_sent(patch: Patch) -> None:
    def sent(con: duckdb.DuckDBPyConnection, row_id: str, *_: object) -> None:
        con.execute("UPDATE outbox SET state = 'sent', claimed_by = NULL WHERE id = ?", [row_id])

    patch.setattr(outbox, "mark_tried", sent)


def what_was_sent_is_not_in_the_journal(patch: Patch) -> None:
    patch.setattr(Journal, "sent", lambda *_, **__: None)


def a_check_in_is_not_stored(patch: Patch) -> None:
    patch.setattr(body, "insert_checkins", lambda *_: [])


def a_correction_does_not_win(patch: Patch) -> None:
    def all_of(_con: object, _athlete: str, kept: Sequence[StoredRecording], *_: object) -> list[StoredRecording]:
        return list(kept)

    patch.setattr(sessions, "without_corrected", all_of)


def quiet_hours_are_forgotten(patch: Patch) -> None:
    for module in (leases, outbox_editor):
        patch.setattr(module, "quiet_until", lambda *_: None)


FAULTS = (
    a_finding_is_lost,
    a_message_is_sent_twice,
    a_message_that_was_refused_counts_as_sent,
    what_was_sent_is_not_in_the_journal,
    a_check_in_is_not_stored,
    a_correction_does_not_win,
    quiet_hours_are_forgotten,
)


def walk() -> None:
    """A few steps that come by every planted fault, each with what must hold after it."""
    machine = AnyOrder()
    try:
        machine.begin({"early.fit"})
        late = BEGIN + timedelta(hours=11)
        steps: list[Callable[[], object]] = [
            lambda: None,
            lambda: machine.begin_anew(never),
            lambda: (machine.put("ride.fit", 0), machine.put("sick.checkin.json", 0)),
            lambda: machine.put("ride.fit", 1),
            lambda: (setattr(machine.channel, "state", "down"), machine.put("run.fit", 0)),
            lambda: (setattr(machine.channel, "state", "up"), machine.try_again()),
            lambda: (setattr(machine.clock, "moment", late), machine.put("stiff.checkin.json", 0)),
        ]
        for step in steps:
            step()
            machine.scan(never)
            machine.every_fact_of_a_readable_file_is_stored()
            machine.every_finding_is_told_or_waits_with_a_reason()
            machine.nothing_is_told_twice_or_in_quiet_hours()
            machine.what_counts_as_sent_has_arrived()
    finally:
        machine.teardown()


def never(_: object) -> object:
    raise NotImplementedError("this walk draws nothing")


def test_a_walk_without_a_fault_finds_none() -> None:
    walk()


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_that_is_planted_is_found(fault: Callable[[Patch], Any], monkeypatch: Patch) -> None:
    fault(monkeypatch)
    monkeypatch.setattr(AnyOrder, "judged_anew", {})
    with pytest.raises(AssertionError):
        walk()
