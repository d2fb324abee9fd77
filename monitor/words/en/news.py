"""The words of what is told and is no finding: a title and a body for one reader."""

from __future__ import annotations

from collections.abc import Sequence

from monitor import words
from monitor.news import (
    MOST_FILES_SHOWN,
    Daily,
    DigestRow,
    FilesUnreadable,
    FolderNews,
    MorningDigest,
    News,
    PastRead,
    PlanDone,
    Reader,
    StageBegins,
    StageHeld,
    Trouble,
)
from monitor.plain_text import capital, clean, clean_sentence
from monitor.words.en.shared import is_many, pace_of_speed, stage_words
from rules.words.en.amounts import counted, weekday

MOST_LETTERS = 1400
WALKS = "Short walks and gentle moving are fine; nothing has to be made up for."
KEEP_APART = "Nothing is limited from here on; keep hard days apart for some weeks yet."


def words_of(news: News, reader: Reader) -> tuple[str, str]:
    """Title and body."""
    match news:
        case FilesUnreadable():
            told = _unreadable(news, reader)
        case PastRead():
            told = _past_read(news, reader)
        case FolderNews():
            told = _folder(news, reader)
        case Trouble():
            told = "fallow needs a look", clean(words.of_stored(news.says))
        case StageBegins():
            told = reader.who + _began(news), "\n".join(_limits(news, reader))
        case StageHeld():
            told = f"{reader.who}{_waits(news)}", "\n".join(_why_and_until_when(news))
        case PlanDone():
            told = f"{reader.who}the plan after the race is done", "\n".join([KEEP_APART, *news.looked_back])
        case Daily():
            told = _daily(news, reader)
        case MorningDigest():
            told = digest_words(news, reader.url)
    return told


def _unreadable(news: FilesUnreadable, reader: Reader) -> tuple[str, str]:
    shown = [f"- {clean(path, 120)}" for path in news.paths[:MOST_FILES_SHOWN]]
    if news.count > len(shown):
        shown.append(f"and {news.count - len(shown)} more")
    title = f"{news.count} file{'s' if news.count > 1 else ''} could not be read"
    why = "" if reader.url else "; `fallow intake` says why each was not read"
    return title, "\n".join([f"Export anew what matters{why}.", *shown])


def _past_read(news: PastRead, reader: Reader) -> tuple[str, str]:
    late = f"{counted(news.late, 'finding')} older than {news.late_after_days:g} days"
    title = f"{reader.called}: {counted(news.sessions, 'session')} of the past read"
    kept = f"{late} {'are' if news.late != 1 else 'is'} on record, none sent"
    where = "" if reader.url else f"\nAll of them: fallow findings {reader.athlete}"
    return title, f"Nothing to do: {kept}.{where}"


def _folder(news: FolderNews, reader: Reader) -> tuple[str, str]:
    if not news.why:
        return f"The folder of {reader.name} is back", "Nothing to do: it is being read again."
    lost = "Nothing is lost; it is read again as soon as it is back. Until then nothing new of this athlete is seen."
    return f"The folder of {reader.name} is not there", f"Look for it: {clean(words.of_stored(news.why))}.\n{lost}"


def _began(news: StageBegins) -> str:
    text = stage_words(news.stage)
    since = f"on {weekday(news.first_date)}"
    begin = "begin" if is_many(text) else "begins"
    title = f"{text} began {since}" if news.first_date < news.noted_on else f"{text} {begin} today"
    return f"{title} (day {news.day} of {news.plan_days})"


def _limits(news: StageBegins, reader: Reader) -> list[str]:
    """What the stage has; what a day of it allows is another matter, and stands above."""
    time = f"The stage has up to {news.day_min} min a day" if news.day_min else "The stage has no cap on time"
    heart = f", heart rate up to {news.ceiling_bpm}" if news.ceiling_bpm else ""
    run = f", {news.run_min} min a run" if news.run_min else ""
    daily = "" if reader.url else "; `fallow today` says what each day of it has"
    return [
        f"{time}{heart}. Running: {news.running}{run}.",
        clean_sentence(f"strength: {news.strength}; speed work: {news.speed_work}"),
        f"It lasts to {weekday(news.last_date)}{daily}.",
    ]


def _waits(news: StageHeld) -> str:
    before = stage_words(news.before) if news.before != "done" else "the end of the plan"
    return f"{before} wait{'' if is_many(before) else 's'}"


def _why_and_until_when(news: StageHeld) -> list[str]:
    opens = [clean_sentence(f"what opens it: {'; '.join(news.asks)}")] if news.asks else []
    why = [clean_sentence(reason) for reason in news.reasons]
    return list(dict.fromkeys([*why, *opens]))


def _daily(news: Daily, reader: Reader) -> tuple[str, str]:
    """The title is the answer; the text how, why and what ends it."""
    day = f"{reader.called}, day {news.day}" if reader.role == "coach" else f"Day {news.day}"
    said = [*_how(news, reader)] if news.sport else [WALKS] if news.walks else []
    said += [word for word in news.words if word != clean_sentence(news.answer)]
    if news.waits:
        said.append(clean_sentence(f"the next stage waits: {'; '.join(news.waits)}"))
        said += [clean_sentence(f"it opens with {' and '.join(news.opens_with)}")] if news.opens_with else []
    ends = f", to {weekday(news.stage_ends)}" if news.stage_ends else ""
    last = f"{capital(stage_words(news.stage))}{ends}."
    room = MOST_LETTERS - sum(len(line) + 1 for line in said) - len(last)
    for line in news.also:
        room -= len(line) + 1
        said += [line] if room >= 0 else []
    return f"{day}: {news.answer}", "\n".join(dict.fromkeys(clean(line) for line in [*said, last] if line))


def _how(news: Daily, reader: Reader) -> list[str]:
    """How hard, in beats and by feel, and how fast at most."""
    heart = f"heart rate up to {news.ceiling_bpm}" if news.ceiling_bpm else ""
    said = [clean_sentence("; ".join(part for part in (heart, news.effort) if part))] if heart or news.effort else []
    if news.pace_s_per_km:
        said.append(f"A run not faster than {pace_of_speed(1000 / news.pace_s_per_km, reader.units)} on the level.")
    return said


# A coach's morning.

MOST_LETTERS_OF_DIGEST = 1400
NAMED = 3


def digest_words(news: MorningDigest, url: str = "") -> tuple[str, str]:
    """Title and text; where there are pages, `url` stands below it and no command in it."""
    text = [row for row in news.rows if row.why]
    silent = [row for row in news.rows if not row.why and (row.silent_since or row.never_came)]
    fine = [row for row in news.rows if row not in text and row not in silent]
    lines = [_first(text, silent), *_numbered(text)]
    told = [*_silent(silent), *_stages(news.rows), *_fine(fine)]
    room = MOST_LETTERS_OF_DIGEST - sum(len(line) + 1 for line in (lines[0], *told))
    shown = [lines[0]]
    for line in lines[1:]:
        room -= len(line) + 1
        if room < 0:
            break
        shown.append(line)
    left = len(lines) - len(shown)
    where = "" if url else ": fallow status"
    pointer = [f"And {left} more{where}"] if left else []
    return _title(text, silent, news.rows), "\n".join([*shown, *pointer, *told])


def _title(text: Sequence[DigestRow], silent: Sequence[DigestRow], rows: Sequence[DigestRow]) -> str:
    of = f"{len(text)} of {len(rows)}"
    if text:
        return f"{of} need{'s' if len(text) == 1 else ''} a word: {_names(text, NAMED)}"
    if silent:
        return f"No word needed; nothing new from {_names(silent, NAMED)}"
    return f"All {len(rows)} are fine today" if len(rows) > 1 else f"{rows[0].name} is fine today"


def _first(text: Sequence[DigestRow], silent: Sequence[DigestRow]) -> str:
    """What to do now."""
    if text:
        call = capital(text[0].call or "a word first")
        return f"{call}: {text[0].name}, {text[0].why}."
    if silent:
        return f"Ask {_names(silent, NAMED)} to sync; nobody else needs a word."
    return "Nothing to do: nobody needs a word."


def _numbered(text: Sequence[DigestRow]) -> list[str]:
    """The first of them with what the day allows, since why stands above already."""
    told = []
    for index, row in enumerate(text, start=1):
        why = f" {capital(f'{row.call}: {row.why}' if row.call else row.why)}." if index > 1 else ""
        told.append(f"{index}. {row.name}, day {row.day}: {row.answer}.{why}")
    return told


def _silent(rows: Sequence[DigestRow]) -> list[str]:
    since = [
        f"{row.name} (nothing ever came)" if row.never_came or row.silent_since is None
        else f"{row.name} ({weekday(row.silent_since)})"
        for row in rows
    ]  # fmt: skip
    return [f"No file since: {_list(since)}."] if since else []


def _stages(rows: Sequence[DigestRow]) -> list[str]:
    begins = [f"{row.name} {stage_words(row.begins)}" for row in rows if row.begins]
    waits = [
        f"{row.name} {stage_words(row.waits)}{f' ({row.opens_with})' if row.opens_with else ''}"
        for row in rows
        if row.waits
    ]
    return [
        *([f"Begins today: {_list(begins)}."] if begins else []),
        *([f"Waits: {_list(waits)}."] if waits else []),
    ]


def _fine(rows: Sequence[DigestRow]) -> list[str]:
    return [f"Fine: {_list([row.name for row in rows], 20)}."] if rows else []


def _names(rows: Sequence[DigestRow], most: int) -> str:
    return _list([row.name for row in rows], most)


def _list(text: Sequence[str], most: int = 8) -> str:
    more = f" and {len(text) - most} more" if len(text) > most else ""
    return ", ".join(text[:most]) + more
