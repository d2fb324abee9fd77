"""What two homes came to, side by side; and what the contacts of one were told against what stands."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from itertools import groupby
from pathlib import Path
from typing import Any

from monitor.alerts import outbox_editor
from monitor.store import findings, outbox, recordings
from monitor.store.database import Store
from rules import words
from rules.facts import Session
from rules.findings import Finding, Severity
from tests.monitor.store import told
from tests.process.soak_roster import CHANNELS, PEOPLE, RECEIVES
from tests.targets import Received

Line = tuple[str, int]  # contact and channel


@dataclass
class Came:
    """Facts and standing findings by name, the rows of the outbox, and athlete -> path and bytes of all ever read."""

    facts: dict[str, Any] = field(default_factory=dict)
    findings: dict[str, Finding] = field(default_factory=dict)
    rows: list[outbox.OutboxRow] = field(default_factory=list)
    files: dict[str, list[tuple[str, str]]] = field(default_factory=lambda: defaultdict(list))


def came(home: Path) -> Came:
    found = Came()
    first, last = datetime(2020, 1, 1).date(), datetime(2030, 1, 1).date()  # noqa: DTZ001 - wide dates
    with Store(home / "fallow.duckdb").reading() as con:
        for person in PEOPLE:
            for session in recordings.sessions(con, person.id):
                found.facts[f"{person.id} session {session.key}"] = replace(session, version="")  # names bytes gone by
            nights = told.season(con, person.id, first, last).nights
            found.facts |= {f"{person.id} night {night.date}": night for night in nights}
            for morning in told.season(con, person.id, first, last).mornings:
                found.facts[f"{person.id} morning {morning.date}"] = morning
            for number, checkin in enumerate(told.season(con, person.id, first, last).checkins):
                found.facts[f"{person.id} check-in {number}"] = checkin
        for athlete, path, sha256 in con.execute("SELECT athlete, path, sha256 FROM intake").fetchall():
            found.files[athlete].append((path, sha256))
        found.findings = {one.id: one for one in findings.standing(con)}
        found.rows = outbox._rows(con, "true ORDER BY sent_wall, number")
    return found


def differences(soak: Came, clean: Came) -> list[str]:
    """Every fact and finding that is not the same in both, but for the name of one of two files of the same bytes."""
    told = []
    alike = _Copies(soak, clean).alike
    for word, one, other in (("fact", soak.facts, clean.facts), ("finding", soak.findings, clean.findings)):
        told += [
            f"{word} {name}\n   soak  {one.get(name)}\n   clean {other.get(name)}"
            for name in sorted(one.keys() | other.keys())
            if alike(name, one.get(name)) != alike(name, other.get(name))
        ]
    return told


class _Copies:
    """Files that at some time held the same bytes: which of them is named hangs on which arrived first."""

    def __init__(self, *homes: Came) -> None:
        self._first: dict[tuple[str, str], str] = {}
        for athlete in {name for home in homes for name in home.files}:
            groups: list[set[str]] = []
            held = sorted({each for home in homes for each in home.files[athlete]}, key=lambda each: each[1])
            for _, same in groupby(held, key=lambda each: each[1]):
                paths = {path for path, _ in same}
                groups = [*_joined(groups, paths)]
            self._first |= {(athlete, path): min(group) for group in groups for path in group}

    def alike(self, name: str, one: Any) -> Any:
        """The same value, whichever of the copies it names. The name of a fact begins with its athlete."""
        if not isinstance(one, Finding | Session) or one.source is None:
            return one
        athlete = one.athlete if isinstance(one, Finding) else name.split(" ", maxsplit=1)[0]
        return replace(one, source=self._first.get((athlete, one.source), one.source))


def _joined(groups: list[set[str]], paths: set[str]) -> Iterator[set[str]]:
    """The groups, with the paths and all groups that share one of them made one."""
    together = set(paths)
    for group in groups:
        if group & paths:
            together |= group
        else:
            yield group
    yield together


def told_last(rows: list[outbox.OutboxRow]) -> dict[Line, list[tuple[Finding, int]]]:
    """Contact and channel -> findings in the order in which they were sent, with the severity told (0: taken back)."""
    told: dict[Line, list[tuple[Finding, int]]] = defaultdict(list)
    for row in rows:
        if row.state == "sent":
            for item in outbox_editor.from_text(row.items):
                for one in item.findings:
                    told[row.line].append((one, 0 if item.kind == "taken_back" else int(one.severity)))
    return told


def wants(contact: str, athlete: str, finding: Finding) -> bool:
    least = Severity.of(RECEIVES.get(contact, "caution"))
    return (contact in RECEIVES or contact == athlete) and finding.severity >= least


def untold(soak: Came, late_before: datetime) -> list[str]:
    """What stands, is not late and was not told; and what was told, does not stand, and was not taken back."""
    told, wrong = told_last(soak.rows), []
    for contact, channels in CHANNELS.items():
        for channel in range(1, channels + 1):
            said = told[contact, channel]
            for one in soak.findings.values():
                if wants(contact, one.athlete, one) and one.subject_end >= late_before:
                    known = [severity for other, severity in said if _same(one, other)]
                    if not known or known[-1] < one.severity:
                        what = f"{one.id} {one.rule} {words.said(one.summary)}"
                        wrong.append(f"{contact}/{channel} was not told of {what}: {known}")
            last = {_name(one): (one, severity) for one, severity in said}
            for one, severity in last.values():
                if severity and not any(_same(one, other) for other in soak.findings.values()):
                    wrong.append(f"{contact}/{channel} was not told that {one.id} {one.rule} {one.date} is taken back")
    return wrong


def told_late(soak: Came, late_paths: set[tuple[str, str]]) -> list[str]:
    """What was told though it was late."""
    wrong = []
    for line, said in told_last(soak.rows).items():
        wrong += [
            f"{line} {one.id} {one.rule}" for one, told in said if told and (one.athlete, one.source) in late_paths
        ]
    for row in soak.rows:
        if row.state == "sent":
            before = row.created_at - timedelta(days=7)
            for item in outbox_editor.from_text(row.items):
                late = [one for one in item.findings if one.subject_end < before and item.kind != "taken_back"]
                wrong += [f"{row.line} {one.id} {one.rule} queued at {row.created_at}" for one in late]
    return wrong


def arrived(soak: Came, received: list[Received], prefix: str) -> tuple[int, list[str]]:
    """Repeats, and what was marked sent and never came, or came and was never marked."""
    rows = Counter(
        (row.contact, row.channel, _plain(row.title), _plain(row.body)) for row in soak.rows if row.state == "sent"
    )
    came_in: Counter[tuple[str, int, str, str]] = Counter()
    for one in received:
        _, begins, contact, channel = one.path.split("/")
        if begins == prefix and one.answered == 200:
            came_in[contact, int(channel), _plain(one.title), _plain(one.body)] += 1
    wrong = [f"marked sent, never came: {name}" for name in rows - came_in]
    wrong += [f"came, never marked: {name}" for name in came_in if name not in rows]
    once = Counter((row.once, row.line) for row in soak.rows if row.once and row.state == "sent")
    wrong += [f"told twice: {name}" for name, count in once.items() if count > 1]
    return sum((came_in - rows).values()), wrong


def _plain(text: str) -> str:
    return re.sub(r"\s+", " ", text).strip()


def _name(one: Finding) -> tuple[str, str, str]:
    return one.athlete, one.rule, one.id


def _same(one: Finding, other: Finding) -> bool:
    if (one.athlete, one.rule, one.subject_kind) != (other.athlete, other.rule, other.subject_kind):
        return False
    if one.subject_kind != "session":
        return one.id == other.id
    overlapping = one.subject_start < other.subject_end and other.subject_start < one.subject_end
    return overlapping or one.subject_start == other.subject_start


__all__ = ["Came", "arrived", "came", "differences", "told_last", "told_late", "untold"]
