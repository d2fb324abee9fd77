"""Composes a message. The title says who, how grave and what; the first line of the text says what to do now."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from monitor import words
from monitor.alerts.outbox_editor import DayTold, Item, finding_ids, from_text, reader_of, worst
from monitor.news import Reader, StageBegins, StageHeld, Trouble
from monitor.plain_text import TITLE_LENGTH, capital, clean, clean_sentence, in_passing, lines, shorten
from monitor.roster import Contact, Roster
from monitor.store.outbox import OutboxRow
from rules import words as rule_words
from rules.catalogue import advice_of, cautions, gravest_class, what_then
from rules.findings import Finding, Severity
from rules.history import OF_RUNNING
from rules.limits import default_limits

MOST_LETTERS = 1500
"""Length of a text: longer ones are not read, and several services cut them."""
POINTER_LENGTH = 80
MOST_REASONS = 2
TOLD = ("first", "update", "correction")
SAYS_ITSELF = ("gone_quiet", "see_a_doctor")
"""Rules whose advice comes before what the day allows: to call, to phone, to see a doctor."""
NOTHING_ADVISED = {
    Severity.STOP: words.sending.DO_NO_MORE_TODAY,
    Severity.CAUTION: words.sending.EASE_TODAY,
    Severity.NOTE: words.sending.NOTHING_TO_DO,
}


@dataclass(frozen=True, slots=True)
class Message:
    title: str
    body: str


def message_of(row: OutboxRow, roster: Roster, now: datetime | None = None) -> Message:
    """A row in words for its contact, by the roster as it is now, to be read at `now`."""
    contact = roster.contact(row.contact) or Contact(row.contact, row.contact, ())
    moment = now or row.not_before or row.created_at
    return compose(from_text(row.items), reader_of(roster, row.athlete, contact), moment)


def compose(items: Sequence[Item], reader: Reader, now: datetime) -> Message:
    """Title and text of what goes to one reader in one message that is read at `now`."""
    today = now.astimezone(reader.zone).date()
    ordered = sorted(items, key=lambda item: -item.severity)
    parts = [_part(item, reader, today) for item in ordered]
    return Message(_title(ordered, reader), _text(ordered, parts, reader, today))


def _title(items: Sequence[Item], reader: Reader) -> str:
    """The title of the gravest item, and how many more there are."""
    first = items[0]
    more = f", and {len(items) - 1} more" if len(items) > 1 else ""
    if first.kind in ("news", "text"):
        title = capital(clean(_told(first, reader)[0], TITLE_LENGTH))
        grave = f"{words.shared.SEVERITY_WORDS[worst(items)]} – " if len(items) > 1 else ""
        return f"{grave}{title}{more}"
    tail = _where(first.findings[0]) + more
    head = _head(first) + reader.who
    return head + shorten(_subject(first, reader), TITLE_LENGTH - len(head) - len(tail)) + tail


def _head(item: Item) -> str:
    if item.kind == "taken_back":
        return "Taken back: " if item.findings[0].rule != "gone_quiet" else ""
    before = {"update": "Update: ", "correction": "Correction: "}.get(item.kind, "")
    return f"{before}{words.shared.SEVERITY_WORDS[item.severity]} – "


def _where(finding: Finding) -> str:
    if finding.rule == "gone_quiet":
        return ""
    return f" ({words.shared.place(finding)})" if finding.stage == "before" else f" (day {finding.day})"


def _subject(item: Item, reader: Reader) -> str:
    """What happened, in a few words."""
    first = item.findings[0]
    if item.kind == "taken_back" and first.rule == "gone_quiet":
        return words.sending.FILES_ARRIVE_AGAIN
    call = first_call(first, reader) if item.kind in TOLD else ""
    return call + words.findings.happened(first, reader).title


def _told(item: Item, reader: Reader) -> tuple[str, str]:
    """Title and body of what is no finding."""
    return words.news.words_of(item.news, reader) if item.news is not None else (item.title, item.body)


@dataclass(frozen=True, slots=True)
class _Part:
    """What one item says: what must be there, and what may be left to where the details are."""

    must: tuple[str, ...]
    may: tuple[str, ...] = ()
    advised: tuple[str, ...] = ()
    full: str = ""  # what `must` says, where no title stands above it


def _part(item: Item, reader: Reader, today: date) -> _Part:
    if item.kind in ("news", "text"):
        return _Part((), (), tuple(lines(_told(item, reader)[1]).splitlines()))
    if item.kind == "taken_back":
        return _taken_back(item, reader)
    first, others = item.findings[0], item.findings[1:]
    advised = advice(item.findings, reader, today) or (NOTHING_ADVISED[item.severity],)
    moment, said = words.shared.when(first, reader.zone, reader.face), words.findings.happened(first, reader)
    must = f"{moment}: {said.more}" if said.more else f"{moment}."
    full = f"{moment}: {said.text}"
    also = [
        f"Also {words.shared.SEVERITY_WORDS[finding.severity].lower()}: {words.findings.happened(finding, reader).text}"
        for finding in others
    ]
    return _Part((must,), (*_earlier(item, reader), *also, *_assumed(item)), advised, full)


def _earlier(item: Item, reader: Reader) -> list[str]:
    """What was told before, where this adds to it or puts it right."""
    if item.kind == "update":
        return [words.sending.ADDS_TO_EARLIER]
    return [
        words.sending.TOLD_BEFORE.format(title=in_passing(words.findings.happened(finding, reader).title))
        for finding in item.replaces
    ]


def _taken_back(item: Item, reader: Reader) -> _Part:
    if item.findings[0].rule == "gone_quiet":
        return _Part((), (), (words.sending.SILENCE_IS_OVER,))
    told = tuple(
        f"{words.shared.when(finding, reader.zone, reader.face)}: {words.findings.happened(finding, reader).text}"
        for finding in item.findings
    )
    signs = any(finding.rule == "see_a_doctor" for finding in item.findings)
    call = words.sending.SIGN_CORRECTED if signs else words.sending.NOTHING_MORE_TO_DO
    return _Part((), (words.sending.NO_LONGER_HOLDS, *told), (call,))


def _assumed(item: Item) -> list[str]:
    """What was assumed for the numbers."""
    unsure = [finding for finding in item.findings if finding.evidence.get("threshold_confidence") != "high"]
    told = [one for finding in unsure for one in finding.evidence.get("assumed", ()) if isinstance(one, str | dict)]
    assumed = dict.fromkeys(map(rule_words.said, told))
    return ["Assumes: " + in_passing(text) + "." for text in list(assumed)[:2]]


def _text(items: Sequence[Item], parts: Sequence[_Part], reader: Reader, today: date) -> str:
    """What to do now, what happened, what to watch; then the rest as far as it fits, the others being counted."""
    first, others = parts[0], list(zip(items[1:], parts[1:], strict=True))
    about_day = first.must or isinstance(items[0].news, StageBegins | StageHeld)
    own = any(finding.rule in SAYS_ITSELF for finding in items[0].findings)
    day = _day(items, today) if about_day and not own else None
    end = _end(items, reader)
    paper = _MessageText(MOST_LETTERS - sum(len(line) + 1 for line in end) - POINTER_LENGTH)
    paper.put(_now(day, items, first, reader, today))
    paper.put(*first.must)
    paper.put(*([" ".join(paper.unsaid(first.advised))] if first.must else first.advised))
    paper.may(" ".join(_why(day, items)) if day and first.must else "")
    left = sum(not paper.may(line) for line in first.may)
    left += sum(not paper.may(_numbered(index, *other, reader)) for index, other in enumerate(others, start=2))
    if left:
        where = "" if reader.url else f": fallow findings {reader.athlete}".rstrip()
        end.insert(0, f"And {left} more{where}")
    return "\n".join([*paper.lines, *end])


def _numbered(index: int, item: Item, part: _Part, reader: Reader) -> str:
    """One of several: how grave, what, and what to do about it."""
    if item.kind in ("news", "text"):
        return f"{index}. {clean_sentence(_told(item, reader)[0])} {' '.join(part.advised)}"
    head = "Taken back. " if item.kind == "taken_back" else f"{words.shared.SEVERITY_WORDS[item.severity]}, "
    return f"{index}. {head}" + " ".join([*([part.full] if part.full else part.may), *part.advised])


def _day(items: Iterable[Item], today: date) -> DayTold | None:
    """What the day allows, if that was decided for the day on which this is read."""
    return next((item.day for item in reversed(list(items)) if item.day is not None and item.day.on == today), None)


def _now(day: DayTold | None, items: Sequence[Item], part: _Part, reader: Reader, today: date) -> str:
    """The first line: what the day allows, or what the advice says where that is not known."""
    if day is not None:
        called = reader.role == "coach" and day.now == (clean_sentence(day.answer),)
        return f"{reader.called} now: {day.answer}." if called else " ".join(day.now)
    if not part.must or not part.advised:
        return ""
    first = items[0].findings[0]
    new = first.subject_kind == "session" and first.date >= today and reader.role == "athlete"
    return NOTHING_ADVISED[first.severity] if new and first.severity > Severity.NOTE else part.advised[0]


def _why(day: DayTold, items: Sequence[Item]) -> list[str]:
    """Why the day allows no more, unless the message is about that finding itself, and what ends it."""
    known = set(finding_ids(items))
    why = [said for finding, said in day.why if finding not in known]
    return [*why[:MOST_REASONS], *day.ends[:MOST_REASONS]]


def _end(items: Sequence[Item], reader: Reader) -> list[str]:
    """The usual cautions, and where the numbers are: the reader's own page of the finding or of the day.

    Where there are no pages an athlete asks by the finding's number.
    """
    told = [item for item in items if item.kind in TOLD]
    usual = list(usual_cautions(worst(told), reader)) if told else []
    named = [finding for item in items for finding in item.findings]
    if reader.url and not isinstance(items[0].news, Trouble):
        found = [finding.id for item in told for finding in item.findings]
        return [*usual, f"{'Details' if found else 'Your page'}: {page_of(reader.url, found[0] if found else '')}"]
    if not named:
        return usual
    ask = f"ask {reader.coach}, or " if reader.role == "athlete" and reader.coach else ""
    return [*usual, words.sending.DETAILS.format(ask=ask, id=named[0].id)]


def page_of(url: str, finding: str = "") -> str:
    """The address of a finding, or of the day. It is the same for all readers; the pages check who may open it."""
    return f"{url}/f/{finding}" if finding else f"{url}/"


class _MessageText:
    """Collects lines up to a length; no line twice, and none cut."""

    def __init__(self, room: int) -> None:
        self.lines: list[str] = []
        self._room = room

    def put(self, *told: str) -> None:
        """Add lines, whether they fit or not."""
        for line in told:
            if line and line not in self.lines:
                self.lines.append(line)
                self._room -= len(line) + 1

    def may(self, line: str) -> bool:
        """Add a line if it fits; whether it did."""
        if len(line) + 1 > self._room:
            return False
        self.put(line)
        return True

    def unsaid(self, sentences: Iterable[str]) -> list[str]:
        """The sentences that no line contains yet."""
        return [sentence for sentence in sentences if not any(sentence in line for line in self.lines)]


# Which advice one reader gets: the athlete's or the coach's, of today or of a day that is over.

MOST_SENTENCES = 4
BY_PHONE = {"before_sport": "phone today"}


def advice(findings: Sequence[Finding], reader: Reader, today: date) -> tuple[str, ...]:
    """Whole sentences, each once, the gravest finding's first."""
    running = [finding for finding in findings if finding.rule in OF_RUNNING]
    apart = [
        finding for finding in findings if finding not in running[1:]
    ]  # several findings on running need only one piece of advice
    said = [text for finding in apart for text in _of_one(finding, reader, today)]
    return tuple(dict.fromkeys(clean_sentence(text) for text in said))[:MOST_SENTENCES]


def _of_one(finding: Finding, reader: Reader, today: date) -> tuple[str, ...]:
    if finding.rule == "gone_quiet" and finding.evidence.get("ever") is False:
        return what_then("never_came", reader.role, coached=reader.coached)
    if finding.date < today and (past := what_then(finding.rule, reader.role, coached=reader.coached)):
        return past
    return advice_of(finding, default_limits(), reader.role, coached=reader.coached)


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
