"""The journal: a plain file beside the store that outlives it. Alerts sent, holds, marks; one JSON object a line.

A rebuilt store reads it, so that nothing is told twice and no hold or mark is lost. It holds no name, no words and
no URL. Written by appending and syncing; a line torn by a crash is left where it is and passed over.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

import duckdb

from monitor.errors import WorkFailed
from monitor.store import decisions, findings, history
from monitor.store.decisions import SENT_BEFORE, Decision
from monitor.store.times import to_store
from rules.facts import Hold
from rules.findings import Severity


class Journal:
    def __init__(self, path: Path) -> None:
        self.path = path

    def append(self, entry: Mapping[str, Any]) -> None:
        """Add one line and wait until it is on the disk."""
        line = json.dumps(entry, ensure_ascii=True, separators=(",", ":")).encode() + b"\n"
        try:
            new = not self.path.exists()
            handle = os.open(self.path, os.O_RDWR | os.O_APPEND | os.O_CREAT, 0o600)
            try:
                if _is_torn(handle):
                    line = b"\n" + line
                if os.write(handle, line) != len(line):
                    raise OSError("only a part could be written")
                os.fsync(handle)
            finally:
                os.close(handle)
            if new:
                _sync_folder(self.path.parent)
        except OSError as error:
            why = error.strerror or str(error)
            raise WorkFailed(
                f"{self.path.name}: cannot be written ({why}); free some space or mend its permissions"
            ) from None

    def entries(self) -> Iterator[dict[str, Any]]:
        """Every whole line, oldest first."""
        try:
            with self.path.open("rb") as lines:
                for line in lines:
                    entry = _parsed(line)
                    if entry is not None:
                        yield entry
        except FileNotFoundError:
            return
        except OSError as error:
            raise WorkFailed(f"{self.path.name}: cannot be read ({error.strerror}); mend its permissions") from None

    def sent(self, row_id: str, athlete: str, contact: str, channel: int, once: str | None,
             told: Sequence[Decision], at: datetime) -> None:  # fmt: skip
        """An alert reached a channel."""
        self.append({"kind": "sent", "at": at.isoformat(), "row": row_id, "athlete": athlete, "contact": contact,
                     "channel": channel, "once": once, "told": [_told(one) for one in told]})  # fmt: skip

    def once(self, key: str, at: datetime) -> None:
        """Something that is told a single time is settled."""
        self.append({"kind": "once", "at": at.isoformat(), "once": key})

    def hold(self, athlete: str, hold: Hold) -> None:
        """The coach holds or releases a stage."""
        self.append({"kind": "hold", "athlete": athlete, "what": hold.kind, "on": hold.on.isoformat(),
                     "days": hold.days,
                     "why": hold.why, "by": hold.by, "at": hold.at.isoformat()})  # fmt: skip

    def mark(self, finding: str, by: str, note: str, at: datetime) -> None:
        """Someone has seen a finding."""
        self.append({"kind": "mark", "finding": finding, "by": by, "note": note, "at": at.isoformat()})

    def rows_sent(self) -> set[str]:
        """Ids of outbox rows that were sent, also when a crash kept the store from knowing."""
        return {str(entry["row"]) for entry in self.entries() if entry.get("kind") == "sent" and "row" in entry}

    def replay_into(self, con: duckdb.DuckDBPyConnection) -> int:
        """Fill a new store; how many entries were taken. Doing it twice changes nothing."""
        con.execute("DELETE FROM decision WHERE reason = ?", [SENT_BEFORE])
        con.execute("DELETE FROM told_once WHERE replayed")
        taken = 0
        for entry in self.entries():
            try:
                taken += _replay(con, entry)
            except (KeyError, TypeError, ValueError, AttributeError):
                continue  # of another version, or damaged: the other lines still count
        return taken


def _replay(con: duckdb.DuckDBPyConnection, entry: Mapping[str, Any]) -> int:
    kind, at = entry["kind"], datetime.fromisoformat(entry["at"])
    if kind == "hold":
        on = date.fromisoformat(entry["on"])
        history.add_hold(con, entry["athlete"], Hold(entry["what"], on, at, entry["days"], entry["why"], entry["by"]))
    elif kind == "mark":
        same = [entry["finding"], entry["by"], entry["note"], to_store(at)]
        known = "SELECT 1 FROM mark WHERE finding = ? AND marked_by = ? AND note = ? AND marked_at = ?"
        if con.execute(known, same).fetchone() is None:
            findings.mark(con, entry["finding"], entry["by"], entry["note"], at)
    elif kind in ("sent", "once"):
        told = [_decision(entry, one) for one in entry.get("told", ())]
        decisions.record(con, told, at)
        if entry.get("once"):
            known = "SELECT 1 FROM told_once WHERE key = ?"
            if con.execute(known, [entry["once"]]).fetchone() is None:
                con.execute("INSERT INTO told_once VALUES (?, ?, true, false)", [entry["once"], to_store(at)])
    else:
        return 0
    return 1


def _told(one: Decision) -> dict[str, Any]:
    return {"finding": one.finding, "rule": one.rule, "subject_kind": one.subject_kind,
            "start": one.subject_start.isoformat(), "end": one.subject_end.isoformat(),
            "severity": str(one.severity), "told": one.told}  # fmt: skip


def _decision(entry: Mapping[str, Any], one: Mapping[str, Any]) -> Decision:
    return Decision(
        entry["athlete"], entry["contact"], one["finding"], one["rule"], one["subject_kind"],
        datetime.fromisoformat(one["start"]), datetime.fromisoformat(one["end"]), Severity.of(one["severity"]),
        int(one["told"]), SENT_BEFORE,
    )  # fmt: skip


def _parsed(line: bytes) -> dict[str, Any] | None:
    try:
        entry = json.loads(line)
    except ValueError:
        return None
    return entry if isinstance(entry, dict) else None


def _is_torn(handle: int) -> bool:
    """Whether the last line lacks its end."""
    end = os.lseek(handle, 0, os.SEEK_END)
    if end == 0:
        return False
    os.lseek(handle, end - 1, os.SEEK_SET)
    return os.read(handle, 1) != b"\n"


def _sync_folder(folder: Path) -> None:
    """Make the new file's name durable, where the system can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
