"""What a day allows, as it goes into a message: decided in `rules.day`, for the moment at which it is to be read."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from functools import partial

from monitor.alerts.items import DayTold
from monitor.alerts.readers import Reader
from monitor.alerts.words import sentence
from rules.advice import class_advice
from rules.day import Reason, answer, decide, ending_words, reason_words
from rules.day.words import after_words
from rules.facts import History
from rules.judge import Judgement
from rules.judgement.ordered import in_order
from rules.limits import Limits

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
    audience = reader.audience
    said = answer(decision, audience.clock)
    against = [each for each in decision.reasons if decision.sport or each.forbids != "running"]
    ends = ending_words(against, audience)
    after = [f"After that: {after_words(decision)}"] if decision.ends_today and not decision.flags else []
    return DayTold(
        decision.date,
        said,
        class_advice(decision.flags[0].numbers["class"], reader.role) if decision.flags else (sentence(said),),
        tuple((each.finding or "", sentence(reason_words(each, audience))) for each in _one_a_kind(against)),
        tuple(sentence(each) for each in dict.fromkeys([*after, *ends])),
    )


def _one_a_kind(reasons: Iterable[Reason]) -> list[Reason]:
    """The strictest of each kind: two stops of one session are one reason to rest."""
    return list({each.kind: each for each in reversed(list(reasons))}.values())[::-1]
