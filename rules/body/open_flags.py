"""Red flags that stand: from the check-in that tells of one until somebody answers it. Time alone answers nothing.

A flag is answered by a later check-in that says it is gone or that a doctor has looked at it, or by a release of the
coach. A later check-in that says nothing of it changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache

from rules.body.checkins import flags_told, in_time
from rules.body.red_flags import CLASSES, RedFlag, signs_in
from rules.facts import CheckIn, Hold

EVERYTHING = frozenset({"all", "everything", "all of it", "it", "yes", "true"})
"""Answers to "what is gone?" that name no single symptom."""


@dataclass(frozen=True, slots=True)
class FlagSpan:
    """One red flag from its first telling to its answer. Moments are seconds since 1970, `ended` None: it stands."""

    flag: RedFlag
    told: str  # the athlete's words
    day: date  # of the first telling
    since: float
    last_day: date  # of the latest telling
    ended: float | None = None
    ended_day: date | None = None
    answer: str = ""  # gone, doctor or release

    def stands_on(self, day: date) -> bool:
        """By what was known at the end of a day."""
        return self.day <= day and (self.ended_day is None or self.ended_day > day)

    def stands_at(self, moment: float) -> bool:
        """By what was known at a moment."""
        return self.since <= moment and (self.ended is None or self.ended > moment)


def flag_spans(checkins: Iterable[CheckIn], releases: Sequence[Hold], day0: date) -> tuple[FlagSpan, ...]:
    """Every red flag told in check-ins, with when and by what it was answered, in order of the first telling."""
    standing: dict[str, FlagSpan] = {}
    ended: list[FlagSpan] = []
    events: list[tuple[float, int, CheckIn | Hold]] = [
        *((each.order, 0, each) for each in in_time(checkins)),
        *((each.at.timestamp(), 1, each) for each in releases),
    ]
    for moment, _, event in sorted(events, key=lambda each: each[:2]):
        if isinstance(event, Hold):
            answered = {name: "release" for name, span in standing.items() if span.last_day <= event.on}
            when = event.on
        else:
            answered, when = _answered(event, standing), event.date
        for name, answer in answered.items():
            ended.append(replace(standing.pop(name), ended=moment, ended_day=when, answer=answer))
        if isinstance(event, CheckIn):
            for flag, told in flags_told(event, (event.date - day0).days):
                before = standing.get(flag.id)
                standing[flag.id] = (
                    replace(before, last_day=event.date)
                    if before
                    else FlagSpan(flag, told, event.date, event.order, event.date)
                )
    return tuple(sorted([*ended, *standing.values()], key=lambda span: (span.since, span.flag.id)))


def gravest_first(spans: Iterable[FlagSpan]) -> list[FlagSpan]:
    return sorted(spans, key=lambda span: (CLASSES.index(span.flag.klass), span.since, span.flag.id))


def _answered(checkin: CheckIn, standing: dict[str, FlagSpan]) -> dict[str, str]:
    """Names of standing flags that a check-in answers, with how."""
    answers = {name: answered_by(checkin, span) for name, span in standing.items()}
    return {name: answer for name, answer in answers.items() if answer}


def answered_by(checkin: CheckIn, span: FlagSpan) -> str:
    """How a later check-in answers a flag: doctor or gone; empty where it does not."""
    if checkin.seen_doctor:
        return "doctor"
    return "gone" if any(names(text, span) for text in checkin.gone) else ""


def names(text: str, span: FlagSpan) -> bool:
    """Whether a text names this flag: by its own words, by the athlete's, or as one of all."""
    plain, told = text.strip(" .!").casefold(), span.told.strip(" .!").casefold()
    return plain in EVERYTHING | {span.flag.id, span.flag.name.casefold(), told} or span.flag.id in flag_ids(text)


@lru_cache(maxsize=4096)
def flag_ids(text: str) -> frozenset[str]:
    """Ids of the red flags that a text names, be it told or denied."""
    return frozenset(sign.flag.id for sign in signs_in((text,), 0))
