"""Who reads a message, about whom, and which advice that reader gets."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import lru_cache
from zoneinfo import ZoneInfo

from monitor import words
from monitor.news import Reader
from monitor.plain_text import clean, clean_sentence, isolated
from monitor.roster import Contact, Roster
from rules import words as rule_words
from rules.catalogue import cautions, gravest_class, what_now, what_then
from rules.day import Audience
from rules.findings import Finding, Severity
from rules.history import OF_RUNNING
from rules.limits import default_limits

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


# Which advice one reader gets: the athlete's or the coach's, of today or of a day that is over.

MOST_SENTENCES = 4
BY_PHONE = {"before_sport": "phone today"}


def advice(findings: Sequence[Finding], reader: Reader, today: date) -> tuple[str, ...]:
    """Whole sentences, each once, the gravest finding's first."""
    running = [finding for finding in findings if finding.rule in OF_RUNNING]
    apart = [
        finding for finding in findings if finding not in running[1:]
    ]  # several findings on running need only one piece of advice
    said = [text for one in apart for text in _of_one(one, reader, today)]
    return tuple(dict.fromkeys(clean_sentence(text) for text in said))[:MOST_SENTENCES]


def _of_one(finding: Finding, reader: Reader, today: date) -> tuple[str, ...]:
    if finding.rule == "gone_quiet" and finding.evidence.get("ever") is False:
        return what_then("never_came", reader.role, coached=reader.coached)
    if finding.date < today and (past := what_then(finding.rule, reader.role, coached=reader.coached)):
        return past
    about = gravest_class(finding.evidence)
    return what_now(
        finding.rule, finding.severity, finding.stage, default_limits(), reader.role,
        about=about, coached=reader.coached,
    ) or finding.advice  # fmt: skip


def first_call(finding: Finding, reader: Reader) -> str:
    """The beginning of a title where somebody must act at once; else empty."""
    about = gravest_class(finding.evidence)
    return f"{call_of(about, reader)}: " if about else ""


def call_of(about: str, reader: Reader) -> str:
    """What to do at once about a red flag of a class, in a few words."""
    return rule_words.day.CLASS_ANSWERS[about] if reader.role == "athlete" else BY_PHONE.get(about, "phone now")


def usual_cautions(severity: Severity, reader: Reader) -> tuple[str, ...]:
    """The cautions below advice; for athletes only, since a coach knows them."""
    return cautions(severity, coached=reader.coached) if reader.role == "athlete" else ()
