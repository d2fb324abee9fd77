"""An athlete's plan as an iCalendar file (RFC 5545), for a calendar program to open or to subscribe to.

Every entry is of whole days: dates without a clock are the athlete's own wherever the telephone is, and no change of
clocks moves them. An entry keeps its UID for good, and its SEQUENCE rises whenever its days or words change; that is
kept in the store and the journal, so that it rises on after a rebuild. What has not changed gives the same bytes.
"""

from __future__ import annotations

import hashlib
import uuid
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any, Literal

import icalendar

from monitor import words
from monitor.home import Home
from monitor.judging import View, view
from monitor.plain_text import plain, sentence
from monitor.roster import Roster, RosterAthlete
from monitor.store import findings
from monitor.store.database import Store
from monitor.store.findings import Numbered
from monitor.store.journal import Journal
from monitor.views.plan import stage_lines, stage_view
from rules import words as rule_words
from rules.catalogue import cautions
from rules.day import Decision, decide, foresee
from rules.day.decision import Audience
from rules.facts import Hold
from rules.findings import Severity
from rules.history import in_order
from rules.limits import Limits, default_limits
from rules.plan import GateRecord, Plan
from rules.plan.build import ruling_on
from rules.words import amounts

# What a calendar shows of an athlete's plan: the race, stages as spans, the days to come, gates and holds. Values
# only: which days, in which words. The words of a day are those of the one decision (`rules.day`), those of a stage
# are those of the plan.

ONE = timedelta(days=1)
Kind = Literal["race", "stage", "day", "gate", "hold", "release"]
BODILY = frozenset({"red flag", "check-in", "morning"})
"""What shuts a gate and tells of the body."""


@dataclass(frozen=True, slots=True)
class CalendarEntry:
    """One entry of all-day spans. `subject` says what it is about and stays the same wherever it moves."""

    kind: Kind
    subject: str
    first: date
    last: date  # inclusive
    title: str
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CalendarView:
    name: str
    about: str
    entries: tuple[CalendarEntry, ...]


def calendar_view(made: View, now: datetime, limits: Limits, *, body: bool) -> CalendarView:
    """The plans that are not over, and the one that is shown; `body` lets reasons in that tell of the body."""
    athlete = made.athlete.athlete
    today = athlete.local_date(now)
    plans = [plan for plan in made.judgement.plans if plan.last_date >= today or plan is made.judgement.current]
    entries: list[CalendarEntry] = []
    for plan in plans:
        entries += [_race(plan), *_stages(plan), *_gates(plan, today, body=body)]
    entries += _days(made, plans, now, limits, body=body)
    entries += _overrides(plans, today, body=body)
    *_, above = cautions(Severity.CAUTION, coached=athlete.coached)
    about = words.status.CALENDAR_AS_KNOWN.format(above=above)
    return CalendarView(words.status.CALENDAR_NAME.format(name=athlete.name or athlete.id), about, tuple(entries))


def _race(plan: Plan) -> CalendarEntry:
    return CalendarEntry("race", f"{plan.day0}", plan.day0, plan.day0, _capital(words.shared.race_name(plan.race)))


def _stages(plan: Plan) -> Iterator[CalendarEntry]:
    shut = any(gate.until is None for gate in plan.gates)
    for stage in plan.stages:
        ahead = shut and stage.first_date > plan.as_of
        title = _capital(words.shared.stage_words(stage.stage)) + (words.status.AT_THE_EARLIEST if ahead else "")
        days = words.status.STAGE_DAYS.format(first_day=stage.first_day, last_day=stage.last_day, length=plan.last_day)
        held = (
            [words.status.LONGER_THAN_PLANNED.format(held_days=amounts.counted(stage.held_days, "day"))]
            if stage.held_days
            else []
        )
        rows = [sentence(f"{label}: {text}") for label, text in stage_lines(stage_view(stage), beats=False)]
        subject = f"{plan.day0}/{stage.stage}"
        yield CalendarEntry("stage", subject, stage.first_date, stage.last_date, title, (days, *held, *rows))


def _days(made: View, plans: Sequence[Plan], now: datetime, limits: Limits, *, body: bool) -> Iterator[CalendarEntry]:
    """From today on; what was, the plan and the findings tell."""
    athlete, facts = made.athlete.athlete, in_order(made.history, limits)
    today = athlete.local_date(now)
    audience = Audience("athlete", athlete.coached, words.shared.short_moment(made.athlete.clock), body)
    decision = decide(made.judgement, facts, now, limits)
    waits = any(reason.until is None for reason in decision.reasons)
    if decision.active:
        yield _day(decision, rule_words.day.answer(decision, audience.clock, body=body), audience)
    last = max((plan.last_date for plan in plans), default=today)
    on = max(today, min((plan.day0 for plan in plans), default=today)) + ONE
    while on <= last:
        if ruling_on(plans, on) is not None:
            coming = foresee(made.judgement, facts, on, limits)
            yield _day(coming, _coming(coming, audience, waits=waits), audience)
        on += ONE


def _coming(decision: Decision, audience: Audience, *, waits: bool) -> str:
    """A day to come in one phrase. `waits`: what keeps the athlete from sport today is ended by an answer, by no clock.

    Which of two following days is run on is not known yet.
    """
    said = rule_words.day.answer(decision, audience.clock, body=audience.body)
    if decision.runs and decision.allowance is not None and decision.allowance.rest_day_between_runs:
        said += words.status.UNLESS_RAN_YESTERDAY
    return words.status.IF_NOTHING_HOLDS_BACK.format(said=said) if waits else said


def _day(decision: Decision, said: str, audience: Audience) -> CalendarEntry:
    text = [word for word in rule_words.day.now_words(decision, audience) if word.rstrip(".").lower() != said.lower()]
    lines = (*text, *rule_words.today.stage_has(decision, body=audience.body))
    return CalendarEntry(
        "day", decision.date.isoformat(), decision.date, decision.date, f"Day {decision.day}: {said}", lines
    )


def _gates(plan: Plan, today: date, *, body: bool) -> Iterator[CalendarEntry]:
    for gate in plan.gates:
        last = gate.until - ONE if gate.until else max(today, gate.since)
        reasons = [shut for shut in gate.reasons if body or shut.by not in BODILY]
        lines = [sentence(shut.reason) for shut in reasons]
        if gate.until is None:
            lines += [sentence(words.status.WHAT_OPENS.format(asks=shut.asks)) for shut in reasons]
            lines += _elsewhere(gate, len(reasons))
        title = _capital(words.shared.wait_words(gate.before))
        yield CalendarEntry("gate", f"{plan.day0}/{gate.before}", gate.since, last, title, tuple(dict.fromkeys(lines)))


def _elsewhere(gate: GateRecord, told: int) -> list[str]:
    return [] if told == len(gate.reasons) else [words.status.WHY_IS_IN_MESSAGES]


def _overrides(plans: Sequence[Plan], today: date, *, body: bool) -> Iterator[CalendarEntry]:
    """Holds as long as they hold, releases on their day. The reason is the coach's own words, mostly about the body."""
    given = list(dict.fromkeys(hold for plan in plans for hold in plan.holds))
    releases = [override for override in given if override.kind == "release"]
    times: Counter[tuple[str, datetime]] = Counter()
    for override in given:
        times[override.kind, override.at] += 1
        again = times[override.kind, override.at]
        by = f" by {override.by}" if override.by else ""
        lines = (sentence(override.why),) if body and override.why else ()
        subject = override.at.isoformat() if again == 1 else f"{override.at.isoformat()}/{again}"
        if override.kind == "release":
            yield CalendarEntry("release", subject, override.on, override.on, f"Released{by}", lines)
            continue
        how_long = amounts.counted(override.days, "day") if override.days else "until released"
        yield CalendarEntry(
            "hold", subject, override.on, _held_to(override, releases, today), f"Held{by}, {how_long}", lines
        )


def _held_to(hold: Hold, releases: Sequence[Hold], today: date) -> date:
    ends = [release.on for release in releases if release.at > hold.at and release.on >= hold.on]
    last = hold.on + timedelta(days=hold.days - 1) if hold.days else max(today, hold.on)
    return min([last, *ends])


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


FETCH_AGAIN = timedelta(hours=1)
"""How often subscribers are asked to look; many look less often."""
NAMES = uuid.UUID("5d3a5c0e-4a53-4e0e-9f4c-8d7b0f6c2f11")
"""Of the entries' UIDs; another one would make every entry a new one."""
MARK_LENGTH = 16


@dataclass(frozen=True, slots=True)
class NumberedEntry:
    """An entry with its UID and what became of it."""

    entry: CalendarEntry
    uid: str
    number: Numbered


@dataclass(frozen=True, slots=True)
class AthletesCalendar:
    athlete: RosterAthlete
    shown: CalendarView
    kept: tuple[NumberedEntry, ...]


def calendar_of(
    home: Home, roster: Roster, athlete: RosterAthlete, now: datetime, *, body: bool = False
) -> AthletesCalendar:
    """The calendar of a moment, its entries numbered. With `body` also what tells of the body, under UIDs of its own.

    Writes to the store and the journal only where an entry has changed since it was last asked for.
    """
    store, limits = Store(home.made().store), default_limits()
    with store.reading() as con:
        made = view(con, roster, athlete, now, limits)
        known = findings.calendar_numbers(con, athlete.id)
    shown = calendar_view(made, now, limits, body=body)
    uids = [uid_of(athlete.id, entry, body=body) for entry in shown.entries]
    if _changed(uids, shown.entries, known, now):
        with store.writing() as con:
            known = findings.calendar_numbers(con, athlete.id)
            changed = _changed(uids, shown.entries, known, now)
            findings.number_entries(con, athlete.id, changed)
            Journal(home.journal).calendar(athlete.id, changed, now)
        known = {**known, **changed}
    kept = tuple(NumberedEntry(entry, uid, known[uid]) for uid, entry in zip(uids, shown.entries, strict=True))
    return AthletesCalendar(athlete, shown, kept)


def uid_of(athlete_id: str, entry: CalendarEntry, *, body: bool) -> str:
    """The same for the same entry for good, whatever its days and words."""
    parts = (athlete_id, entry.kind, entry.subject, "body" if body else "")
    return str(uuid.uuid5(NAMES, "\x1f".join(parts)))


def _changed(
    uids: Sequence[str], entries: Sequence[CalendarEntry], known: dict[str, Numbered], now: datetime
) -> dict[str, Numbered]:
    """Those that are new or say something else than before, with their next number."""
    found: dict[str, Numbered] = {}
    for uid, entry in zip(uids, entries, strict=True):
        before, mark = known.get(uid), _mark(entry)
        if before is None:
            found[uid] = Numbered(0, mark, now)
        elif before.mark != mark:
            found[uid] = Numbered(before.sequence + 1, mark, max(now, before.changed_at))
    return found


def _mark(entry: CalendarEntry) -> str:
    said = (entry.first.isoformat(), entry.last.isoformat(), entry.title, *entry.lines)
    return hashlib.sha256("\x1f".join(said).encode()).hexdigest()[:MARK_LENGTH]


def as_json(made: AthletesCalendar) -> dict[str, Any]:
    """The entries in the shape of `calendar --json`."""
    return {
        "athlete": made.athlete.id,
        "name": made.shown.name,
        "entries": [
            {
                "uid": entry.uid,
                "sequence": entry.number.sequence,
                "kind": entry.entry.kind,
                "first_date": entry.entry.first.isoformat(),
                "last_date": entry.entry.last.isoformat(),
                "title": entry.entry.title,
                "lines": list(entry.entry.lines),
            }
            for entry in made.kept
        ],
    }


def as_icalendar(made: AthletesCalendar) -> bytes:
    """The file: folded lines, escaped texts, CRLF."""
    shown, zone = made.shown, made.athlete.athlete.timezone
    calendar = icalendar.Calendar()
    calendar.add("prodid", "-//fallow//the way back//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    for name in ("name", "x-wr-calname"):
        calendar.add(name, icalendar.vText(plain(shown.name)))
    for name in ("description", "x-wr-caldesc"):
        calendar.add(name, icalendar.vText(plain(shown.about)))
    calendar.add("x-wr-timezone", zone)
    calendar.add("refresh-interval", FETCH_AGAIN, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", icalendar.vDuration(FETCH_AGAIN))
    for entry in made.kept:
        calendar.add_component(_event(entry))
    return bytes(calendar.to_ical())


def _event(kept: NumberedEntry) -> icalendar.Event:
    entry, number = kept.entry, kept.number
    event = icalendar.Event()
    event.add("uid", kept.uid)
    event.add("sequence", number.sequence)
    event.add("dtstamp", number.changed_at.astimezone(UTC))
    event.add("last-modified", number.changed_at.astimezone(UTC))
    event.add("dtstart", entry.first)
    event.add("dtend", entry.last + timedelta(days=1))  # the first day that is not of it any more
    event.add("summary", plain(entry.title))
    if entry.lines:
        event.add("description", "\n".join(plain(line) for line in entry.lines))
    event.add("categories", [entry.kind])
    event.add("transp", "TRANSPARENT")  # keeps nobody from being free
    event.add("class", "PRIVATE")
    return event
