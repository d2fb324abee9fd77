"""One contact's desk: what is laid on it for the next message, and what is taken off before anyone has read it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import duckdb

from monitor.alerts import items
from monitor.alerts.channels import shown
from monitor.alerts.day_told import DayOf, day_unknown
from monitor.alerts.items import Item, ItemKind
from monitor.alerts.quiet_hours import quiet_until, until_words
from monitor.alerts.readers import reader_of
from monitor.roster import Contact, Roster
from monitor.store import outbox
from monitor.store.outbox import Draft, OutboxRow
from rules.findings import Finding, Severity

TELLS: tuple[ItemKind, ...] = ("first", "update", "correction")
ALWAYS_GOES = ("daily",)  # asked for at a time of day, also within quiet hours


@dataclass(frozen=True, slots=True)
class _Unread:
    """A row that nobody can have read, as far as a desk changes it."""

    id: str
    channel: int
    kind: str
    items: str
    findings: tuple[str, ...]
    state: str
    reason: str


def _unread_of(row: OutboxRow) -> _Unread:
    return _Unread(row.id, row.channel, row.kind, row.items, row.findings, row.state, row.reason)


class Desk:
    """Writes and rewrites the outbox rows of one athlete and contact, inside the caller's transaction."""

    def __init__(
        self,
        con: duckdb.DuckDBPyConnection,
        roster: Roster,
        contact: Contact,
        athlete: str,
        now: datetime,
        day_of: DayOf = day_unknown,
    ) -> None:
        self._con = con
        self._quiet = roster.alerts.quiet_hours
        self._contact = contact
        self._athlete = athlete
        self._now = now
        self._reader = reader_of(roster, athlete, contact)
        self._day_of = day_of
        self._rows: list[_Unread] | None = None
        self._read: list[tuple[int, str]] | None = None

    @property
    def channels(self) -> range:
        return range(1, len(self._contact.urls) + 1)

    def draft(self, told: Sequence[Item], reason: str, kind: str = "alert") -> Draft:
        """The content and the state of a row: held in quiet hours, unless it is a `stop`."""
        severity = items.worst(told)
        until = None
        if severity < Severity.STOP and kind not in ALWAYS_GOES:
            until = quiet_until(self._now, self._quiet, self._reader.zone)
        if until is not None:
            reason = until_words(until, self._reader.zone)
        state = "held" if until else "waiting"
        ids = items.finding_ids(told)
        day = self._day_of(self._reader, until or self._now)
        told = [replace(one, day=day or one.day) for one in told]
        return Draft(severity, items.to_text(told), ids, state, reason, until)

    def lay(self, channel: int, told: Item, reason: str, *, kind: str = "alert", once: str | None = None) -> None:
        """Queue an alert on one channel, within one that nobody has read yet where it is about the same."""
        if kind == "alert":
            for row in self._unread(channel, [told.about]):
                parts = items.from_text(row.items)
                mates = [one for one in parts if one.about == told.about and one.kind in TELLS]
                if row.state != "failed" and mates and told.kind in TELLS:
                    merged = _merged(mates[0], told.findings)
                    self._rewrite(row, [merged if one is mates[0] else one for one in parts], row.reason)
                    return
        draft = self.draft([told], reason, kind)
        row_id = outbox.insert(
            self._con,
            draft,
            athlete=self._athlete,
            contact=self._contact.id,
            channel=channel,
            channel_shown=shown(self._contact.urls[channel - 1]),
            kind=kind,
            created_at=self._now,
            once=once,
        )
        if self._rows is not None and draft.findings:
            self._rows.append(_Unread(row_id, channel, kind, draft.items, draft.findings, draft.state, draft.reason))

    def exchange(
        self,
        channel: int,
        ids: Collection[str],
        new: Finding,
        reason: str | None = None,
        *,
        given_up: bool = False,
        kinds: Collection[ItemKind] = TELLS,
    ) -> bool:
        """Put a finding as it is now into a row that nobody has read; False where there is none."""
        for row in self._unread(channel, ids):
            parts = items.from_text(row.items)
            if (given_up or row.state != "failed") and any(_holds(one, ids, kinds) for one in parts):
                changed = [_merged(one, [new], ids) if _holds(one, ids, kinds) else one for one in parts]
                self._rewrite(row, changed, reason or row.reason)
                return True
        return False

    def take_off(self, channel: int, ids: Collection[str], kinds: Collection[ItemKind] = TELLS) -> bool:
        """Take a finding, or what takes it back, out of the rows that nobody has read; whether it stood in one."""
        found = False
        for row in self._unread(channel, ids):
            parts = items.from_text(row.items)
            if not any(_holds(one, ids, kinds) for one in parts):
                continue
            found = True
            left = [kept for one in parts if (kept := _without(one, ids, kinds)) is not None]
            if left:
                self._rewrite(row, left, row.reason)
            else:
                self._rows = [one for one in self._rows or () if one.id != row.id]
                outbox.drop(self._con, row.id)
        return found

    def has_unread(self, ids: Collection[str]) -> bool:
        """Whether any channel has a row with the finding that nobody has read."""
        return any(set(ids) & set(row.findings) for channel in self.channels for row in self._unread(channel, ids))

    def read(self, ids: Collection[str]) -> dict[int, int]:
        """channel -> the severity of a finding that may have been read there last, 0 if that it was taken back."""
        found: dict[int, int] = {}
        if self._read is None:
            self._read = outbox.read_findings(self._con, self._athlete, self._contact.id)
        numbers = [number for number, named in self._read if any(one in named for one in ids)]
        for channel, text in outbox.items_of(self._con, numbers) if numbers else ():
            for one in items.from_text(text):
                for finding in one.findings:
                    if finding.id in ids:
                        found[channel] = 0 if one.kind == "taken_back" else int(finding.severity)
        return found

    def _unread(self, channel: int, named: Collection[str]) -> list[_Unread]:
        """The channel's rows with any of these names in them, as of the last change that this desk made."""
        if self._rows is None:
            rows = outbox.unread(self._con, self._athlete)
            self._rows = [_unread_of(row) for row in rows if row.contact == self._contact.id]
        return [row for row in self._rows if row.channel == channel and any(one in row.items for one in named)]

    def _rewrite(self, row: _Unread, told: Sequence[Item], reason: str) -> None:
        """Other content for a row; one that is held or given up stays so, but a `stop` is never held."""
        made = self.draft(told, reason, row.kind)
        if row.state == "failed":
            made = replace(made, state="failed", reason=row.reason, not_before=None)
        outbox.rewrite(self._con, row.id, made)
        changed = replace(row, items=made.items, findings=made.findings, state=made.state, reason=made.reason)
        kept = [changed if one.id == row.id else one for one in self._rows or ()]
        self._rows = [one for one in kept if one.findings]


def _holds(one: Item, ids: Collection[str], kinds: Collection[ItemKind]) -> bool:
    return one.kind in kinds and any(finding.id in ids for finding in one.findings)


def _merged(one: Item, findings: Iterable[Finding], without: Collection[str] = ()) -> Item:
    new = {finding.id: finding for finding in findings}
    kept = [finding for finding in one.findings if finding.id not in new and finding.id not in without]
    return items.item(one.kind, one.about, [*kept, *new.values()], one.replaces)


def _without(one: Item, ids: Collection[str], kinds: Collection[ItemKind]) -> Item | None:
    if not _holds(one, ids, kinds):
        return one
    left = [finding for finding in one.findings if finding.id not in ids]
    return items.item(one.kind, one.about, left, one.replaces) if left else None
