"""Who is told; queues messages for one reader, and changes or withdraws those that nobody has read yet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import lru_cache, partial
from typing import Literal
from zoneinfo import ZoneInfo

import duckdb

from monitor import words
from monitor.alerts.channels import shown
from monitor.clock import quiet_until
from monitor.news import News, Reader
from monitor.plain_text import clean, clean_sentence, isolated
from monitor.reasons import Why
from monitor.roster import Contact, Roster
from monitor.store import encoding, outbox
from monitor.store.outbox import Draft, OutboxRow
from rules import words as rule_words
from rules.catalogue import class_advice
from rules.day import Audience, Reason, decide
from rules.facts import History
from rules.findings import Finding, Severity
from rules.history import in_order
from rules.judge import Judgement
from rules.limits import Limits

# Who reads a message, and about whom.

NAME_LENGTH = 60


def audience_of(reader: Reader) -> Audience:
    """To whom `rules.day` speaks."""
    return Audience(
        reader.role, reader.coached, lambda moment: f"{moment:%a} {words.shared.clock(moment, reader.face)}"
    )


@lru_cache(maxsize=16384)
def _first_name(name: str) -> str:
    return clean(name).split(" ")[0]


def reader_of(roster: Roster, athlete_id: str, contact: Contact) -> Reader:
    """The reader of messages about an athlete; about the program itself when the id is empty."""
    one = roster.athlete(athlete_id)
    zone = zone_of(roster, athlete_id, contact.id)
    if one is None:
        return Reader(contact.role, athlete_id, athlete_id, athlete_id, zone, url=roster.url)
    name = clean(one.athlete.name or one.id, NAME_LENGTH)
    first = name.split(" ")[0]
    same = [athlete for athlete in roster.athletes if _first_name(athlete.athlete.name or athlete.id) == first]
    told = [roster.contact(contact_id) for contact_id in one.contacts]
    coaches = [isolated(clean(each.name, NAME_LENGTH)) for each in told if each is not None and each.role == "coach"]
    called = first if len(same) == 1 else name
    return Reader(
        contact.role,
        one.id,
        isolated(name),
        isolated(called),
        zone,
        coaches[0] if coaches else "",
        roster.units_for(one.id, contact.id),
        roster.clock_for(one.id, contact.id),
        roster.url,
    )


def zone_of(roster: Roster, athlete_id: str, contact_id: str) -> ZoneInfo:
    """The athlete's clock; about the program itself that of the first athlete of whom the contact is told."""
    one = roster.athlete(athlete_id)
    told = [athlete for athlete in roster.athletes if contact_id in athlete.contacts]
    first = one or next(iter(told), None)
    return first.athlete.zone if first else ZoneInfo("UTC")


# What one reader is told: alerts on sessions, mornings or days, each with its findings, worst first.

TELLING = (
    "see_a_doctor", "rest_hours", "no_speed_work", "no_running", "no_strength", "pain", "stairs_test", "duration_cap",
)  # fmt: skip
ItemKind = Literal["first", "update", "correction", "taken_back", "news", "text"]


@dataclass(frozen=True, slots=True)
class DayTold:
    """What a day allows, by `rules.day`, worded for one contact; valid on that day only."""

    on: date
    answer: str
    now: tuple[str, ...]  # what to do, in sentences
    why: tuple[tuple[str, str], ...] = ()  # id of the finding behind a reason, if any, and the reason
    ends: tuple[str, ...] = ()  # what ends it, where the clock alone does not


@dataclass(frozen=True, slots=True)
class Item:
    """One alert, before or after it was gathered with others. `about` tells which session or day it is about."""

    kind: ItemKind
    severity: Severity
    about: str
    findings: tuple[Finding, ...] = ()
    news: News | None = None  # of the kind "news"
    replaces: tuple[Finding, ...] = ()  # as they were told, where a correction puts them right
    day: DayTold | None = None  # the day on which it is to be read
    title: str = ""  # title and body only of the kind "text", which older versions queued and nothing reads back
    body: str = ""


def to_text(items: Iterable[Item]) -> str:
    return encoding.to_text(tuple(items), tuple[Item, ...])


def from_text(text: str) -> tuple[Item, ...]:
    return encoding.from_text(tuple[Item, ...], text)


def worst(items: Iterable[Item]) -> Severity:
    return max((item.severity for item in items), default=Severity.NOTE)


def finding_ids(items: Iterable[Item]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(finding.id for item in items for finding in item.findings))


def as_told(finding: Finding, contact: Contact) -> Finding:
    """The finding at the severity it has for this contact: silence is a note to the athlete."""
    if finding.rule == "gone_quiet":
        return replace(finding, severity=Severity.NOTE if contact.role == "athlete" else Severity.CAUTION)
    return finding


def item(kind: ItemKind, about: str, findings: Iterable[Finding], replaces: Iterable[Finding] = ()) -> Item:
    """Findings of one session or day as one alert."""
    ordered = tuple(sorted(findings, key=_weight))
    severity = Severity.NOTE if kind == "taken_back" else ordered[0].severity  # it may wait for the end of quiet hours
    return Item(kind, severity, about, ordered, replaces=tuple(replaces))


def news_item(about: str, news: News, severity: Severity) -> Item:
    """News under its key, by which it is found again."""
    return Item("news", severity, about, news=news)


def news_keys(items: Iterable[Item]) -> tuple[str, ...]:
    """Keys of what is told a single time."""
    return tuple(dict.fromkeys(item.about for item in items if item.kind in ("news", "text")))


def _weight(finding: Finding) -> tuple[int, int, str, str]:
    """Order: the worst first; of equal severity the rule that says most about the session."""
    place = TELLING.index(finding.rule) if finding.rule in TELLING else len(TELLING)
    return (-finding.severity, place, finding.rule, finding.id)


def by_subject(findings: Iterable[Finding]) -> dict[str, list[Finding]]:
    """Findings by what they are about, worst first; a total of a day or week goes with the last session of that day."""
    groups: dict[str, list[Finding]] = defaultdict(list)
    last_session: dict[object, str] = {}
    ordered = sorted(
        findings, key=lambda finding: (finding.subject_kind != "session", finding.subject_start, finding.id)
    )
    for finding in ordered:
        about = about_words(finding)
        if finding.subject_kind == "session":
            last_session[finding.date] = about
        elif finding.subject_kind in ("day", "week"):
            about = last_session.get(finding.date, about)
        groups[about].append(finding)
    return dict(sorted(groups.items(), key=lambda pair: -max(finding.severity for finding in pair[1])))


def about_words(finding: Finding) -> str:
    """The identity of a subject: one session, or the day on which something was said or measured."""
    if finding.subject_kind == "session":
        return f"session {(finding.session_start or finding.subject_start).isoformat()}"
    if finding.subject_kind in ("morning", "checkin"):
        return f"body {finding.date}"
    return f"{finding.subject_kind} {finding.subject}"


# What a day allows, decided in `rules.day` for the moment at which the message will be read.

DayOf = Callable[[Reader, datetime], DayTold | None]


def day_unknown(reader: Reader, moment: datetime) -> None:
    """For messages about no day of an athlete."""


def day_of(judgement: Judgement, history: History, limits: Limits) -> DayOf:
    """Tells of one athlete what the day of a moment allows; None outside of an active plan."""
    return partial(_told, judgement, history, limits)


def _told(judgement: Judgement, history: History, limits: Limits, reader: Reader, moment: datetime) -> DayTold | None:
    decision = decide(judgement, in_order(history, limits), moment, limits)
    if not decision.active:
        return None
    audience = audience_of(reader)
    said = rule_words.day.answer(decision, audience.clock)
    against = [reason for reason in decision.reasons if decision.sport or reason.forbids != "running"]
    ends = rule_words.day.ending_words(against, audience)
    after = (
        [f"After that: {rule_words.day.after_words(decision)}"] if decision.ends_today and not decision.flags else []
    )
    return DayTold(
        decision.date,
        said,
        class_advice(decision.flags[0].numbers["class"], reader.role) if decision.flags else (clean_sentence(said),),
        tuple(
            (reason.finding or "", clean_sentence(rule_words.day.reason_words(reason, audience)))
            for reason in _one_a_kind(against)
        ),
        tuple(clean_sentence(text) for text in dict.fromkeys([*after, *ends])),
    )


def _one_a_kind(reasons: Iterable[Reason]) -> list[Reason]:
    """The strictest reason of each kind: two stops for one session are one reason to rest."""
    return list({reason.kind: reason for reason in reversed(list(reasons))}.values())[::-1]


# What is queued for one contact, and what is withdrawn before anyone has read it.

TELLS: tuple[ItemKind, ...] = ("first", "update", "correction")
ALWAYS_GOES = ("daily",)  # asked for at a time of day, also within quiet hours


class OutboxEditor:
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
        self._rows: list[OutboxRow] | None = None
        self._read: list[tuple[int, str]] | None = None

    @property
    def channels(self) -> range:
        return range(1, len(self._contact.urls) + 1)

    def draft(self, told: Sequence[Item], reason: str, kind: str = "alert") -> Draft:
        """The content and the state of a row: held in quiet hours, unless it is a `stop`."""
        severity = worst(told)
        until = None
        if severity < Severity.STOP and kind not in ALWAYS_GOES:
            until = quiet_until(self._now, self._quiet, self._reader.zone)
        if until is not None:
            reason = Why.QUIET_HOURS
        state = "held" if until else "waiting"
        ids = finding_ids(told)
        day = self._day_of(self._reader, until or self._now)
        told = [replace(one, day=day or one.day) for one in told]
        return Draft(severity, to_text(told), ids, state, reason, until)

    def queue_item(
        self, channel: int, told: Item, reason: str, *, kind: str = "alert", once: str | None = None
    ) -> None:
        """Queue an alert on one channel, within one that nobody has read yet where it is about the same."""
        if kind == "alert":
            for row in self._unread(channel, [told.about]):
                parts = from_text(row.items)
                mates = [part for part in parts if part.about == told.about and part.kind in TELLS]
                if row.state != "failed" and mates and told.kind in TELLS:
                    merged = _merged(mates[0], told.findings)
                    self._rewrite(row, [merged if part is mates[0] else part for part in parts], row.reason)
                    return
        row = outbox.insert(
            self._con,
            self.draft([told], reason, kind),
            athlete=self._athlete,
            contact=self._contact.id,
            channel=channel,
            channel_shown=shown(self._contact.urls[channel - 1]),
            kind=kind,
            created_at=self._now,
            once=once,
        )
        if self._rows is not None and row.findings:
            self._rows.append(row)

    def replace_finding(
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
            parts = from_text(row.items)
            if (given_up or row.state != "failed") and any(_holds(part, ids, kinds) for part in parts):
                changed = [_merged(part, [new], ids) if _holds(part, ids, kinds) else part for part in parts]
                self._rewrite(row, changed, reason or row.reason)
                return True
        return False

    def withdraw_finding(self, channel: int, ids: Collection[str], kinds: Collection[ItemKind] = TELLS) -> None:
        """Take a finding, or what takes it back, out of the rows that nobody has read."""
        for row in self._unread(channel, ids):
            parts = from_text(row.items)
            if not any(_holds(part, ids, kinds) for part in parts):
                continue
            left = [kept for part in parts if (kept := _without(part, ids, kinds)) is not None]
            if left:
                self._rewrite(row, left, row.reason)
            else:
                self._rows = [other for other in self._rows or () if other.id != row.id]
                outbox.drop(self._con, row.id)

    def has_unread(self, ids: Collection[str]) -> bool:
        """Whether any channel has a row with the finding that nobody has read."""
        return any(set(ids) & set(row.findings) for channel in self.channels for row in self._unread(channel, ids))

    def read(self, ids: Collection[str]) -> dict[int, int]:
        """channel -> the severity under which a finding was last sent there, 0 if it was taken back since."""
        found: dict[int, int] = {}
        if self._read is None:
            self._read = outbox.read_findings(self._con, self._athlete, self._contact.id)
        numbers = [number for number, named in self._read if any(finding_id in named for finding_id in ids)]
        for channel, text in outbox.items_of(self._con, numbers) if numbers else ():
            for entry in from_text(text):
                for finding in entry.findings:
                    if finding.id in ids:
                        found[channel] = 0 if entry.kind == "taken_back" else int(finding.severity)
        return found

    def _unread(self, channel: int, named: Collection[str]) -> list[OutboxRow]:
        """The channel's unread rows whose items contain any of these ids or subjects, with the changes made here."""
        if self._rows is None:
            rows = outbox.unread(self._con, self._athlete)
            self._rows = [row for row in rows if row.contact == self._contact.id]
        return [
            row for row in self._rows if row.channel == channel and any(finding_id in row.items for finding_id in named)
        ]

    def _rewrite(self, row: OutboxRow, told: Sequence[Item], reason: str) -> None:
        """New content for a row. A row that was given up stays so; one with a `stop` is not held any more."""
        made = self.draft(told, reason, row.kind)
        if row.state == "failed":
            made = replace(made, state="failed", reason=row.reason, not_before=None)
        outbox.rewrite(self._con, row.id, made)
        changed = replace(row, items=made.items, findings=made.findings, state=made.state, reason=made.reason)
        kept = [changed if other.id == row.id else other for other in self._rows or ()]
        self._rows = [other for other in kept if other.findings]


def _holds(one: Item, ids: Collection[str], kinds: Collection[ItemKind]) -> bool:
    return one.kind in kinds and any(finding.id in ids for finding in one.findings)


def _merged(one: Item, findings: Iterable[Finding], without: Collection[str] = ()) -> Item:
    new = {finding.id: finding for finding in findings}
    kept = [finding for finding in one.findings if finding.id not in new and finding.id not in without]
    return item(one.kind, one.about, [*kept, *new.values()], one.replaces)


def _without(one: Item, ids: Collection[str], kinds: Collection[ItemKind]) -> Item | None:
    if not _holds(one, ids, kinds):
        return one
    left = [finding for finding in one.findings if finding.id not in ids]
    return item(one.kind, one.about, left, one.replaces) if left else None
