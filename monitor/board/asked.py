"""What the program asks of whoever keeps the roster: what a race file suggests, and runs that look like a race."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from monitor.board.gather import Known
from monitor.views.questions import looks_like_races, question_words
from monitor.views.words import sentence
from rules.facts import Race
from rules.limits import Limits
from rules.race_file import race_file
from rules.race_words import race_words


def questions(known: Known, seen: Collection[str], now: datetime, limits: Limits) -> tuple[str, ...]:
    """Sentences, empty where there is nothing to ask; what somebody has marked as seen is not asked again."""
    current, today = known.made.judgement.current, known.athlete.athlete.local_date(now)
    of_race = _of_race_file(known, current.race, limits) if current and today <= current.last_date else ()
    return (*of_race, *_looks_like_races(known, seen, now, limits))


def _of_race_file(known: Known, race: Race, limits: Limits) -> tuple[str, ...]:
    file = race_file(known.made.history.sessions, race, limits)
    return race_words(file, race) if file is not None and (file.suggestions or file.doubt) else ()


def _looks_like_races(known: Known, seen: Collection[str], now: datetime, limits: Limits) -> tuple[str, ...]:
    if known.asked_about is None:
        return ()
    return tuple(sentence(question_words(asked)) for asked in looks_like_races(known.asked_about, seen, now, limits))
