"""The outbox: one row a message and channel, with its state, its tries and why it stands as it does."""

from __future__ import annotations

import json
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime
from typing import Any

import duckdb

from monitor.reasons import Why
from monitor.store import decisions
from monitor.store.encoding import from_store, to_store, to_store_or_none
from rules.findings import Severity


@dataclass(frozen=True, slots=True)
class OutboxRow:
    """One message to one channel. `*_wall` is real time; the other moments are those of judging."""

    id: str
    number: int
    athlete: str
    contact: str
    channel: int
    channel_shown: str
    kind: str
    severity: Severity
    items: str
    findings: tuple[str, ...]
    once: str | None
    title: str
    body: str
    state: str
    reason: str
    created_at: datetime
    not_before: datetime | None
    sent_at: datetime | None
    tries: int
    last_error: str | None
    first_try_wall: datetime | None
    next_try_wall: datetime | None
    claimed_by: str | None
    claimed_until_wall: datetime | None
    sent_wall: datetime | None
    journaled: bool
    tried_wall: datetime | None = None  # the last try
    awake_s: float = 0.0  # awake between the tries
    perhaps: int = 0  # tries that may have arrived
    refused: bool = False  # for good; it waits alone
    recipient: str = ""  # a mark, where the address has several
    recipient_number: int = 0

    @property
    def line(self) -> tuple[str, int]:
        """The channel in whose order it goes."""
        return self.contact, self.channel

    @property
    def group(self) -> tuple[str, str, int]:
        """What may be gathered into one message."""
        return self.athlete, self.contact, self.channel

    @property
    def untouched(self) -> bool:
        """Never tried, so that nobody can have read it yet."""
        return self.tries == 0 and self.claimed_by is None


COLUMNS = ", ".join(field.name for field in fields(OutboxRow))
"""Of the table, as of the row: a column is added in a migration and in `OutboxRow`."""


@dataclass(frozen=True, slots=True)
class AfterTry:
    """What a failed try leaves: when the next one is, None to give up and why; refused for good; perhaps arrived."""

    next_try: datetime | None
    refused: bool = False
    perhaps: bool = False
    given_up: str = ""


@dataclass(frozen=True, slots=True)
class Draft:
    """The part of a row that changes while nobody has read it; it has no words before it is sent."""

    severity: Severity
    items: str
    findings: tuple[str, ...]
    state: str
    reason: str
    not_before: datetime | None = None


def insert(
    con: duckdb.DuckDBPyConnection,
    draft: Draft,
    *,
    athlete: str,
    contact: str,
    channel: int,
    channel_shown: str,
    kind: str,
    created_at: datetime,
    once: str | None = None,
) -> OutboxRow:
    """Queue a message behind all others of its channel."""
    named = {
        "id": uuid.uuid4().hex[:12], "athlete": athlete, "contact": contact, "channel": channel,
        "channel_shown": channel_shown, "kind": kind, "created_at": to_store(created_at), "once": once,
    }  # fmt: skip
    return _insert(con, {**_columns(draft), **named})


def restore(
    con: duckdb.DuckDBPyConnection,
    row_id: str,
    *,
    athlete: str,
    contact: str,
    channel: int,
    kind: str,
    severity: Severity,
    findings: Sequence[str],
    rules: Sequence[str],
    once: str | None,
    at: datetime,
) -> None:
    """A message that an earlier store sent, as the journal knows it: what it was about and not its words."""
    if con.execute("SELECT 1 FROM outbox WHERE id = ?", [row_id]).fetchone():
        return
    told = Draft(severity, "[]", tuple(findings), "sent", Why.SENT_EARLIER)
    moment = to_store(at)
    named = {
        "id": row_id, "athlete": athlete, "contact": contact, "channel": channel, "channel_shown": "", "kind": kind,
        "once": once, "title": ", ".join(rules) or kind, "created_at": moment, "sent_at": moment, "sent_wall": moment,
        "tries": 1, "journaled": True,
    }  # fmt: skip
    _insert(con, {**_columns(told), **named})


def _columns(draft: Draft) -> dict[str, object]:
    return {
        "severity": str(draft.severity), "items": draft.items, "findings": json.dumps(draft.findings),
        "state": draft.state, "reason": draft.reason, "not_before": to_store_or_none(draft.not_before),
    }  # fmt: skip


def _insert(con: duckdb.DuckDBPyConnection, values: dict[str, object]) -> OutboxRow:
    """A new row, the last of its channel; what is not named is as the table has it."""
    given = {"title": "", "body": "", **values}
    made = con.execute(
        f"INSERT INTO outbox (number, {', '.join(given)}) "
        f"VALUES (nextval('outbox_number'), {', '.join('?' for _ in given)}) RETURNING {COLUMNS}",
        list(given.values()),
    ).fetchone()
    assert made is not None
    return _row(made)


def rewrite(con: duckdb.DuckDBPyConnection, row_id: str, draft: Draft) -> None:
    """Other content for a row that nobody has read."""
    columns = _columns(draft)
    con.execute(f"UPDATE outbox SET {' = ?, '.join(columns)} = ? WHERE id = ?", [*columns.values(), row_id])


def put_into_words(con: duckdb.DuckDBPyConnection, row_id: str, title: str, body: str) -> None:
    """The words in which a row goes out now; kept as what was sent, and made anew by the next try."""
    con.execute("UPDATE outbox SET title = ?, body = ? WHERE id = ?", [title, body, row_id])


def drop(con: duckdb.DuckDBPyConnection, row_id: str) -> None:
    """Take out a row that nobody has read: withdrawn, or gathered into another."""
    con.execute("DELETE FROM outbox WHERE id = ?", [row_id])


def unsent(con: duckdb.DuckDBPyConnection) -> list[OutboxRow]:
    """Rows waiting or held, in order."""
    return _rows(con, "state IN ('waiting', 'held') ORDER BY number")


def unread(con: duckdb.DuckDBPyConnection, athlete: str) -> list[OutboxRow]:
    """Rows with findings of an athlete that nobody can have read yet, in order; those given up too."""
    return _rows(
        con,
        "athlete = ? AND findings <> '[]' AND "
        "((state IN ('waiting', 'held') AND tries = 0 AND claimed_by IS NULL) OR state = 'failed') ORDER BY number",
        [athlete],
    )


def read_findings(con: duckdb.DuckDBPyConnection, athlete: str, contact: str) -> list[tuple[int, str]]:
    """Number and ids of findings of the rows that may have been read, in order: sent, or tried."""
    return con.execute(
        "SELECT number, findings FROM outbox WHERE athlete = ? AND contact = ? AND items <> '[]' AND findings <> '[]' "
        "AND (state = 'sent' OR (state IN ('waiting', 'held') AND tries > 0)) ORDER BY number",
        [athlete, contact],
    ).fetchall()


def items_of(con: duckdb.DuckDBPyConnection, numbers: Sequence[int]) -> list[tuple[int, str]]:
    """Channel and items of some rows, in order."""
    return con.execute(
        "SELECT channel, items FROM outbox WHERE list_contains(?, number) ORDER BY number", [list(numbers)]
    ).fetchall()


def owed_to_journal(con: duckdb.DuckDBPyConnection) -> list[OutboxRow]:
    """Rows sent that the journal could not take at the time."""
    return _rows(con, "state = 'sent' AND NOT journaled ORDER BY number")


def _rows(con: duckdb.DuckDBPyConnection, where: str, parameters: list[Any] | None = None) -> list[OutboxRow]:
    found = con.execute(f"SELECT {COLUMNS} FROM outbox WHERE {where}", parameters or []).fetchall()
    return [_row(values) for values in found]


def _row(values: tuple[Any, ...]) -> OutboxRow:
    named = dict(zip(COLUMNS.split(", "), values, strict=True))
    named["severity"] = Severity.of(named["severity"])
    named["findings"] = tuple(json.loads(named["findings"]))
    for key, value in named.items():
        if isinstance(value, datetime):
            named[key] = from_store(value)
    return OutboxRow(**named)


def set_state(
    con: duckdb.DuckDBPyConnection, row_id: str, state: str, reason: str, not_before: datetime | None = None
) -> None:
    con.execute(
        "UPDATE outbox SET state = ?, reason = ?, not_before = ? WHERE id = ?",
        [state, reason, to_store_or_none(not_before), row_id],
    )


def claim(
    con: duckdb.DuckDBPyConnection, row_id: str, by: str, wall: datetime, until: datetime, awake_s: float = 0.0
) -> None:
    """Take a row for sending; nobody else sends it before `until`. `awake_s` is the time awake over all its tries."""
    con.execute(
        "UPDATE outbox SET claimed_by = ?, claimed_until_wall = ?, tries = tries + 1, tried_wall = ?, awake_s = ?, "
        "first_try_wall = coalesce(first_try_wall, ?) WHERE id = ?",
        [by, to_store(until), to_store(wall), awake_s, to_store(wall), row_id],
    )


def split(con: duckdb.DuckDBPyConnection, row: OutboxRow, recipients: Sequence[str]) -> list[OutboxRow]:
    """One row for each recipient of an address, in the place of one for all."""
    con.execute("UPDATE outbox SET recipient = ?, recipient_number = 1 WHERE id = ?", [recipients[0], row.id])
    made = [replace(row, recipient=recipients[0], recipient_number=1)]
    for number, recipient in enumerate(recipients[1:], start=2):
        row_id = uuid.uuid4().hex[:12]
        con.execute(
            f"INSERT INTO outbox ({COLUMNS}) SELECT * REPLACE "
            f"($id AS id, $recipient AS recipient, $number AS recipient_number, NULL AS once) "
            f"FROM (SELECT {COLUMNS} FROM outbox WHERE id = $of)",
            {"id": row_id, "recipient": recipient, "number": number, "of": row.id},
        )
        made.append(replace(row, id=row_id, recipient=recipient, recipient_number=number, once=None))
    return made


def mark_sent(con: duckdb.DuckDBPyConnection, row_id: str, now: datetime, wall: datetime, *, journaled: bool) -> None:
    con.execute(
        "UPDATE outbox SET state = 'sent', sent_at = ?, sent_wall = ?, journaled = ?, last_error = NULL, "
        "claimed_by = NULL, claimed_until_wall = NULL, next_try_wall = NULL WHERE id = ?",
        [to_store(now), to_store(wall), journaled, row_id],
    )


def mark_tried(con: duckdb.DuckDBPyConnection, row_id: str, error: str, after: AfterTry) -> None:
    """A try that failed."""
    con.execute(
        "UPDATE outbox SET last_error = $error, next_try_wall = $next, claimed_by = NULL, claimed_until_wall = NULL, "
        "refused = $refused, perhaps = perhaps + $perhaps, "
        "state = CASE WHEN $next IS NULL THEN 'failed' ELSE state END, "
        "reason = CASE WHEN $next IS NULL THEN $reason ELSE reason END WHERE id = $id",
        {
            "error": error,
            "next": to_store_or_none(after.next_try),
            "refused": after.refused,
            "perhaps": int(after.perhaps),
            "reason": after.given_up,
            "id": row_id,
        },
    )


def free(con: duckdb.DuckDBPyConnection, row_id: str, by: str | None = None) -> None:
    """Void the claim of a process that is gone, or (`by`) one's own."""
    con.execute(
        "UPDATE outbox SET claimed_by = NULL, claimed_until_wall = NULL"
        " WHERE id = $id AND ($by IS NULL OR claimed_by = $by)",
        {"id": row_id, "by": by},
    )


def mark_journaled(con: duckdb.DuckDBPyConnection, row_id: str) -> None:
    con.execute("UPDATE outbox SET journaled = true WHERE id = ?", [row_id])


@dataclass(frozen=True, slots=True)
class LastSent:
    """When the last alert went to a channel within a span, and the gravest that went there in it."""

    at: datetime
    gravest: Severity


def last_sent(con: duckdb.DuckDBPyConnection, since: datetime, until: datetime) -> dict[tuple[str, str, int], LastSent]:
    """(athlete, contact, channel) -> what went there, for those where an alert went within the span."""
    found = con.execute(
        "SELECT athlete, contact, channel, max(sent_wall), list(DISTINCT severity) FROM outbox "
        "WHERE kind = 'alert' AND state = 'sent' AND sent_wall > ? AND sent_wall <= ? GROUP BY ALL",
        [to_store(since), to_store(until)],
    ).fetchall()
    return {
        (athlete, contact, channel): LastSent(from_store(at), max(Severity.of(word) for word in text))
        for athlete, contact, channel, at, text in found
    }


def retry(con: duckdb.DuckDBPyConnection, now: datetime) -> int:
    """Try all that wait for their pause, or were given up, at once and for another day; how many."""
    given_up = "(state = 'failed' AND reason <> $over)"
    [(count,)] = con.execute(
        f"SELECT count(*) FROM outbox WHERE {given_up} OR (state = 'waiting' AND next_try_wall > $now)",
        {"over": Why.DAY_OVER, "now": to_store(now)},
    ).fetchall()
    con.execute(
        "UPDATE outbox SET reason = CASE WHEN state = 'failed' THEN $again ELSE reason END, "
        "state = 'waiting', next_try_wall = NULL, first_try_wall = NULL, awake_s = 0, perhaps = 0, refused = false "
        f"WHERE {given_up} OR (state = 'waiting' AND next_try_wall IS NOT NULL)",
        {"over": Why.DAY_OVER, "again": Why.TRIED_AGAIN},
    )
    con.execute("UPDATE outbox SET next_try_wall = NULL WHERE state = 'held'")  # tried before the quiet hours began
    decisions.end_all(con)
    return int(count)


def counts(con: duckdb.DuckDBPyConnection) -> dict[str, int]:
    """State -> how many rows."""
    return dict(con.execute("SELECT state, count(*) FROM outbox GROUP BY state").fetchall())


def every(con: duckdb.DuckDBPyConnection) -> list[OutboxRow]:
    """Every row, newest first."""
    return _rows(con, "true ORDER BY number DESC")


def not_sent(con: duckdb.DuckDBPyConnection) -> list[OutboxRow]:
    """What waits, is held or was given up, newest first."""
    return _rows(con, "state <> 'sent' ORDER BY number DESC")
