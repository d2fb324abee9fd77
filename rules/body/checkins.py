"""`stairs_test`, `pain` and `see_a_doctor`: what the athlete says of the body."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime
from itertools import pairwise

from rules.body.red_flags import RedFlag, Sign, signs_in, unclear_in, understood
from rules.facts import CheckIn, Session
from rules.findings import Breach, Severity
from rules.limits import Limits
from rules.wording import listed

ANSWERS = ("stairs_unaided", "squat_unaided", "soreness", "pain", "pain_where", "energy", "mood", "note", "source")

NOTHING_NAMED = frozenset({"", "n", "no", "none", "nothing", "nope", "n/a", "na", "0", "false"})


def since_race(checkin: CheckIn, finish: datetime, day0: date) -> bool:
    """Whether a check-in tells of the body after the finish; on the day of the race its time decides."""
    return checkin.date > day0 or (checkin.date == day0 and checkin.order >= finish.timestamp())


def in_time(checkins: Iterable[CheckIn]) -> list[CheckIn]:
    """By date and order within it; of two at the same moment the one with the worse news is the later."""
    return sorted(checkins, key=_moment)


def _moment(checkin: CheckIn) -> tuple[date, float, float, bool, bool, str]:
    bad_stairs, bad_squat = checkin.stairs_unaided is False, checkin.squat_unaided is False
    return checkin.date, checkin.order, checkin.pain or 0.0, bad_stairs, bad_squat, checkin.source or ""


def by_day(checkins: Iterable[CheckIn]) -> dict[date, CheckIn]:
    """One check-in a date: each answer the latest given on that day, symptoms all that were named."""
    found: dict[date, CheckIn] = {}
    for checkin in in_time(checkins):
        before = found.get(checkin.date)
        if before is None:
            found[checkin.date] = checkin
            continue
        latest = {name: getattr(checkin, name) for name in ANSWERS if getattr(checkin, name) is not None}
        symptoms = tuple(dict.fromkeys((*before.symptoms, *checkin.symptoms)))
        found[checkin.date] = replace(before, **latest, symptoms=symptoms, order=checkin.order)
    return found


def stairs_test(checkin: CheckIn, training: Sequence[Session], limits: Limits) -> Breach | None:
    """Stairs or squat not managed unaided; a stop with training on that day."""
    del limits
    asked = (("stairs", checkin.stairs_unaided), ("a squat", checkin.squat_unaided))
    failed = [name for name, managed in asked if managed is False]
    if not failed:
        return None
    text = f"{listed(failed).capitalize()} not managed unaided"
    evidence: dict[str, object] = {"failed": failed}
    if not training:
        return Breach("stairs_test", Severity.CAUTION, text, evidence=evidence)
    evidence["training"] = [{"session": each.key, "sport": each.digest.sport} for each in training]
    sports = listed(list(dict.fromkeys(each.digest.sport for each in training)))
    return Breach("stairs_test", Severity.STOP, f"{text}, and training ({sports}) on the same day", evidence=evidence)


def pain(until: Sequence[CheckIn], limits: Limits) -> Breach | None:
    """Pain of 4 and more, or grown over three check-ins; `until` are those of the plan up to the one judged."""
    told = [each for each in until if each.pain is not None]
    if not told or told[-1] is not until[-1]:
        return None
    values = [each.pain or 0.0 for each in told[-limits.pain.growing_checkins :]]
    least = limits.pain.least
    growing = len(values) == limits.pain.growing_checkins and all(a < b for a, b in pairwise(values))
    latest = values[-1]
    if latest < least and not growing:
        return None
    where = f" ({told[-1].pain_where})" if told[-1].pain_where else ""
    grown = f", grown over three check-ins: {', '.join(f'{value:g}' for value in values)}" if growing else ""
    bound = f"; from {least:g} it changes the day's plan" if latest >= least else ""
    text = f"Pain {latest:g} of 10{where}{grown}{bound}"
    evidence = {"pain": {each.date.isoformat(): each.pain for each in told[-3:]}, "where": told[-1].pain_where}
    return Breach("pain", Severity.CAUTION, text, latest, least, "of 10", {**evidence, "growing": growing})


def not_understood(checkin: CheckIn) -> tuple[str, ...]:
    """What was named and no red flag has words for: other complaints, or other languages than the list's English."""
    named = [told for told in checkin.symptoms if told.strip(" .-!").casefold() not in NOTHING_NAMED]
    return (*(told for told in named if not understood(told)), *unclear_in(checkin.note or ""))


def flags_told(checkin: CheckIn, day: int) -> list[tuple[RedFlag, str]]:
    """Red flags in the symptoms, the note, or where the pain is said to be, each with the clause that tells it."""
    return [(sign.flag, sign.text) for sign in signs_named(checkin, day) if sign.standing == "told"]


def signs_named(checkin: CheckIn, day: int) -> list[Sign]:
    """Red flags that a check-in names, told, in doubt or denied."""
    return signs_in((*checkin.symptoms, *(text for text in (checkin.note, checkin.pain_where) if text)), day)


def see_a_doctor(checkin: CheckIn, day: int) -> Breach | None:
    """A sign of the red-flag list: a stop where it is told, a question where it is in doubt."""
    signs = signs_named(checkin, day)
    told = [sign for sign in signs if sign.standing == "told"]
    doubtful = [sign for sign in signs if sign.standing == "doubtful"]
    evidence = {
        "flags": [_sign_evidence(sign) for sign in told],
        "questions": [_sign_evidence(sign) for sign in doubtful],
        "assumed": ["words were compared with a list; this is no diagnosis"],
    }
    if told:
        names = listed([sign.flag.name for sign in told])
        text = f"The check-in tells of {names}: for a doctor to look at, not for training"
        return Breach("see_a_doctor", Severity.STOP, text, evidence=evidence)
    if doubtful:
        written = listed(list(dict.fromkeys(f"“{sign.text}”" for sign in doubtful)))
        return Breach("see_a_doctor", Severity.CAUTION, f"You wrote {written}: is it still there?", evidence=evidence)
    return None


def _sign_evidence(sign: Sign) -> dict[str, str]:
    flag = sign.flag
    return {
        "flag": flag.id,
        "told": sign.text,
        "say": flag.say,
        "urgency": flag.urgency,
        "class": flag.klass,
        "source": flag.source,
    }
