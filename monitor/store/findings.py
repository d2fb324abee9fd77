"""Findings that stand, those that were withdrawn, and who has seen them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import duckdb

from monitor.store import encoding
from monitor.store.encoding import from_store, to_store
from monitor.values import Difference
from rules.facts import Hold
from rules.findings import Breach, Finding

# What no file holds: holds and releases, how often calendar entries have changed, and what is still to be judged.


def holds(con: duckdb.DuckDBPyConnection, athletes: Sequence[str]) -> dict[str, list[Hold]]:
    """athlete -> all holds and releases, oldest first."""
    found: dict[str, list[Hold]] = {athlete: [] for athlete in athletes}
    named, values = encoding.among("athlete", athletes)
    for athlete, kind, on, at, days, why, by in con.execute(
        f"SELECT athlete, kind, on_date, held_at, days, why, held_by FROM hold WHERE {named} ORDER BY held_at", values
    ).fetchall():
        found[athlete].append(Hold(kind, on, from_store(at), days, why, by))
    return found


def add_hold(con: duckdb.DuckDBPyConnection, athlete: str, hold: Hold) -> None:
    """Add one; the very same one is not added twice (a rebuild replays the journal)."""
    row = [athlete, hold.kind, hold.on, hold.days, hold.why, hold.by, to_store(hold.at)]
    same = "athlete = ? AND kind = ? AND on_date = ? AND days IS NOT DISTINCT FROM ? AND why = ? AND held_by = ?"
    if con.execute(f"SELECT 1 FROM hold WHERE {same} AND held_at = ?", row).fetchone() is None:
        con.execute("INSERT INTO hold VALUES (?, ?, ?, ?, ?, ?, ?)", row)


@dataclass(frozen=True, slots=True)
class Numbered:
    """What became of one entry of a calendar: how often it has changed, what it last was (a mark of it), and when."""

    sequence: int
    mark: str
    changed_at: datetime


def calendar_numbers(con: duckdb.DuckDBPyConnection, athlete: str) -> dict[str, Numbered]:
    """uid -> what is known of the entry, also of those that no calendar shows any more."""
    rows = con.execute(
        "SELECT uid, sequence, mark, changed_at FROM calendar_entry WHERE athlete = ?", [athlete]
    ).fetchall()
    return {uid: Numbered(sequence, mark, from_store(at)) for uid, sequence, mark, at in rows}


def number_entries(con: duckdb.DuckDBPyConnection, athlete: str, numbers: Mapping[str, Numbered]) -> None:
    """Keep what became of entries. A sequence never falls (a rebuild replays the journal)."""
    known = calendar_numbers(con, athlete)
    risen = {uid: entry for uid, entry in numbers.items() if uid not in known or entry.sequence >= known[uid].sequence}
    rows: list[list[object]] = [
        [athlete, uid, entry.sequence, entry.mark, to_store(entry.changed_at)] for uid, entry in risen.items()
    ]
    encoding.replace(con, "calendar_entry", CALENDAR_ENTRY, rows, key=2)


CALENDAR_ENTRY = {
    "athlete": "VARCHAR", "uid": "VARCHAR", "sequence": "INTEGER", "mark": "VARCHAR", "changed_at": "TIMESTAMP",
}  # fmt: skip


def take_back_holds(con: duckdb.DuckDBPyConnection, athlete: str, by: str, at: datetime) -> date | None:
    """Forget holds and releases that somebody gave at a moment; the first day of them, None where there are none."""
    given = con.execute(
        "DELETE FROM hold WHERE athlete = ? AND held_by = ? AND held_at = ? RETURNING on_date",
        [athlete, by, to_store(at)],
    ).fetchall()
    return min((on for (on,) in given), default=None)


def to_judge(con: duckdb.DuckDBPyConnection) -> dict[str, date]:
    """athlete -> earliest day with facts that no judgement has seen."""
    return dict(con.execute("SELECT athlete, since FROM unjudged").fetchall())


def mark_to_judge(con: duckdb.DuckDBPyConnection, athlete: str, since: date) -> None:
    marked = con.execute(
        "UPDATE unjudged SET since = least(since, ?) WHERE athlete = ? RETURNING 1", [since, athlete]
    ).fetchone()
    if marked is None:
        con.execute("INSERT INTO unjudged VALUES (?, ?)", [athlete, since])


def all_judged(con: duckdb.DuckDBPyConnection, athletes: list[str] | None = None) -> dict[str, tuple[str, datetime]]:
    """athlete -> under what the last judgement was made, and when; of everybody where none are named."""
    named, values = ("true", []) if athletes is None else encoding.among("athlete", athletes)
    rows = con.execute(f"SELECT athlete, fingerprint, judged_at FROM judged WHERE {named}", values).fetchall()
    return {athlete: (under, from_store(at)) for athlete, under, at in rows}


def note_judged(con: duckdb.DuckDBPyConnection, under: Mapping[str, str], now: datetime) -> None:
    """athlete -> under what they have been judged now."""
    con.execute("DELETE FROM unjudged WHERE list_contains(?, athlete)", [list(under)])
    rows = [[athlete, fingerprint, to_store(now)] for athlete, fingerprint in under.items()]
    encoding.replace(con, "judged", JUDGED, rows, key=1)


JUDGED = {"athlete": "VARCHAR", "fingerprint": "VARCHAR", "judged_at": "TIMESTAMP"}


def standing(con: duckdb.DuckDBPyConnection, athlete: str | None = None, since: date = date.min) -> list[Finding]:
    """Findings that stand, newest first."""
    rows = con.execute(
        "SELECT fact FROM finding WHERE withdrawn_at IS NULL AND ($a IS NULL OR athlete = $a) AND date >= $d"
        " ORDER BY date DESC, subject_end DESC, id",
        {"a": athlete, "d": since},
    ).fetchall()
    return [encoding.from_text(Finding, fact) for (fact,) in rows]


FINDING = {
    "id": "VARCHAR", "athlete": "VARCHAR", "rule": "VARCHAR", "severity": "VARCHAR", "date": "DATE",
    "subject_end": "TIMESTAMP", "fact": "VARCHAR", "found_at": "TIMESTAMP", "changed_at": "TIMESTAMP",
}  # fmt: skip


def apply(con: duckdb.DuckDBPyConnection, change: Difference, now: datetime) -> None:
    """Make the store stand as judged."""
    if not change:
        return
    pairs = (*change.worse, *change.changed)
    found_at = _found_at(con, [old.id for old, _ in pairs])
    renamed = [(old, new) for old, new in pairs if old.id != new.id]
    ids = {"id": "VARCHAR", "now_id": "VARCHAR"}
    if renamed:
        places = encoding.columns([[old.id, new.id] for old, new in renamed])
        new = f"FROM ({encoding.unnested(ids, first=1)}) AS new"
        con.execute(
            f"UPDATE finding SET withdrawn_at = $3, renamed_to = new.now_id {new} WHERE finding.id = new.id",
            [*places, to_store(now)],
        )
        now_id = {old.id: new.id for old, new in renamed}
        marks = con.execute("DELETE FROM mark WHERE list_contains(?, finding) RETURNING *", [list(now_id)]).fetchall()
        for finding, *told in marks:
            con.execute("INSERT INTO mark VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING", [now_id[finding], *told])
    standing = [*change.fresh, *(new for _, new in pairs)]
    con.execute("DELETE FROM finding WHERE list_contains(?, id)", [[new.id for new in standing]])
    first = {new.id: found_at.get(old.id, to_store(now)) for old, new in pairs}
    rows: list[list[object]] = [
        [new.id, new.athlete, new.rule, str(new.severity), new.date, to_store(new.subject_end), encoding.to_text(new),
         first.get(new.id, to_store(now)), to_store(now)]
        for new in {new.id: new for new in standing}.values()
    ]  # fmt: skip
    encoding.insert(con, "finding", FINDING, rows)
    if change.withdrawn:
        con.execute(
            "UPDATE finding SET withdrawn_at = ? WHERE list_contains(?, id)",
            [to_store(now), [old.id for old in change.withdrawn]],
        )


def _found_at(con: duckdb.DuckDBPyConnection, ids: Sequence[str]) -> dict[str, datetime]:
    if not ids:
        return {}
    rows = con.execute("SELECT id, found_at FROM finding WHERE list_contains(?, id)", [list(ids)]).fetchall()
    return dict(rows)


def find(con: duckdb.DuckDBPyConnection, start_of_id: str) -> list[tuple[Finding, datetime | None]]:
    """Findings whose id begins so, with when they were withdrawn; a renamed one is followed to its new id."""
    rows = con.execute(
        "SELECT fact, withdrawn_at, renamed_to FROM finding WHERE starts_with(id, ?) ORDER BY id", [start_of_id.lower()]
    ).fetchall()
    found: list[tuple[Finding, datetime | None]] = []
    for fact, withdrawn_at, renamed_to in rows:
        if renamed_to:
            found.extend(find(con, renamed_to))
        else:
            found.append((encoding.from_text(Finding, fact), from_store(withdrawn_at) if withdrawn_at else None))
    return found


def marks(con: duckdb.DuckDBPyConnection) -> dict[str, list[dict[str, Any]]]:
    """finding id -> marks, oldest first."""
    found: dict[str, list[dict[str, Any]]] = {}
    for finding, by, note, at in con.execute("SELECT * FROM mark ORDER BY marked_at, marked_by").fetchall():
        found.setdefault(finding, []).append({"by": by, "note": note, "at": from_store(at)})
    return found


def made_at(con: duckdb.DuckDBPyConnection, athletes: Sequence[str] | None = None) -> dict[str, datetime]:
    """When findings that stand were first made or told: a store that was made anew remembers what was told."""
    rows = con.execute(
        "SELECT f.id, least(f.found_at, coalesce(min(d.decided_at), f.found_at)) FROM finding f"
        " LEFT JOIN decision d ON d.finding = f.id WHERE f.withdrawn_at IS NULL"
        " AND ($1 IS NULL OR list_contains($1, f.athlete))"
        " GROUP BY f.id, f.found_at",
        [None if athletes is None else list(athletes)],
    ).fetchall()
    return {finding: from_store(at) for finding, at in rows}


def worse_at(con: duckdb.DuckDBPyConnection) -> dict[str, datetime]:
    """When findings were last told as worse than before."""
    rows = con.execute(
        "SELECT finding, max(decided_at) FROM decision WHERE reason = 'worse' GROUP BY finding"
    ).fetchall()
    return {finding: from_store(at) for finding, at in rows}


def mark(con: duckdb.DuckDBPyConnection, finding_id: str, by: str, note: str, now: datetime) -> None:
    """Note who has seen a finding; the very same is not noted twice (a rebuild replays the journal)."""
    con.execute("INSERT INTO mark VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING", [finding_id, by, note, to_store(now)])


def unmark(con: duckdb.DuckDBPyConnection, finding_ids: Sequence[str], by: str, at: datetime) -> list[str]:
    """Forget the marks that somebody made at a moment, also those of findings renamed since; of which findings."""
    ids = list(finding_ids)
    now = [new for (new,) in con.execute(
        "SELECT renamed_to FROM finding WHERE list_contains(?, id) AND renamed_to IS NOT NULL", [ids]
    ).fetchall()]  # fmt: skip
    gone = con.execute(
        "DELETE FROM mark WHERE list_contains(?, finding) AND marked_by = ? AND marked_at = ? RETURNING finding",
        [[*ids, *now], by, to_store(at)],
    ).fetchall()
    return [finding for (finding,) in gone]


def marked_at(con: duckdb.DuckDBPyConnection, athlete: str, by: str, at: datetime) -> list[str]:
    """Findings of an athlete that somebody marked at a moment."""
    rows = con.execute(
        "SELECT finding FROM mark JOIN finding ON finding.id = mark.finding"
        " WHERE athlete = ? AND marked_by = ? AND marked_at = ? ORDER BY finding",
        [athlete, by, to_store(at)],
    ).fetchall()
    return [finding for (finding,) in rows]


Verdicts = dict[tuple[str, str], str]


def verdicts(con: duckdb.DuckDBPyConnection, athletes: Sequence[str]) -> dict[str, Verdicts]:
    """athlete -> (session key, context) -> what its samples gave under that context, as `breaches_of` reads it."""
    named, values = encoding.among("athlete", athletes)
    rows = con.execute(f"SELECT athlete, key, context, breaches FROM verdict WHERE {named}", values).fetchall()
    found: dict[str, Verdicts] = {athlete: {} for athlete in athletes}
    for athlete, key, context, breaches in rows:
        found[athlete][key, context] = breaches
    return found


def breaches_of(verdict: str) -> tuple[Breach, ...]:
    return encoding.from_text(tuple[Breach, ...], verdict)


def keep_verdict(
    con: duckdb.DuckDBPyConnection, athlete: str, key: str, context: str, breaches: tuple[Breach, ...]
) -> None:
    """Keep the newest verdict on a session; older contexts of it are forgotten, which bounds the table."""
    row = [athlete, key, context, encoding.to_text(breaches, tuple[Breach, ...])]
    encoding.replace(con, "verdict", VERDICT, [row], key=2)


VERDICT = {"athlete": "VARCHAR", "key": "VARCHAR", "context": "VARCHAR", "breaches": "VARCHAR"}
TRACE = {"athlete": "VARCHAR", "key": "VARCHAR", "made_from": "VARCHAR", "packed": "BLOB"}


def keep_traces(con: duckdb.DuckDBPyConnection, athlete: str, lines: Sequence[tuple[str, str, bytes]]) -> None:
    """Keep what the pictures of sessions are drawn from (key, made from, packed), in the place of what was kept."""
    encoding.replace(con, "trace", TRACE, [[athlete, *line] for line in lines], key=2)


def traces_kept(con: duckdb.DuckDBPyConnection, wanted: Sequence[tuple[str, str, str]]) -> list[bytes | None]:
    """What was kept of each session (athlete, key, made from); None where that is nothing, or made from other facts."""
    rows = con.execute(
        "SELECT athlete, key, made_from, packed FROM trace JOIN (SELECT unnest($1) AS athlete, unnest($2) AS key,"
        " unnest($3) AS made_from) AS wanted USING (athlete, key, made_from)",
        [[key[column] for key in wanted] for column in range(3)],
    ).fetchall()
    kept = {(athlete, key, made_from): packed for athlete, key, made_from, packed in rows}
    return [kept.get(key) for key in wanted]
