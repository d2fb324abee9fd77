"""The words of what is told and is no finding: a title and a body for one reader."""

from __future__ import annotations

from monitor.alerts.news import (
    Daily,
    FilesUnreadable,
    FolderNews,
    News,
    PastRead,
    PlanDone,
    StageBegins,
    StageHeld,
    Trouble,
)  # fmt: skip
from monitor.alerts.readers import Reader
from monitor.alerts.words import clean, day_words, sentence, stage_words

MOST_FILES_SHOWN = 10
KEEP_APART = "Nothing is limited from here on; keep hard days apart for some weeks yet."


def words_of(news: News, reader: Reader) -> tuple[str, str]:
    """Title and body."""
    who = f"{reader.called}: " if reader.role == "coach" else ""
    match news:
        case FilesUnreadable():
            told = _unreadable(news)
        case PastRead():
            told = _past_read(news, reader)
        case FolderNews():
            told = _folder(news, reader)
        case Trouble():
            told = "fallow needs a look", clean(news.says)
        case StageBegins():
            told = who + _began(news), "\n".join(_limits(news))
        case StageHeld():
            told = who + _must_wait(news), "\n".join(_why_and_until_when(news))
        case PlanDone():
            told = f"{who}the plan after the race is done", "\n".join([*news.looked_back, KEEP_APART])
        case Daily():
            told = f"{who}day {news.day}, {stage_words(news.stage)}", "\n".join(news.sentences)
    return told


def _unreadable(news: FilesUnreadable) -> tuple[str, str]:
    shown = [f"- {clean(path, 120)}" for path in news.paths[:MOST_FILES_SHOWN]]
    if news.count > len(shown):
        shown.append(f"and {news.count - len(shown)} more")
    title = f"{news.count} file{'s' if news.count > 1 else ''} could not be read"
    return title, "\n".join([*shown, "Why: fallow intake"])


def _past_read(news: PastRead, reader: Reader) -> tuple[str, str]:
    read = f"Read {news.sessions} session{'s' if news.sessions != 1 else ''} of the past"
    kept = f"{news.late} finding{'s' if news.late != 1 else ''} older than {news.late_after_days:g} days"
    line = f"{read}; {kept} {'are' if news.late != 1 else 'is'} on record, none sent"
    return f"{reader.called}: {line}", f"{line}. All of them: fallow findings {reader.athlete}"


def _folder(news: FolderNews, reader: Reader) -> tuple[str, str]:
    if not news.why:
        return f"The folder of {reader.name} is back", "It is being read again."
    lost = "Nothing is lost; it is read again as soon as it is back. Until then nothing new of this athlete is seen."
    return f"The folder of {reader.name} is not there", f"{clean(news.why)}. {lost}"


def _began(news: StageBegins) -> str:
    words = stage_words(news.stage)
    since = f"on {day_words(news.first_date)}"
    begin = "begin" if words.endswith(("s", "off")) else "begins"
    title = f"{words} began {since}" if news.first_date < news.noted_on else f"{words} {begin} today"
    return f"{title} (day {news.day} of {news.plan_days})"


def _limits(news: StageBegins) -> list[str]:
    """What the stage allows, a line each."""
    told = [f"To {day_words(news.last_date)}.", sentence(f"running: {news.running}")]
    told.append(f"Time a day: {news.day_min} min." if news.day_min else "Time a day: no cap.")
    if news.run_min:
        told.append(f"A run: up to {news.run_min} min.")
    if news.ceiling_bpm:
        told.append(f"Heart rate: up to {news.ceiling_bpm} bpm.")
    return [*told, sentence(f"strength: {news.strength}"), sentence(f"speed work: {news.speed_work}")]


def _must_wait(news: StageHeld) -> str:
    before = stage_words(news.before) if news.before != "done" else "the end of the plan"
    return f"{before} must wait; the stage before it is held"


def _why_and_until_when(news: StageHeld) -> list[str]:
    asks = [f"It opens with: {each}." for each in news.asks]
    return list(dict.fromkeys([*(sentence(each) for each in news.reasons), *asks]))
