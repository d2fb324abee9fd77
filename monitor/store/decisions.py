"""What was decided about each finding for each contact, and what is told a single time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

import duckdb

from monitor.reasons import Why
from monitor.store.encoding import from_store, to_store
from rules.findings import Finding, Severity

# Channels that failed as a whole: how often since they last took a message, and until when they are left alone.

Line = tuple[str, int]
"""Contact and position of the channel."""


@dataclass(frozen=True, slots=True)
class ChannelPause:
    """`until_wall` is real time; `asked` when the service itself named it."""

    failures: int
    until_wall: datetime
    asked: bool = False


def load(con: duckdb.DuckDBPyConnection) -> dict[Line, ChannelPause]:
    found = con.execute("SELECT contact, channel, failures, until_wall, asked FROM channel_pause").fetchall()
    return {
        (contact, channel): ChannelPause(failures, from_store(until), asked)
        for contact, channel, failures, until, asked in found
    }


def put(con: duckdb.DuckDBPyConnection, line: Line, pause: ChannelPause) -> None:
    con.execute(
        "INSERT OR REPLACE INTO channel_pause VALUES (?, ?, ?, ?, ?)",
        [*line, pause.failures, to_store(pause.until_wall), pause.asked],
    )


def end(con: duckdb.DuckDBPyConnection, line: Line) -> None:
    """It answers again."""
    con.execute("DELETE FROM channel_pause WHERE contact = ? AND channel = ?", list(line))


def end_all(con: duckdb.DuckDBPyConnection) -> None:
    con.execute("DELETE FROM channel_pause")


@dataclass(frozen=True, slots=True)
class AlertDecision:
    """`told` is the severity told, 0 when it was taken back, None when it was not to be told."""

    athlete: str
    contact: str
    finding: str
    rule: str
    subject_kind: str
    subject_start: datetime
    subject_end: datetime
    severity: Severity
    told: int | None
    reason: str
    at: datetime | None = None  # None: just now


def decision(finding: Finding, contact: str, told: int | None, reason: str) -> AlertDecision:
    return AlertDecision(
        finding.athlete, contact, finding.id, finding.rule, finding.subject_kind, finding.subject_start,
        finding.subject_end, finding.severity, told, reason,
    )  # fmt: skip


class ToldBefore:
    """What the contacts of one athlete have been told, newest last."""

    def __init__(self, decisions: Sequence[AlertDecision]) -> None:
        self._by_rule: defaultdict[tuple[str, str], list[AlertDecision]] = defaultdict(list)
        self._of_sessions: defaultdict[str, list[AlertDecision]] = defaultdict(list)
        for entry in decisions:
            self.add(entry)

    def add(self, made: AlertDecision) -> None:
        if made.told is None:
            return
        self._by_rule[made.contact, made.rule].append(made)
        if made.told and made.subject_kind == "session":
            self._of_sessions[made.contact].append(made)

    def copy(self) -> ToldBefore:
        copied = ToldBefore(())
        copied._by_rule = defaultdict(list, {key: list(kept) for key, kept in self._by_rule.items()})
        copied._of_sessions = defaultdict(list, {key: list(kept) for key, kept in self._of_sessions.items()})
        return copied

    def standing(self, contact: str, finding: Finding) -> int | None:
        """The severity told last of the same rule on the same stretch of time; 0 if taken back, None if never told."""
        return next((earlier.told for earlier in self._same(contact, finding)), None)

    def sent_before(self, contact: str, finding: Finding) -> int:
        """The severity that an earlier store sent last, 0 for none."""
        return next(
            (earlier.told or 0 for earlier in self._same(contact, finding) if earlier.reason == Why.SENT_BEFORE), 0
        )

    def ids(self, contact: str, finding: Finding) -> set[str]:
        """Ids under which the same was told."""
        return {earlier.finding for earlier in self._same(contact, finding)}

    def _same(self, contact: str, finding: Finding) -> Iterator[AlertDecision]:
        """What was told of the same rule on the same stretch of time, newest first."""
        for earlier in reversed(self._by_rule.get((contact, finding.rule), ())):
            if _same_subject(earlier, finding):
                yield earlier

    def knows_session(self, contact: str, finding: Finding) -> bool:
        """Whether anything was told of the session that the finding is about."""
        return finding.subject_kind == "session" and any(
            _same_subject(earlier, finding) for earlier in self._of_sessions.get(contact, ())
        )


def _same_subject(one: AlertDecision, finding: Finding) -> bool:
    """Sessions that overlap are one. Days are one when more than half of them is: in another timezone a day begins at
    another hour, and then its neighbour overlaps it too."""
    if one.subject_kind != finding.subject_kind:
        return False
    if one.finding == finding.id or one.subject_start == finding.subject_start:
        return True
    if finding.subject_kind == "silence":  # what was told of one after this one began was told of this one
        return one.at is not None and datetime.fromisoformat(finding.evidence["since"]) <= one.at
    begin, end = max(one.subject_start, finding.subject_start), min(one.subject_end, finding.subject_end)
    if finding.subject_kind == "session":
        return begin < end
    return (end - begin) * 2 > min(one.subject_end - one.subject_start, finding.subject_end - finding.subject_start)


def told_of(con: duckdb.DuckDBPyConnection, athlete: str) -> ToldBefore:
    rows = con.execute(
        "SELECT athlete, contact, finding, rule, subject_kind, subject_start, subject_end, severity, told, reason,"
        " decided_at FROM decision WHERE athlete = ? AND told IS NOT NULL ORDER BY number",
        [athlete],
    ).fetchall()
    return ToldBefore([_decision(*row) for row in rows])


def _decision(
    athlete: str, contact: str, finding: str, rule: str, kind: str, start: datetime, end: datetime, severity: str,
    told: int | None, reason: str, at: datetime,
) -> AlertDecision:  # fmt: skip
    return AlertDecision(
        athlete, contact, finding, rule, kind, from_store(start), from_store(end), Severity.of(severity), told, reason,
        from_store(at),
    )  # fmt: skip


def record(con: duckdb.DuckDBPyConnection, made: Sequence[AlertDecision], now: datetime) -> None:
    """Store decisions in their order, in bulk."""
    if not made:
        return
    columns = [
        [row.athlete for row in made], [row.contact for row in made], [row.finding for row in made],
        [row.rule for row in made], [row.subject_kind for row in made], [to_store(row.subject_start) for row in made],
        [to_store(row.subject_end) for row in made], [str(row.severity) for row in made], [row.told for row in made],
        [row.reason for row in made],
    ]  # fmt: skip
    kinds = ("VARCHAR",) * 5 + ("TIMESTAMP",) * 2 + ("VARCHAR", "INTEGER", "VARCHAR")
    unnested = ", ".join(f"unnest(?::{kind}[])" for kind in kinds)
    names = "athlete, contact, finding, rule, subject_kind, subject_start, subject_end, severity, told, reason"
    con.execute(
        f"INSERT INTO decision (number, {names}, decided_at) "
        f"SELECT nextval('decision_number'), *, ? FROM (SELECT {unnested})",
        [to_store(now), *columns],
    )


def withheld(con: duckdb.DuckDBPyConnection, athlete: str, contact: str) -> int:
    """Findings that were on record only because they came late."""
    [(count,)] = con.execute(
        "SELECT count(DISTINCT finding) FROM decision WHERE athlete = ? AND contact = ? AND reason = ?",
        [athlete, contact, Why.LATE],
    ).fetchall()
    return int(count)


def reasons(con: duckdb.DuckDBPyConnection, finding_id: str) -> list[dict[str, str]]:
    """What was decided about a finding, contact by contact, oldest first."""
    rows = con.execute(
        "SELECT contact, severity, reason, decided_at FROM decision WHERE finding = ? ORDER BY number", [finding_id]
    ).fetchall()
    return [
        {"contact": contact, "severity": severity, "reason": reason, "at": from_store(at).isoformat()}
        for contact, severity, reason, at in rows
    ]


def first_time(con: duckdb.DuckDBPyConnection, key: str, now: datetime, *, owed: bool = False) -> bool:
    """Note that something is told; False when that was noted before. `owed`: the journal learns of it at once."""
    noted = con.execute(
        "INSERT INTO told_once VALUES (?, ?, false, ?) ON CONFLICT DO NOTHING RETURNING 1", [key, to_store(now), owed]
    )
    return noted.fetchone() is not None


def noted_at(con: duckdb.DuckDBPyConnection, keys: Sequence[str]) -> dict[str, datetime]:
    """Key -> when it was noted; those that were not are left out."""
    rows = con.execute("SELECT key, noted_at FROM told_once WHERE list_contains(?, key)", [list(keys)]).fetchall()
    return {key: from_store(at) for key, at in rows}


def any_told(con: duckdb.DuckDBPyConnection, prefix: str, *, replayed_only: bool = False) -> bool:
    """Whether a key that begins so is noted."""
    found = con.execute(
        "SELECT 1 FROM told_once WHERE starts_with(key, ?) AND (replayed OR NOT ?) LIMIT 1", [prefix, replayed_only]
    ).fetchone()
    return found is not None


def keys_begun(con: duckdb.DuckDBPyConnection, prefix: str) -> set[str]:
    """Every noted key that begins so."""
    return {key for (key,) in con.execute("SELECT key FROM told_once WHERE starts_with(key, ?)", [prefix]).fetchall()}


def noted_of(
    con: duckdb.DuckDBPyConnection, kinds: Sequence[str], athletes: Sequence[str] | None = None
) -> dict[str, datetime]:
    """Every noted key `kind:athlete` or `kind:athlete:...` -> when; of all athletes where none are named."""
    if athletes is not None and len(athletes) == 1:
        where = " OR ".join("starts_with(key, ?)" for _ in kinds)
        values: list[object] = [f"{kind}:{athletes[0]}" for kind in kinds]
    else:
        whose = "true" if athletes is None else "list_contains(?, split_part(key, ':', 2))"
        where = f"list_contains(?, split_part(key, ':', 1)) AND {whose}"
        values = [list(kinds)] if athletes is None else [list(kinds), list(athletes)]
    rows = con.execute(f"SELECT key, noted_at FROM told_once WHERE {where}", values).fetchall()
    return {key: from_store(at) for key, at in rows if athletes is None or key.split(":")[1] in athletes}


def keys_since(con: duckdb.DuckDBPyConnection, prefix: str, since: datetime) -> set[str]:
    """Keys that begin so and were noted from a moment on."""
    rows = con.execute(
        "SELECT key FROM told_once WHERE starts_with(key, ?) AND noted_at >= ?", [prefix, to_store(since)]
    ).fetchall()
    return {key for (key,) in rows}


def forget(con: duckdb.DuckDBPyConnection, keys: Iterable[str]) -> None:
    """As if these had never been told: they are told when they come true again."""
    con.execute("DELETE FROM told_once WHERE list_contains(?, key)", [list(keys)])


def keys_owed(con: duckdb.DuckDBPyConnection) -> list[tuple[str, datetime]]:
    """Keys that the journal must still learn, and when they were noted."""
    rows = con.execute("SELECT key, noted_at FROM told_once WHERE owed ORDER BY noted_at, key").fetchall()
    return [(key, from_store(at)) for key, at in rows]


def keys_paid(con: duckdb.DuckDBPyConnection) -> None:
    con.execute("UPDATE told_once SET owed = false WHERE owed")
