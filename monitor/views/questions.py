"""What the program asks and never assumes: conditions that a race file suggests, runs that look like a race."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any

from monitor import words
from monitor.judging.judge import View
from monitor.plain_text import local
from rules import words as rule_words
from rules.facts import Race
from rules.findings import finding_id
from rules.limits import Limits
from rules.race_file import LooksLikeARace, looks_like_a_race, race_file


def race_file_view(made: View, race: Race, limits: Limits) -> dict[str, Any] | None:
    """The race as recorded and what it suggests; null where no recording of it is known."""
    file = race_file(made.history.sessions, race, limits)
    if file is None:
        return None
    return {
        "sources": list(file.sources),
        "distance_m": file.distance_m,
        "moving_s": file.moving_s,
        "elapsed_s": file.elapsed_s,
        "result_s": race.result_seconds,
        "ascent_m": file.ascent_m,
        "descent_m": file.descent_m,
        "altitude_m": file.altitude_m,
        "temperature_c": file.temperature_c,
        "doubt": file.doubt or None,
        "more_days": file.more_days,
        "suggestions": [
            {"condition": suggestion.condition, "reason": suggestion.reason, "more_days": suggestion.more_days}
            for suggestion in file.suggestions
        ],
        "sentences": list(rule_words.report.race_words(file, race)),
    }


def looks_like_races(made: View, seen: Collection[str], now: datetime, limits: Limits) -> list[dict[str, Any]]:
    """Runs that look like a race of which the roster knows nothing, until it does or somebody has seen the question."""
    asked = [
        _question(made, one) for one in looks_like_a_race(made.history.sessions, made.athlete.athlete, now, limits)
    ]
    return [one for one in asked if one["id"] not in seen]


def question_words(asked: dict[str, Any]) -> str:
    """The question in a sentence, with what to do for either answer."""
    return words.status.WAS_RUN_OF_RACE.format(
        moment=asked["session_start"][:16].replace("T", " "),
        reason=asked["reason"],
        session_end=asked["session_end"][:19],
        id=asked["id"],
    )


def _question(made: View, one: LooksLikeARace) -> dict[str, Any]:
    athlete = made.athlete.athlete
    ended = local(one.session.end, athlete.zone)
    return {
        "id": finding_id(athlete.id, "looks_like_a_race", "session", one.session.key),
        "session_start": local(one.session.start, athlete.zone),
        "session_end": ended,
        "source": one.session.source,
        "reason": one.reason,
    }
