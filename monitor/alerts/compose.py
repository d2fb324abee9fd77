"""The words of an alert. The first line is everything: it is read on a locked telephone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.alerts.items import Item, from_text, worst
from monitor.alerts.news_words import words_of
from monitor.alerts.readers import Reader, reader_of
from monitor.alerts.words import (
    SEVERITY_WORDS,
    TITLE_LENGTH,
    against,
    clean,
    in_passing,
    lines,
    place,
    sentence,
    shorten,
    when,
)  # fmt: skip
from monitor.roster import Contact, Roster
from monitor.store.outbox import OutboxRow
from rules.advice import advice_for, cautions
from rules.findings import Finding, Severity

MOST_SHOWN = 10
NOTHING_ADVISED = {
    Severity.STOP: "Do no more today; rest.",
    Severity.CAUTION: "Make the rest of today easier, shorter, or a rest day.",
    Severity.NOTE: "Nothing to do; for the record.",
}


@dataclass(frozen=True, slots=True)
class Message:
    title: str
    body: str


def message_of(row: OutboxRow, roster: Roster) -> Message:
    """A row in words for its contact, by the roster as it is now."""
    contact = roster.contact(row.contact) or Contact(row.contact, row.contact, ())
    return compose(from_text(row.items), reader_of(roster, row.athlete, contact))


def compose(items: Sequence[Item], reader: Reader) -> Message:
    """Title and body of what goes to one reader in one message."""
    if len(items) == 1:
        return Message(_title(items[0], reader), "\n".join(_body(items[0], reader, alone=True)))
    ordered = sorted(items, key=lambda one: -one.severity)
    return Message(_title_of_many(ordered, reader), _body_of_many(ordered, reader))


def _title(item: Item, reader: Reader) -> str:
    if item.kind in ("news", "text"):
        return clean(_told(item, reader)[0], TITLE_LENGTH)
    if item.kind == "taken_back" and item.findings[0].rule == "gone_quiet":
        return (f"{reader.called}: " if reader.role == "coach" else "") + "files arrive again"
    if item.kind == "taken_back":
        return "Taken back: " + _subject(item, reader)
    head = "Update: " if item.kind == "update" else ""
    return f"{head}{SEVERITY_WORDS[item.severity]} – {_subject(item, reader)}"


def _subject(item: Item, reader: Reader) -> str:
    """What happened, to whom, where in the plan."""
    if item.kind in ("news", "text"):
        return in_passing(_told(item, reader)[0])
    first = item.findings[0]
    who = f"{reader.called}: " if reader.role == "coach" else ""
    more = f"; {len(item.findings) - 1} more" if len(item.findings) > 1 else ""
    tail = f" ({place(first)}{more})"
    return who + shorten(in_passing(first.summary), TITLE_LENGTH - len(who) - len(tail)) + tail


def _told(item: Item, reader: Reader) -> tuple[str, str]:
    """Title and body of what is no finding."""
    return words_of(item.news, reader) if item.news is not None else (item.title, item.body)


def _title_of_many(items: Sequence[Item], reader: Reader) -> str:
    who = f"{reader.called}: " if reader.role == "coach" and reader.called else ""
    subject = _subject(items[0], reader).removeprefix(who)
    what = "messages" if any(one.kind in ("news", "text") for one in items) else "alerts"
    return f"{SEVERITY_WORDS[worst(items)]} – {who}{len(items)} {what}, worst: {subject}"


def _body(item: Item, reader: Reader, *, alone: bool) -> list[str]:
    if item.kind in ("news", "text"):
        return [lines(_told(item, reader)[1])]
    if item.kind == "taken_back":
        return _taken_back(item, reader)
    told = _for_athlete(item, reader) if reader.role == "athlete" else _for_coach(item, reader)
    if item.kind == "update" and alone:
        told.insert(1, "This adds to what you were told before.")
    if reader.role == "athlete" and alone:
        told += cautions(item.severity)
    return [*told, _details(item, reader)]


def _details(item: Item, reader: Reader) -> str:
    """Where the numbers are: an athlete who has no program asks the coach by the number of the finding."""
    ask = f"ask {reader.coach}, or " if reader.role == "athlete" and reader.coach else ""
    return f"Details: {ask}fallow explain {item.findings[0].id}"


def _for_athlete(item: Item, reader: Reader) -> list[str]:
    first, others = item.findings[0], item.findings[1:]
    told = [sentence(first.summary), f"{when(first, reader.zone)}; {place(first)}."]
    told += [sentence(measure)] if (measure := against(first)) else []
    told.append("Now: " + _advice(item))
    return told + _also(others) + _assumed(item)


def _for_coach(item: Item, reader: Reader) -> list[str]:
    first, others = item.findings[0], item.findings[1:]
    told = [sentence(first.summary), f"{reader.name}, {place(first)}; {when(first, reader.zone)}."]
    told += [sentence(measure)] if (measure := against(first)) else []
    told += _also(others)
    told.append("Now: " + _to_the_coach(first) if first.rule == "gone_quiet" else "Advised: " + _advice(item))
    return told + _assumed(item)


def _taken_back(item: Item, reader: Reader) -> list[str]:
    if item.findings[0].rule == "gone_quiet":
        return ["The silence is over; what arrived is judged as always."]
    told = ["No longer holds: " + sentence(one.summary) for one in item.findings]
    told.append(
        f"{when(item.findings[0], reader.zone)}. Newer data does not bear it out; the limits of the stage still apply."
    )
    return [*told, _details(item, reader)]


def _also(findings: Sequence[Finding]) -> list[str]:
    return [f"Also {SEVERITY_WORDS[one.severity].lower()}: {sentence(one.summary)} ({one.id})" for one in findings]


def _advice(item: Item) -> str:
    advice = dict.fromkeys(sentence(words) for one in item.findings for words in one.advice)
    return " ".join(list(advice)[:4]) or NOTHING_ADVISED[item.severity]


def _to_the_coach(finding: Finding) -> str:
    """What the coach can do where the athlete is not there to be advised."""
    return " ".join(advice_for(finding.rule)[0].coach)


def _assumed(item: Item) -> list[str]:
    """What the numbers rest on."""
    assumed = [each for one in item.findings for each in one.evidence.get("assumed", ()) if isinstance(each, str)]
    return ["Assumes: " + in_passing(each) + "." for each in list(dict.fromkeys(assumed))[:2]]


def _body_of_many(items: Sequence[Item], reader: Reader) -> str:
    parts = [_part(index, one, reader) for index, one in enumerate(items[:MOST_SHOWN], start=1)]
    if len(items) > MOST_SHOWN:
        parts.append(f"And {len(items) - MOST_SHOWN} more: fallow findings {reader.athlete}")
    told = [one for one in items if one.kind in ("first", "update")]
    if reader.role == "athlete" and (usual := cautions(worst(told))):
        parts.append("\n".join(usual))
    return "\n\n".join(parts)


def _part(index: int, item: Item, reader: Reader) -> str:
    """One of several: its title, then its text without what the title says already."""
    title, body = _title(item, reader), _body(item, reader, alone=False)
    if item.findings and in_passing(item.findings[0].summary) in title and item.kind != "taken_back":
        body = body[1:]
    return "\n".join([f"{index}. {title}", *body])
