"""What to tell whom: each finding weighed for each contact, with the reason as a value, queued in one transaction."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import duckdb

from monitor.alerts import items
from monitor.alerts.desk import Desk
from monitor.alerts.items import as_told, by_subject
from monitor.alerts.notices import queue_daily, queue_notice, queue_stage, queue_unreadable, sum_up_import
from monitor.judging.difference import Difference
from monitor.roster import Contact, Roster
from monitor.store import decisions
from monitor.store.decisions import Decision, Told, decision
from rules.findings import Finding, Severity

__all__ = ["queue", "queue_daily", "queue_notice", "queue_stage", "queue_unreadable", "weigh"]


@dataclass(frozen=True, slots=True)
class Weighed:
    """Whether to tell, and why or why not."""

    tell: bool
    reason: str


def weigh(finding: Finding, standing: int | None, receives: Severity, late_before: datetime) -> Weighed:
    """One finding for one contact. `standing` is the severity told last of the same (0: taken back, None: never)."""
    if finding.severity < receives:
        return Weighed(False, "below receives")
    if finding.subject_kind != "silence" and finding.subject_end < late_before:
        return Weighed(False, "late")
    if standing and finding.severity <= standing:
        return Weighed(False, "already told")
    return Weighed(True, "worse" if standing else "first")


def queue(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    athlete_id: str,
    change: Difference,
    now: datetime,
    *,
    first_import: bool,
) -> None:
    """Decide on what a judgement changed and queue it, inside the transaction that stores facts and findings."""
    told = decisions.told_of(con, athlete_id)
    late_before = now - timedelta(days=roster.alerts.late_after_days)
    for contact in roster.contacts_of(athlete_id):
        teller = _Teller(Desk(con, roster, contact, athlete_id, now), contact, told, late_before)
        for old, new in change.changed:
            teller.change(as_told(old, contact), as_told(new, contact))
        teller.take_back([as_told(one, contact) for one in change.withdrawn])
        worse = [(as_told(old, contact), as_told(new, contact)) for old, new in change.worse]
        teller.tell([as_told(one, contact) for one in change.fresh], worse)
        decisions.record(con, teller.made, now)
    if first_import:
        sum_up_import(con, roster, athlete_id, now)


class _Teller:
    """Decides for one contact and lays the outcome on the desk; `made` holds every decision in order."""

    def __init__(self, desk: Desk, contact: Contact, told: Told, late_before: datetime) -> None:
        self._desk = desk
        self._contact = contact
        self._told = told
        self._late_before = late_before
        self.made: list[Decision] = []

    def tell(self, fresh: Sequence[Finding], worse: Sequence[tuple[Finding, Finding]]) -> None:
        """Queue what is new or worse: one alert a session, on every channel."""
        old_of = {new.id: old for old, new in worse}
        reasons: dict[str, str] = {}
        chosen: list[Finding] = []
        known: set[str] = set()
        made: list[Decision] = []
        for finding in (*fresh, *(new for _, new in worse)):
            standing = self._told.standing(self._contact.id, finding)
            weighed = weigh(finding, standing, self._contact.receives, self._late_before)
            if weighed.tell:
                chosen.append(finding)
                reasons[finding.id] = weighed.reason
                if weighed.reason == "worse" or self._told.knows_session(self._contact.id, finding):
                    known.add(finding.id)
            made.append(
                decision(finding, self._contact.id, int(finding.severity) if weighed.tell else None, weighed.reason)
            )
        self._keep(made)
        for about, findings in by_subject(chosen).items():
            for channel in self._desk.channels:
                self._lay(channel, about, findings, reasons, known, old_of)

    def _lay(
        self,
        channel: int,
        about: str,
        findings: Sequence[Finding],
        reasons: dict[str, str],
        known: set[str],
        old_of: dict[str, Finding],
    ) -> None:
        left = [
            one for one in findings if not self._desk.exchange(channel, old_of.get(one.id, one), one, reasons[one.id])
        ]
        if left:
            update = any(one.id in known for one in left)
            worst = max(left, key=lambda one: one.severity)
            self._desk.lay(channel, items.item("update" if update else "first", about, left), reasons[worst.id])

    def take_back(self, withdrawn: Sequence[Finding], reason: str = "taken back") -> None:
        """Tell once that a finding no longer holds, where it may have been read; else only take it off."""
        standing = [one for one in withdrawn if self._told.standing(self._contact.id, one)]
        self._keep([decision(one, self._contact.id, 0, reason) for one in standing])
        for channel in self._desk.channels:
            read = [one for one in standing if self._was_read(channel, one)]
            for about, findings in by_subject(read).items():
                self._desk.lay(channel, items.item("taken_back", about, findings), reason)

    def _was_read(self, channel: int, finding: Finding) -> bool:
        taken_off = self._desk.take_off(channel, finding)
        read = self._desk.may_have_read(channel, finding) or self._told.sent_before(self._contact.id, finding)
        return read or not taken_off

    def change(self, old: Finding, new: Finding) -> None:
        """Other numbers, no worse: unread words are put right; below what the contact receives, it is taken back."""
        standing = self._told.standing(self._contact.id, new)
        if standing and new.severity < self._contact.receives:
            self.take_back([old], "now below receives")
            return
        unread = [self._desk.exchange(channel, old, new) for channel in self._desk.channels]
        if standing and all(unread):
            self._keep([decision(new, self._contact.id, int(new.severity), "changed before it was read")])

    def _keep(self, made: Sequence[Decision]) -> None:
        self.made += made
        for one in made:
            self._told.add(one)
