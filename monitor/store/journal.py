"""The journal: a plain file beside the store that outlives it. Alerts sent, holds, marks, how often calendar entries
have changed; one JSON object a line.

A rebuilt store reads it, so that nothing is told twice and no hold or mark is lost. It holds no name, no words and
no URL. Written by appending and syncing; a line torn by a crash is left where it is and passed over.
"""

from __future__ import annotations

import json
import logging
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path
from typing import Any, Literal

import duckdb

from monitor import logs, words
from monitor.errors import WorkFailed
from monitor.home import replace_file
from monitor.reasons import Why
from monitor.store import decisions, findings, outbox
from monitor.store.decisions import AlertDecision
from monitor.store.encoding import to_store
from rules.facts import Hold
from rules.findings import Severity

MOST = 2**31 - 1


class Journal:
    def __init__(self, path: Path) -> None:
        self.path = path

    def append(self, entry: Mapping[str, Any]) -> None:
        """Add one line and wait until it is on the disk."""
        line = json.dumps(entry, separators=(",", ":")).encode() + b"\n"
        try:
            new = not self.path.exists()
            handle = os.open(self.path, os.O_RDWR | os.O_APPEND | os.O_CREAT, 0o600)
            try:
                if _is_torn(handle):
                    line = b"\n" + line
                if os.write(handle, line) != len(line):
                    raise OSError(words.doctor.PARTLY_WRITTEN)
                os.fsync(handle)
            finally:
                os.close(handle)
            if new:
                _sync_folder(self.path.parent)
        except OSError as error:
            why = error.strerror or str(error)
            raise WorkFailed(words.doctor.JOURNAL_NOT_WRITTEN.format(name=self.path.name, why=why)) from None

    def entries(self) -> Iterator[dict[str, Any]]:
        """Every whole line, oldest first."""
        for line in self._lines():
            entry = _parsed(line)
            if entry is not None:
                yield entry

    def _lines(self) -> Iterator[bytes]:
        try:
            with self.path.open("rb") as lines:
                yield from lines
        except FileNotFoundError:
            return
        except OSError as error:
            raise WorkFailed(words.doctor.JOURNAL_UNREADABLE.format(name=self.path.name, why=error.strerror)) from None

    @property
    def odd(self) -> Path:
        """Lines that a new store could make nothing of, kept for whoever can."""
        return self.path.with_name(self.path.name + ".odd")

    def sent(self, row_id: str, athlete: str, contact: str, channel: int, once: str | None,
             told: Sequence[AlertDecision], at: datetime, kind: str = "alert",
             severity: Severity = Severity.NOTE) -> None:  # fmt: skip
        """An alert reached a channel."""
        self.append({"kind": "sent", "at": at.isoformat(), "row": row_id, "athlete": athlete, "contact": contact,
                     "channel": channel, "once": once, "told": [_told(entry) for entry in told], "what": kind,
                     "severity": str(severity)})  # fmt: skip

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

    def undo(self, athlete: str, findings_marked: Sequence[str], by: str, given_at: datetime, at: datetime) -> None:
        """What somebody answered at a moment is taken back: marks on these findings, holds and releases."""
        self.append({"kind": "undo", "at": at.isoformat(), "athlete": athlete, "findings": list(findings_marked),
                     "by": by, "of": given_at.isoformat()})  # fmt: skip

    def calendar(self, athlete: str, numbers: Mapping[str, findings.Numbered], at: datetime) -> None:
        """Entries of an athlete's calendar have changed."""
        entries = {uid: [entry.sequence, entry.mark] for uid, entry in numbers.items()}
        self.append({"kind": "calendar", "at": at.isoformat(), "athlete": athlete, "entries": entries})

    def rows_sent(self) -> set[str]:
        """Ids of outbox rows that were sent, also when a crash kept the store from knowing."""
        return {str(entry["row"]) for entry in self.entries() if entry.get("kind") == "sent" and "row" in entry}

    def replay_into(self, con: duckdb.DuckDBPyConnection) -> int:
        """Fill a new store; how many entries were taken. Doing it twice changes nothing."""
        con.execute("DELETE FROM decision WHERE reason = ?", [Why.SENT_BEFORE])
        con.execute("DELETE FROM told_once WHERE replayed")
        taken = 0
        odd: list[bytes] = []
        for line in self._lines():
            try:
                replayed = _replayed(con, json.loads(line))
            except (KeyError, TypeError, ValueError, AttributeError, RecursionError, OverflowError):
                odd += [line] if line.endswith(b"\n") else []  # without its end it was torn by a crash
                continue
            taken += replayed
        self._keep_aside(odd)
        return taken

    def _keep_aside(self, odd: Sequence[bytes]) -> None:
        with suppress(OSError):  # the journal itself still holds them; or there were none before
            if odd:
                replace_file(self.odd, b"".join(odd))
                logs.event("journal_odd", level=logging.WARNING, lines=len(odd))
            else:
                self.odd.unlink()


def _replayed(con: duckdb.DuckDBPyConnection, entry: Any) -> int:
    """Take one entry into a new store. It is looked at whole first: what the database refuses would undo the others."""
    kind, at = entry["kind"], _moment(entry["at"])
    if kind == "hold":
        days = None if entry["days"] is None else _whole(entry["days"])
        kinds: dict[str, Literal["hold", "release"]] = {"hold": "hold", "release": "release"}
        what = kinds[_text(entry["what"])]
        hold = Hold(what, date.fromisoformat(entry["on"]), at, days, _text(entry["why"]), _text(entry["by"]))
        findings.add_hold(con, _text(entry["athlete"]), hold)
    elif kind == "mark":
        finding, by, note = (_text(entry[name]) for name in ("finding", "by", "note"))
        findings.mark(con, finding, by, note, at)
    elif kind == "undo":
        by, given_at = _text(entry["by"]), _moment(entry["of"])
        findings.unmark(con, [_text(finding_id) for finding_id in entry["findings"]], by, given_at)
        findings.take_back_holds(con, _text(entry["athlete"]), by, given_at)
    elif kind == "calendar":
        changed = {
            _text(uid): findings.Numbered(_whole(sequence), _text(mark), at)
            for uid, (sequence, mark) in entry["entries"].items()
        }
        findings.number_entries(con, _text(entry["athlete"]), changed)
    elif kind in ("sent", "once"):
        told = [_decision(entry, text) for text in entry.get("told", ())]
        once = None if entry.get("once") is None else _text(entry["once"])
        if kind == "sent" and "row" in entry:
            _restore(con, entry, told, once, at)
        decisions.record(con, told, at)
        if once:
            con.execute("INSERT INTO told_once VALUES (?, ?, true, false) ON CONFLICT DO NOTHING", [once, to_store(at)])
    else:
        return 0
    return 1


def _restore(
    con: duckdb.DuckDBPyConnection,
    entry: Mapping[str, Any],
    told: Sequence[AlertDecision],
    once: str | None,
    at: datetime,
) -> None:
    """Show a message again as sent; its words are in no journal."""
    kind = _text(entry.get("what", "alert" if told else "notice"))
    worst = max((decided.severity for decided in told if decided.told), default=Severity.NOTE)
    severity = Severity.of(_text(entry["severity"])) if "severity" in entry else worst
    outbox.restore(
        con,
        _text(entry["row"]),
        athlete=_text(entry["athlete"]),
        contact=_text(entry["contact"]),
        channel=_whole(entry["channel"]),
        kind=kind,
        severity=severity,
        findings=[decided.finding for decided in told],
        rules=list(dict.fromkeys(decided.rule for decided in told)),
        once=once,
        at=at,
    )


def _text(value: Any) -> str:
    """A text that a store takes; ValueError or TypeError for anything else."""
    if not isinstance(value, str):
        raise TypeError
    value.encode()  # no lone surrogate
    if "\0" in value:
        raise ValueError
    return value


def _whole(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not -MOST <= value <= MOST:
        raise ValueError
    return value


def _moment(value: Any) -> datetime:
    """With its offset, and within what a store can keep."""
    moment = datetime.fromisoformat(value)
    if moment.tzinfo is None:
        raise ValueError
    to_store(moment)
    return moment


def _told(one: AlertDecision) -> dict[str, Any]:
    return {"finding": one.finding, "rule": one.rule, "subject_kind": one.subject_kind,
            "start": one.subject_start.isoformat(), "end": one.subject_end.isoformat(),
            "severity": str(one.severity), "told": one.told}  # fmt: skip


def _decision(entry: Mapping[str, Any], one: Mapping[str, Any]) -> AlertDecision:
    return AlertDecision(
        _text(entry["athlete"]), _text(entry["contact"]), _text(one["finding"]), _text(one["rule"]),
        _text(one["subject_kind"]), _moment(one["start"]), _moment(one["end"]), Severity.of(_text(one["severity"])),
        _whole(int(one["told"])), Why.SENT_BEFORE,
    )  # fmt: skip


def _parsed(line: bytes) -> dict[str, Any] | None:
    try:
        entry = json.loads(line)
    except (ValueError, RecursionError):
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
