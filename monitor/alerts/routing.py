"""What to tell whom: each finding weighed for each contact, with the reason as a value, queued in the outbox."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import duckdb

from monitor.alerts import outbox_editor
from monitor.alerts.outbox_editor import DayOf, ItemKind, OutboxEditor, as_told, by_subject, day_unknown
from monitor.reasons import Why
from monitor.roster import Contact, Roster
from monitor.store import decisions
from monitor.store.decisions import AlertDecision, ToldBefore, decision
from monitor.values import Difference
from rules.findings import Finding, Severity
from rules.limits import default_limits

TOLD = (Why.FIRST, Why.WORSE)
TAKES_BACK: tuple[ItemKind, ...] = ("taken_back",)
CORRECTS: tuple[ItemKind, ...] = ("correction",)


def weigh(finding: Finding, standing: int | None, receives: Severity, late_before: datetime) -> Why:
    """Why one finding is told to one contact (`TOLD`), or why not.

    `standing` is the severity told last of the same (0: taken back, None: never).
    """
    if finding.severity < receives:
        return Why.BELOW_RECEIVES
    if finding.subject_kind != "silence" and finding.subject_end < late_before:
        return Why.LATE
    if standing and finding.severity <= standing:
        return Why.ALREADY_TOLD
    return Why.WORSE if standing else Why.FIRST


def queue(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    athlete_id: str,
    change: Difference,
    now: datetime,
    day_of: DayOf = day_unknown,
) -> None:
    """Decide on what a judgement changed and queue it, inside the transaction that stores facts and findings."""
    if not change:
        return
    told = decisions.told_of(con, athlete_id)
    late_before = now - timedelta(days=roster.alerts.late_after_days)
    for contact in roster.contacts_of(athlete_id):
        router = Router(OutboxEditor(con, roster, contact, athlete_id, now, day_of), contact, told, late_before)
        for finding in change.withdrawn:
            router.withdraw(as_told(finding, contact))
        for old, new in change.changed:
            router.ease(as_told(old, contact), as_told(new, contact))
        for finding in change.fresh:
            router.find(as_told(finding, contact))
        for old, new in change.worse:
            router.find(as_told(new, contact), old)
        router.queue_all()
        decisions.record(con, router.made, now)


class Router:
    """Decides for one contact: what a channel may have read is compared with the findings that stand now.

    If more stands, it is told; if nothing stands any more, that is taken back; else nothing is said. What nobody has
    read is changed or taken off in place. `made` holds every decision, in order.
    """

    def __init__(self, editor: OutboxEditor, contact: Contact, told: ToldBefore, late_before: datetime) -> None:
        self._editor = editor
        self._contact = contact
        self._told = told
        self._told_before = told.copy()
        self._late_before = late_before
        self._news: dict[int, list[_News]] = {channel: [] for channel in editor.channels}
        self.made: list[AlertDecision] = []

    def find(self, finding: Finding, before: Finding | None = None) -> None:
        """A finding that is new, or worse than before."""
        standing = self._told.standing(self._contact.id, finding)
        why = weigh(finding, standing, self._contact.receives, self._late_before)
        if why in (Why.LATE, Why.BELOW_RECEIVES):
            self._decide(finding, None, why)
            return
        ids = self._ids(finding, before)
        read = self._read(finding, ids)
        known = self._told_before.knows_session(self._contact.id, finding)
        for channel in self._editor.channels:
            self._editor.withdraw_finding(channel, ids, TAKES_BACK)
            if finding.severity <= read[channel]:
                self._editor.withdraw_finding(channel, ids)
            elif not self._editor.replace_finding(channel, ids, finding, why) and why in TOLD:
                self._editor.withdraw_finding(channel, ids)  # from rows that were given up
                kind: ItemKind = "update" if known or read[channel] else "first"
                self._news[channel].append(_News(kind, finding, why))
        self._decide(finding, int(finding.severity) if why in TOLD else None, why)

    def ease(self, before: Finding, finding: Finding) -> None:
        """Other numbers, no worse: unread words are put right; below what the contact receives, it is taken back."""
        standing = self._told.standing(self._contact.id, finding)
        if not standing:
            return
        if finding.severity < self._contact.receives:
            self.withdraw(before, Why.NOW_BELOW_RECEIVES)
            return
        ids = self._ids(finding, before)
        read = self._read(finding, ids)
        if (
            max(read.values(), default=0)
            and _tells_otherwise(before, finding)
            and finding.subject_end >= self._late_before
        ):
            self._correct(before, finding, ids, read)
            return
        if not self._editor.has_unread(ids):
            return
        knows = []
        for channel in self._editor.channels:
            knows.append(read[channel])
            if finding.severity <= read[channel]:
                if not self._editor.replace_finding(channel, ids, finding, kinds=CORRECTS):
                    self._editor.withdraw_finding(channel, ids)
            elif self._editor.replace_finding(channel, ids, finding, given_up=True):
                knows.append(int(finding.severity))
        if max(knows) < standing:
            self._decide(finding, max(knows), Why.CHANGED_UNREAD)

    def _correct(self, before: Finding, finding: Finding, ids: frozenset[str], read: dict[int, int]) -> None:
        """A correction goes to channels that may have read the old numbers; in unread rows they are replaced."""
        for channel in self._editor.channels:
            if not self._editor.replace_finding(channel, ids, finding, given_up=True) and read[channel]:
                self._news[channel].append(_News("correction", finding, Why.CORRECTED, before))
        self._decide(finding, int(finding.severity), Why.CORRECTED)

    def withdraw(self, finding: Finding, reason: Why = Why.TAKEN_BACK) -> None:
        """A finding that no longer holds: a message where it may have been read; from unread rows it is removed."""
        if not self._told.standing(self._contact.id, finding):
            return
        ids = self._ids(finding)
        read = self._read(finding, ids)
        for channel in self._editor.channels:
            self._editor.withdraw_finding(channel, ids)
            if read[channel]:
                self._news[channel].append(_News("taken_back", finding, reason))
        self._decide(finding, 0, reason)

    def queue_all(self) -> None:
        """Queue what is to be said: one alert a session on every channel."""
        for channel, news in self._news.items():
            for back in (True, False):
                chosen = {entry.finding.id: entry for entry in news if (entry.kind == "taken_back") == back}
                for about, findings in by_subject(entry.finding for entry in chosen.values()).items():
                    self._lay(channel, about, [chosen[finding.id] for finding in findings])

    def _lay(self, channel: int, about: str, news: Sequence[_News]) -> None:
        kinds = {entry.kind for entry in news}
        kind: ItemKind = "update" if "update" in kinds or len(kinds) > 1 else news[0].kind
        worst = max(news, key=lambda entry: entry.finding.severity)
        replaces = [entry.before for entry in news if entry.before is not None]
        self._editor.queue_item(
            channel, outbox_editor.item(kind, about, [entry.finding for entry in news], replaces), worst.reason
        )

    def _read(self, finding: Finding, ids: frozenset[str]) -> dict[int, int]:
        """channel -> the severity that may have been read there last, 0 for nothing."""
        read = self._editor.read(ids)
        before = self._told.sent_before(self._contact.id, finding)
        return {channel: read.get(channel, before) for channel in self._editor.channels}

    def _ids(self, finding: Finding, before: Finding | None = None) -> frozenset[str]:
        """All ids that the finding has had: they change when a better recording moves the start of the session."""
        had = self._told.ids(self._contact.id, finding)
        return frozenset({finding.id, *had} | ({before.id} if before else set()))

    def _decide(self, finding: Finding, told: int | None, reason: Why) -> None:
        made = decision(finding, self._contact.id, told, reason)
        self.made.append(made)
        self._told.add(made)


@dataclass(frozen=True, slots=True)
class _News:
    kind: ItemKind
    finding: Finding
    reason: Why
    before: Finding | None = None


def _tells_otherwise(before: Finding, finding: Finding) -> bool:
    """Whether a session's numbers have changed by so much that readers of the old ones are told."""
    if finding.subject_kind != "session" or before.observed is None or finding.observed is None:
        return False
    apart, size = abs(before.observed - finding.observed), max(abs(before.observed), abs(finding.observed))
    return apart >= default_limits().alerts.told_otherwise_share * size > 0
